"""Typed text is read with words left out that say nothing; what is only inferred is asked about, never kept."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.entries.reader import read_text
from engine.entries.vocabulary import load_vocabulary
from engine.messages import DoubtReason, Given, Reported, Unclear
from tests.helpers.entries import expecting

ENGLISH = load_vocabulary("en")
UNREAL = sorted(ENGLISH.unreal)


def read(text: str, what: str = "catches") -> tuple[object, ...]:
    return read_text(text, expecting(what, "en"), ENGLISH, freely=True)


@pytest.mark.parametrize(
    ("text", "row", "grams"),
    [
        ("row one came in at sixty six grams", 1, 66),
        ("well sir row one weighed sixty four and a half grams", 1, 64.5),
        ("i believe row two is about 67 g", 2, 67),
    ],
)
def test_words_that_say_nothing_are_left_out(text: str, row: int, grams: float) -> None:
    (entry,) = read(text)
    assert isinstance(entry, Given) and entry.doubt is not DoubtReason.INFERRED
    assert (entry.row, str(entry.value)) == (row, f"{grams:g} g")


@pytest.mark.parametrize("text", ["granny row one 66 grams", "row one 66 grams zowie"])
def test_unknown_words_make_a_question(text: str) -> None:
    for entry in read(text):
        assert isinstance(entry, Unclear) or (isinstance(entry, Given) and entry.doubt is not None)


@pytest.mark.parametrize(
    "text",
    [
        "row one is not 66 grams",
        "if row one came in at 66 grams",
        "last year row one came in at 66 grams",
        "should row one be 66 grams?",
        "i paid fifty dollars",
        "three eighths",
    ],
)
def test_what_is_turned_round_unreal_or_of_an_unknown_unit_gives_nothing(text: str) -> None:
    assert all(isinstance(entry, Unclear) for entry in read(text))


@given(st.sampled_from(UNREAL), st.integers(1, 8), st.integers(20, 90), st.booleans())
def test_no_turning_word_lets_anything_be_inferred(word: str, row: int, grams: int, before: bool) -> None:
    said = f"row {row} came in at {grams} grams"
    for entry in read(f"{word} {said}" if before else f"{said} {word}"):
        assert not isinstance(entry, Given | Reported) or entry.doubt is not DoubtReason.INFERRED


@given(st.integers(1, 8), st.integers(20, 90), st.text(alphabet="qxzvk", min_size=3, max_size=8))
def test_an_unknown_word_behind_a_number_is_never_kept(row: int, number: int, word: str) -> None:
    for entry in read(f"row {row} came in at {number} {word}"):
        assert not isinstance(entry, Given) or entry.doubt is not None


@pytest.mark.parametrize("text", ["0-30", "0 - 30", "1-20"])
def test_a_range_is_no_list_of_marks(text: str) -> None:
    """How coarse the notches are was not said."""
    assert all(isinstance(entry, Unclear) for entry in read(text, "dial"))


@pytest.mark.parametrize("text", ["row four 15 grams no 14 grams", "sixty n two grams"])
def test_a_no_among_values_keeps_none_of_them(text: str) -> None:
    assert not any(isinstance(entry, Given) and entry.doubt is None and not entry.correcting for entry in read(text))
