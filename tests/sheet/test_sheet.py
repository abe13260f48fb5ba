"""The summary that is drawn: what stands in the record, readable without colour, within the limits of the chat."""

from __future__ import annotations

import io
from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from bot.sheet.canvas import noted, paged, whole
from bot.sheet.drawing import Layout, draw, mark_pieces
from bot.sheet.font import LEAST, PARTED, fitting, font, font_file, wrapped
from bot.sheet.pages import pages
from bot.sheet.picture import NIGHT, picture
from bot.sheet.piece import Disc, Ink, Outline, PlacedText
from bot.sheet.sheet import RowMark, RunSheet, SheetHeader, SheetRow, rank, sheet
from bot.sheet.shift_summary import Block, Lane, ShiftSheet
from bot.sheet.words import sheet_words
from bot.telegram.texts import ChatTexts
from engine.assistant import Assistant
from engine.database import open_database
from engine.history.records import calibrations
from engine.history.store.journal import Journal
from engine.messages import LANGUAGES, Language, Utterance
from tests.helpers.chat_crash import SAID
from tests.helpers.sheets import LONG, SHORT, run_sheet

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
        others_good="{count} good",
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
    return {one: sheet(record, sheet_words(one, UTC), about) for one in LANGUAGES}


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
    course = {"en": "300 ft", "es": "300 pies"}[language]
    assert all(part in head for part in ("68 g", course, "447", "Otto", "5 lb/acre", "1 g"))
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
def test_words_fit_their_room_and_are_never_too_small(text: str, size: float, room: float) -> None:
    fitted = fitting(text, size, room, False)
    assert pages(page().model_copy(update={"title": text}))
    assert fitted.size >= LEAST
    assert font(fitted.size, False).getlength(fitted.text) <= room
    assert fitted.text == text or fitted.text.endswith("…") or not fitted.text


@given(st.lists(st.text("abc xyz", min_size=1, max_size=40), max_size=5), st.floats(100, 900))
@settings(max_examples=40)
def test_what_is_wrapped_keeps_every_letter_and_fits(parts: list[str], room: float) -> None:
    text = PARTED.join(parts)
    lines = wrapped(text, 27, room)
    assert all(font(27, False).getlength(line) <= room for line in lines)
    assert _letters("".join(lines)) == _letters(text)


def _letters(text: str) -> str:
    return "".join(sign for sign in text if sign.isalpha())


def test_a_line_breaks_between_its_parts_first() -> None:
    assert wrapped("North field · lot 4711", 27, 230) == ["North field", "lot 4711"]


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("rows", [8, 16, 24, 36])
def test_long_names_are_wrapped_and_read_whole(rows: int, language: Language) -> None:
    drawn = run_sheet(rows, language, LONG)
    for plate in (whole(drawn), *paged(drawn, 1700, 2144, 110)):
        texts = [one for one in plate.pieces if isinstance(one, PlacedText)]
        assert all(fitting(one.text, one.size, one.room, one.bold).text == one.text for one in texts)
        assert all(fitting(one.text, one.size, one.room, one.bold).size >= LEAST for one in texts)
        joined = " ".join(one.text for one in texts)
        assert all(word in joined for name in vars(LONG).values() for word in name.split())
        assert max(one.at[1] for one in texts) <= plate.height


def test_a_row_without_a_catch_stands_on_no_scale() -> None:
    """It could else seem to lie on the target."""
    one = row(1, None, RowMark.NO_CATCH)
    layout = Layout()
    pieces = [piece for piece in draw(page(one), [one], layout) if isinstance(piece, Outline)]
    middle = (layout.margin + 84 + layout.width - layout.margin) / 2
    beside = [piece for piece in pieces if piece.ink is Ink.OFF and piece.points[0][1] < layout.head(page(one)) + 100]
    assert beside and all(max(x for x, _ in piece.points) < middle - 200 for piece in beside)
    assert not [piece for piece in pieces if piece.ink is Ink.BAND]


def test_a_spanish_sheet_has_spanish_units_and_says_nothing_twice() -> None:
    drawn = run_sheet(8, "es")
    head = " ".join(drawn.lines)
    assert "300 pies" in head and "30 pulg" in head and " ft" not in head and " in " not in head
    assert "báscula shop scale, 1 g" in head and head.count("báscula") == 1
    assert "22/04/2026, 1:16 AM" in head
    assert "Apr 22, 2026, 1:16 AM" in " ".join(run_sheet(8).lines)


@pytest.mark.parametrize("rows", [1, 4, 8, 9, 10, 16, 24, 25, 36, 48])
def test_a_picture_can_be_read_where_the_long_side_is_1280(rows: int) -> None:
    content = picture(page(*(row(number, number - 3.0, RowMark.MOVE) for number in range(1, rows + 1))))
    image = Image.open(io.BytesIO(content))
    assert image.format == "PNG" and len(content) < 10 * 2**20
    assert max(image.size) <= 1300 and max(image.size) <= 20 * min(image.size)


def test_all_rows_are_drawn_up_to_36_and_of_more_those_that_are_off() -> None:
    def shown(count: int, off: int) -> set[str]:
        rows = (
            row(number, 20.0, RowMark.MOVE if number <= off else RowMark.ON_TARGET) for number in range(1, count + 1)
        )
        return {one.text for one in whole(page(*rows)).pieces if isinstance(one, PlacedText)}

    assert {str(number) for number in range(1, 37)} <= shown(36, 0)
    many = shown(48, 40)
    assert "36" in many and "37" not in many and "12" in many
    assert "44 good" in shown(48, 4)


def test_a_picture_of_a_shift_of_many_rows_shows_those_of_which_something_is_told() -> None:
    block = Block(span=(0.1, 0.2), stopped=True, text="t")
    lanes = tuple(Lane(row=number, blocks=(block,) if number in (5, 30) else ()) for number in range(1, 37))
    sheet = ShiftSheet(
        title="T", lines=("a",), hours=(), looks=(), refills=(), pauses=(), lanes=lanes, unit="", looks_name="l",
        footer=("f",), others="{count} others",
    )  # fmt: skip
    assert [lane.row for lane in noted(sheet)] == [5, 30]
    plate = whole(sheet)
    assert plate.height <= 1300
    assert "34 others" in {one.text for one in plate.pieces if isinstance(one, PlacedText)}
    on_paper = [
        one.text for plate in paged(sheet, 1700, 2144, 110) for one in plate.pieces if isinstance(one, PlacedText)
    ]
    assert {str(number) for number in range(1, 37)} <= set(on_paper)


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


@pytest.mark.parametrize(("rows", "count"), [(1, 1), (8, 1), (16, 1), (24, 2), (36, 2), (48, 3)])
@pytest.mark.parametrize("about", [SHORT, LONG])
def test_pages_hold_every_row_and_are_counted(rows: int, count: int, about: SheetHeader) -> None:
    drawn = run_sheet(rows, "en", about)
    assert pages(drawn).count(b"/Type /Page\n") == count
    found = [
        [one.text for one in plate.pieces if isinstance(one, PlacedText)] for plate in paged(drawn, 1700, 2144, 110)
    ]
    assert {str(number) for number in range(1, rows + 1)} <= {text for texts in found for text in texts}
    assert [texts[-1] for texts in found] == [f"{page} of {count}" for page in range(1, count + 1)]


def test_the_letters_come_with_the_program() -> None:
    assert font_file(bold=False).is_file() and font_file(bold=True).is_file()
