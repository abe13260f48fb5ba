"""The summary that is drawn: what stands in the record, readable without colour, within the limits of the chat."""

from __future__ import annotations

import io
from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from bot.sheet.canvas import ROWS_A_PAGE, whole
from bot.sheet.drawing import Layout, draw, mark_pieces
from bot.sheet.font import fitting, font, font_file
from bot.sheet.pages import pages
from bot.sheet.picture import NIGHT, picture
from bot.sheet.piece import Disc, Ink, Outline, PlacedText
from bot.sheet.sheet import RowMark, RunSheet, SheetHeader, SheetRow, rank, sheet
from bot.sheet.words import SheetWords
from bot.telegram.texts import ChatTexts
from engine.assistant import Assistant
from engine.database import open_database
from engine.history.journal import Journal
from engine.history.records import calibrations
from engine.messages import LANGUAGES, Language, Utterance
from tests.helpers.chat_crash import SAID

RUN = [*SAID[:19], "row two seventy five grams", "skip row three", "row four sixty nine grams"]
WEIGHED = dict(zip(range(1, 5), (68.0, 75.0, None, 69.0), strict=True))
TARGET = 68.04


def row(number: int, off: float | None, mark: RowMark) -> SheetRow:
    return SheetRow(row=number, off=off, mark=mark, catch="68.0 g", last="68.0 g", setting="12", verdict="")


def page(*rows: SheetRow) -> RunSheet:
    return RunSheet(
        title="T",
        summary="s",
        lines=("a", "b"),
        tolerance=5,
        rows=rows,
        low="-",
        high="+",
        legend={mark: mark.value for mark in RowMark},
        catch_legend="c",
        others="{count}",
        page_of="{page} of {pages}",
        when=datetime(2026, 4, 22, tzinfo=UTC),
    )


@pytest.fixture(scope="module")
def drawn() -> dict[Language, RunSheet]:
    """A test run that was really said, as a sheet in each language."""
    database = open_database(":memory:")
    assistant = Assistant(database)
    for at, text in enumerate(RUN):
        place = {"id": f"{at}", "conversation": "c", "said_at": datetime(2026, 4, 22, 3, at, tzinfo=UTC)}
        assistant.hear(Utterance(text=text, language="en", **place))
    (record,) = calibrations(Journal(database).turns("c"))
    about = SheetHeader(planter="Big one", lot="447", who="Otto")
    return {one: sheet(record, SheetWords(ChatTexts.load(), one, UTC), about) for one in LANGUAGES}


@pytest.mark.parametrize("language", LANGUAGES)
def test_it_shows_what_was_weighed_against_the_target(drawn: dict[Language, RunSheet], language: Language) -> None:
    for one in drawn[language].rows:
        weight = WEIGHED[one.row]
        if weight is None:
            assert (one.off, one.mark) == (None, RowMark.NO_CATCH)
            continue
        assert one.last.startswith(f"{weight:.0f} g")
        assert one.catch_off == pytest.approx((weight / TARGET - 1) * 100, abs=0.2)
    head = " ".join(drawn[language].lines)
    assert all(part in head for part in ("68 g", "300 ft", "447", "Otto", "5 lb/acre", "1 g"))
    assert "Big one" in drawn[language].title
    assert drawn["en"].title != drawn["es"].title


def test_what_was_judged_is_drawn_and_the_last_catch_beside_it(drawn: dict[Language, RunSheet]) -> None:
    """Of a row on target the estimate lies within its interval; of one to be moved its catch is drawn."""
    estimated = [one for one in drawn["en"].rows if one.low is not None and one.high is not None]
    assert estimated
    assert all(one.low <= (one.off or 0.0) <= one.high for one in estimated)  # type: ignore[operator]
    moved = [one for one in drawn["en"].rows if one.mark is RowMark.MOVE]
    assert moved and all(one.off == one.catch_off and one.low is None for one in moved)


def test_rows_that_are_off_stand_first_and_are_counted(drawn: dict[Language, RunSheet]) -> None:
    marks = [one.mark for one in drawn["en"].rows]
    good = sum(mark is RowMark.ON_TARGET for mark in marks)
    assert marks == sorted(marks, key=rank)
    assert drawn["en"].summary.startswith(f"{good} of 4 rows on target; not: ")
    assert "3" in drawn["en"].summary.split("not:")[1]


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_letter_is_in_the_font(drawn: dict[Language, RunSheet], language: Language) -> None:
    nothing = font(40, False).getmask("\uffff").getbbox(), bytes(font(40, False).getmask("\uffff"))
    words = [
        piece.text for piece in draw(drawn[language], drawn[language].rows, Layout()) if isinstance(piece, PlacedText)
    ]
    wanted = ("sheet", "verdict", "mark")
    texts = [text.of(language) for key, text in ChatTexts.load().texts.items() if any(one in key for one in wanted)]
    for sign in {sign for text in (*words, *texts) for sign in text} - {" ", "\xa0"}:
        mask = font(40, False).getmask(sign)
        assert (mask.getbbox(), bytes(mask)) != nothing, sign


def test_every_mark_has_a_shape_of_its_own() -> None:
    """Told apart without colour: no two marks have the same outline, and only a row on target has the disc."""

    def outline(mark: RowMark) -> tuple[object, ...]:
        pieces = mark_pieces(mark, (100, 100), 20)
        return tuple(
            ("disc", one.radius) if isinstance(one, Disc) else (one.points, one.filled)
            for one in pieces
            if isinstance(one, Disc | Outline)
        )

    found = {mark: outline(mark) for mark in RowMark}
    assert all(found.values()) and len(set(found.values())) == len(RowMark)
    assert [mark for mark, pieces in found.items() if any(one[0] == "disc" for one in pieces)] == [RowMark.ON_TARGET]


@given(st.floats(-400, 400).filter(lambda off: abs(off) > 0.01))
def test_an_arrowhead_points_the_way_and_stays_on_the_scale(off: float) -> None:
    one = row(1, off, RowMark.MOVE)
    heads = [one for one in draw(page(one), [one], Layout()) if isinstance(one, Outline) and len(one.points) == 3]
    head, _ = heads
    (back, _), (tip, _), _ = head.points
    assert (tip > back) == (off > 0)
    assert min(back, tip) >= 0 and max(back, tip) <= Layout().width


@given(st.text(max_size=80), st.floats(20, 100), st.floats(100, 900))
@settings(max_examples=40)
def test_words_fit_their_room(text: str, size: float, room: float) -> None:
    fitted = fitting(text, size, room, False)
    assert pages(page().model_copy(update={"title": text}))
    assert fitted == 8 or font(fitted, False).getlength(text) <= room * 1.05


@pytest.mark.parametrize("rows", [1, 4, 8, 9, 10, 24, 36, 48])
def test_a_picture_can_be_read_where_the_long_side_is_1280(rows: int) -> None:
    content = picture(page(*(row(number, number - 3.0, RowMark.MOVE) for number in range(1, rows + 1))))
    image = Image.open(io.BytesIO(content))
    assert image.format == "PNG" and len(content) < 10 * 2**20
    assert max(image.size) <= 1300 and max(image.size) <= 20 * min(image.size)


def test_rows_that_are_not_drawn_are_counted() -> None:
    many = page(*(row(number, 20.0, RowMark.MOVE if number <= 30 else RowMark.ON_TARGET) for number in range(1, 37)))
    texts = {one.text for one in whole(many).pieces if isinstance(one, PlacedText)}
    assert "24" in texts and "25" not in texts and "12" in texts


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
    content = pages(page(*(row(number, 0.0, RowMark.ON_TARGET) for number in range(1, rows + 1))))
    assert content.startswith(b"%PDF-")
    assert content.count(b"/Type /Page\n") == -(-rows // ROWS_A_PAGE)


def test_the_letters_come_with_the_program() -> None:
    assert font_file(bold=False).is_file() and font_file(bold=True).is_file()
