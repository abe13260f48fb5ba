"""The summary that is drawn: what stands in the record, readable without colour, within the limits of the chat."""

from __future__ import annotations

import io
from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from bot.sheet.drawing import Disc, Ink, Layout, Piece, Shape, Words, draw
from bot.sheet.font import FILES, fitting, font
from bot.sheet.pages import pages
from bot.sheet.picture import NIGHT, picture
from bot.sheet.plate import ROWS_A_PAGE
from bot.sheet.sheet import Mark, Sheet, SheetRow, sheet
from bot.telegram.texts import ChatTexts
from engine.assistant import Assistant
from engine.database import open_database
from engine.history.journal import Journal
from engine.history.records import calibrations
from engine.messages import LANGUAGES, Language, Utterance
from tests.helpers.chat_crash import SAID

RUN = [*SAID[:18], "row two seventy five grams", "skip row three", "row four sixty nine grams"]
WEIGHED = dict(zip(range(1, 5), (68.0, 75.0, None, 69.0), strict=True))
TARGET = 68.04


def row(number: int, off: float | None, mark: Mark) -> SheetRow:
    return SheetRow(row=number, off=off, catch="68.0 g", setting="12", verdict="", mark=mark)


def page(*rows: SheetRow) -> Sheet:
    return Sheet(title="T", lines=("a", "b"), tolerance=5, rows=rows, low="-", high="+", footer="f")


@pytest.fixture(scope="module")
def drawn() -> dict[Language, Sheet]:
    """A test run that was really said, as a sheet in each language."""
    database = open_database(":memory:")
    assistant = Assistant(database)
    for at, text in enumerate(RUN):
        place = {"id": f"{at}", "conversation": "c", "said_at": datetime(2026, 4, 22, 3, at, tzinfo=UTC)}
        assistant.hear(Utterance(text=text, language="en", **place))
    (record,) = calibrations(Journal(database).turns("c"))
    return {one: sheet(record, ChatTexts.load(), one, UTC, ["Big one", None]) for one in LANGUAGES}


@pytest.mark.parametrize("language", LANGUAGES)
def test_it_shows_what_was_weighed_against_the_target(drawn: dict[Language, Sheet], language: Language) -> None:
    for one in drawn[language].rows:
        weight = WEIGHED[one.row]
        if weight is None:
            assert (one.off, one.mark) == (None, Mark.UNKNOWN)
            continue
        assert one.catch == f"{weight:.1f} g"
        assert one.off == pytest.approx((weight / TARGET - 1) * 100, abs=0.2)
        assert one.mark is (Mark.OFF if one.row == 2 else Mark.WITHIN) or one.verdict
    assert "68.0 g" in drawn[language].lines[0] and "Big one" in drawn[language].lines[1]
    assert drawn["en"].title != drawn["es"].title


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_letter_is_in_the_font(drawn: dict[Language, Sheet], language: Language) -> None:
    nothing = font(40, False).getmask("\uffff").getbbox(), bytes(font(40, False).getmask("\uffff"))
    words = [piece.text for piece in draw(drawn[language], drawn[language].rows, Layout()) if isinstance(piece, Words)]
    texts = [text.of(language) for key, text in ChatTexts.load().texts.items() if "sheet" in key or "verdict" in key]
    for sign in {sign for text in (*words, *texts) for sign in text} - {" ", "\xa0"}:
        mask = font(40, False).getmask(sign)
        assert (mask.getbbox(), bytes(mask)) != nothing, sign


def test_the_shape_says_what_the_colour_says() -> None:
    kinds = {
        Mark.WITHIN: row(1, 1.0, Mark.WITHIN),
        Mark.OFF: row(1, 9.0, Mark.OFF),
        Mark.UNKNOWN: row(1, None, Mark.UNKNOWN),
    }
    pieces = {mark: list(draw(page(one), [one], Layout())) for mark, one in kinds.items()}
    assert [mark for mark, found in pieces.items() if any(isinstance(one, Disc) for one in found)] == [Mark.WITHIN]
    corners = {
        mark: [one for one in found if isinstance(one, Shape) and len(one.points) == 3]
        for mark, found in pieces.items()
    }
    assert {mark: len(found) for mark, found in corners.items()} == {Mark.WITHIN: 0, Mark.OFF: 1, Mark.UNKNOWN: 0}
    assert any(isinstance(one, Shape) and not one.filled for one in pieces[Mark.UNKNOWN])


def heads(pieces: list[Piece]) -> list[Shape]:
    """The arrowheads among them."""
    return [one for one in pieces if isinstance(one, Shape) and len(one.points) == 3]


@given(st.floats(-400, 400).filter(lambda off: abs(off) > 0.01))
def test_an_arrowhead_points_the_way_and_stays_on_the_scale(off: float) -> None:
    one = row(1, off, Mark.OFF)
    (head,) = [
        piece for piece in draw(page(one), [one], Layout()) if isinstance(piece, Shape) and len(piece.points) == 3
    ]
    (back, _), (tip, _), _ = head.points
    assert (tip > back) == (off > 0)
    assert min(back, tip) >= 0 and max(back, tip) <= Layout().width


@given(st.text(max_size=80), st.floats(20, 100), st.floats(100, 900))
@settings(max_examples=40)
def test_words_fit_their_room(text: str, size: float, room: float) -> None:
    fitted = fitting(text, size, room, False)
    assert pages(page().model_copy(update={"title": text}))
    assert fitted == 8 or font(fitted, False).getlength(text) <= room * 1.05


@pytest.mark.parametrize("rows", [1, 4, 24, 60])
def test_a_picture_is_one_the_chat_takes(rows: int) -> None:
    content = picture(page(*(row(number, number - 3.0, Mark.OFF) for number in range(1, rows + 1))))
    image = Image.open(io.BytesIO(content))
    assert image.format == "PNG" and len(content) < 10 * 2**20
    assert sum(image.size) <= 10_000 and max(image.size) <= 20 * min(image.size)


def test_letters_stand_out_from_the_night() -> None:
    """Contrast of at least 7 to 1 for text, 4.5 for all else (WCAG 2.2, 1.4.6 and 1.4.3)."""
    for ink, least in ((Ink.TEXT, 7), (Ink.FAINT, 7), (Ink.GOOD, 7), (Ink.OFF, 7)):
        assert contrast(NIGHT[ink], NIGHT[Ink.PAPER]) >= least


def contrast(one: str, other: str) -> float:
    """The contrast ratio of WCAG 2.2 of two colours like #8fe0c2."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def luminance(colour: str) -> float:
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("rows", [1, ROWS_A_PAGE, ROWS_A_PAGE + 1, 30])
def test_pages_hold_every_row(rows: int) -> None:
    content = pages(page(*(row(number, 0.0, Mark.WITHIN) for number in range(1, rows + 1))))
    assert content.startswith(b"%PDF-")
    assert content.count(b"/Type /Page\n") == -(-rows // ROWS_A_PAGE)


def test_the_letters_come_with_the_program() -> None:
    assert all(file.is_file() for file in FILES.values())
