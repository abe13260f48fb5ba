"""The application record on paper: one page, every element on it, boxes for what is missing, in both languages."""

from __future__ import annotations

import re
from zoneinfo import ZoneInfo

import pytest

from bot.record.application import form
from bot.record.shift_words import account
from bot.sheet.form import Form, FormLine, FormPages, draw_form
from bot.sheet.pages import MARGIN, WIDTH, pages
from bot.sheet.piece import Outline, PlacedText
from engine.dialog.turns.elements import FEDERAL
from engine.history.application import applications
from engine.messages import LANGUAGES, Language
from tests.helpers.applying import loading, night, told

CHICAGO = ZoneInfo("America/Chicago")
HEIGHT = WIDTH * 772 / 612


@pytest.fixture(scope="module")
def made() -> dict[Language, tuple[Form, ...]]:
    """The forms of a night on two fields, of which the second was told nothing."""
    talk = told()
    said = ((120, "field is South"), (240, "twenty acres done"), (240, "end of shift"),
            (241, "all twenty seven pounds left"), (242, "done"))  # fmt: skip
    night(talk, said, before=loading())
    found = applications(talk.turns(), CHICAGO, FEDERAL)
    return {one: tuple(form(record, account(one, CHICAGO, record.system)) for record in found) for one in LANGUAGES}


def drawn(one: Form) -> list[PlacedText | Outline]:
    return [piece for piece in draw_form(one, WIDTH, HEIGHT, MARGIN) if isinstance(piece, PlacedText | Outline)]


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_line_stands_on_its_page(made: dict[Language, tuple[Form, ...]], language: Language) -> None:
    for one in made[language]:
        texts = " ".join(piece.text for piece in drawn(one) if isinstance(piece, PlacedText))
        for line in (*one.elements, *one.others):
            wanted = line.name if line.value is None else f"{line.name} {line.value}"
            assert all(word in texts for word in wanted.split())
        assert max(piece.at[1] for piece in drawn(one) if isinstance(piece, PlacedText)) < HEIGHT


@pytest.mark.parametrize("language", LANGUAGES)
def test_what_is_missing_has_a_box_and_what_is_an_estimate_says_so(
    made: dict[Language, tuple[Form, ...]], language: Language
) -> None:
    north, south = made[language]
    assert [line.name for line in north.elements if line.value is None] == []
    missing = [line for line in (*south.elements, *south.others) if line.value is None]
    boxes = [piece for piece in drawn(south) if isinstance(piece, Outline) and not piece.filled]
    assert len(boxes) == len(missing) >= 2
    assert sum(bool(line.note) for line in south.elements) == 2
    assert len(south.elements) == 9


def test_a_long_record_stays_on_one_page() -> None:
    long = FormLine(name="location", value=" ".join(["northeast quarter of section twelve"] * 40))
    made = Form(title="Record", lines=(), standing="Complete.", elements_name="a", elements=(long,) * 5,
                others_name="b", others=(), missing="missing", footer=())  # fmt: skip
    assert max(piece.at[1] for piece in drawn(made) if isinstance(piece, PlacedText)) < HEIGHT


def test_a_page_for_each_record_and_what_it_is_in_its_data(made: dict[Language, tuple[Form, ...]]) -> None:
    content = pages(FormPages(forms=made["en"]))
    assert len(re.findall(rb"/Type /Page\b", content)) == 2
    for word in (b"Application record", b"7 CFR 110.3", b"Rowhand"):
        assert word in content


def test_colours_are_black_and_white(made: dict[Language, tuple[Form, ...]]) -> None:
    assert {piece.ink for one in made["en"] for piece in drawn(one)} == {"text"}
