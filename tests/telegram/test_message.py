"""Cutting long texts and drawing buttons."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from bot.telegram.message import keyboard, parts, pressed
from engine.messages import Button

TEXT = st.text(alphabet=st.sampled_from("ab .!?\n😀ñ"), min_size=1, max_size=400)


def units(text: str) -> int:
    return len(text.encode("utf-16-le")) // 2


@given(TEXT, st.integers(4, 60))
def test_pieces_fit_and_hold_every_sign_in_order(text: str, longest: int) -> None:
    pieces = parts(text, longest)
    assert all(units(piece) <= longest for piece in pieces)
    assert "".join("".join(pieces).split()) == "".join(text.split())


def test_a_long_text_is_cut_between_sentences() -> None:
    text = " ".join(f"Row {number} gave forty nine grams." for number in range(1, 301))
    pieces = parts(text)
    assert len(pieces) == 3
    assert all(piece.endswith("grams.") and len(piece) <= 4096 for piece in pieces)


@given(st.integers(0, 10**6), st.text(min_size=1, max_size=80))
def test_a_button_says_what_it_was_drawn_for_or_is_left_out(seq: int, says: str) -> None:
    drawn = keyboard((Button(label="Yes", says=says),), seq)
    if drawn is None:
        assert len(f"{seq}:{says}".encode()) > 64
        return
    data = str(drawn.inline_keyboard[0][0].callback_data)
    assert len(data.encode()) <= 64
    assert pressed(data) == ((seq, says) if says.strip() else None)
