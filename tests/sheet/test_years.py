"""The years that are drawn: every calibration at its season and height, readable without colour."""

from __future__ import annotations

import io
from datetime import UTC, datetime

import pytest
from PIL import Image
from pydantic import TypeAdapter

from bot.record.shift_words import account
from bot.sheet.canvas import AnySheet, paged, whole
from bot.sheet.font import font
from bot.sheet.pages import pages
from bot.sheet.picture import picture
from bot.sheet.piece import Disc, Ink, Outline, Piece, PlacedText
from bot.sheet.year_lanes import Years, draw_years, drift_mark
from bot.sheet.years_chart import YearSheet, signed, year_sheet
from engine.calculations.hoppers.wear import Drift
from engine.data.forms import load_forms
from engine.dialog.facts.yearbook import Repair, Yearbook
from engine.messages import LANGUAGES, Language
from tests.helpers.years import calibrated, calibration, spring

YEARS = (2023, 2024, 2025, 2026)
PAST = calibrated(YEARS, worn={5: 0.06, 2: -0.06})
OTHER = calibration(2024, dict.fromkeys(range(1, 9), 39.0), dict.fromkeys(range(1, 9), 20.0), product="Granules B")
REPAIR = Repair(rows=(3,), said="new roller in row three", at=spring(2025, 1))
BOOK = Yearbook(sorted([*PAST, OTHER], key=lambda one: (one.at or spring(1), one is OTHER)), [REPAIR])


def sheet_of(row: int | None = None, book: Yearbook = BOOK, language: Language = "en") -> YearSheet:
    return year_sheet(book, account(language, UTC), row, ["Big one", None])


def drawn(sheet: YearSheet) -> list[Piece]:
    return list(draw_years(sheet, sheet.lanes, sheet.table, Years()))


def words(sheet: YearSheet) -> list[str]:
    return [piece.text for piece in drawn(sheet) if isinstance(piece, PlacedText)]


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_row_has_its_years_and_says_how_it_drifts(language: Language) -> None:
    sheet = sheet_of(language=language)
    assert [lane.row for lane in sheet.lanes] == [*range(1, 9)]
    assert {lane.row: lane.drift for lane in sheet.lanes if lane.drift in (Drift.RISING, Drift.FALLING)} == {
        5: Drift.RISING,
        2: Drift.FALLING,
    }
    assert sheet.lanes[4].word.startswith("+6 %") and sheet.lanes[1].word.startswith("−5 %")
    assert {len(lane.points) for lane in sheet.lanes} == {5}
    said = words(sheet)
    for text in (sheet.title, sheet.axis, "Big one", *(season.label for season in sheet.seasons)):
        assert text in said
    assert {season.label for season in sheet.seasons} == {str(year) for year in YEARS}


def test_what_does_not_count_and_a_repair_are_marked_by_their_shape() -> None:
    sheet = sheet_of()
    assert [point.counts for point in sheet.lanes[4].points] == [True, True, False, True, True]
    assert [point.counts for point in sheet.lanes[2].points] == [False, False, False, True, True]
    assert [name for name, _ in sheet.legend] == ["counts", "apart", "repaired", "trend"]
    before, after = sheet.lanes[2].points[2].at, sheet.lanes[2].points[3].at
    (repair,) = sheet.lanes[2].repairs
    assert before < repair < after
    assert not any(lane.repairs for lane in sheet.lanes if lane.row != 3)
    alone = drawn(sheet_of(3))
    assert len([one for one in alone if isinstance(one, Disc)]) == 2 + 1, "and one in the legend"
    open_ = [one for one in alone if isinstance(one, Outline) and not one.filled]
    assert len(open_) == 3 + 1


def test_a_point_stands_at_its_season_and_height() -> None:
    sheet = sheet_of(5)
    size = Years(lane=400)
    pieces = [*draw_years(sheet, sheet.lanes, (), size)]
    discs = [one.at for one in pieces if isinstance(one, Disc)][:4]
    start, end = size.track(True)
    seasons = {season.label: start + season.at * (end - start) for season in sheet.seasons}
    assert [discs[0][0], discs[2][0], discs[3][0]] == pytest.approx([seasons[str(year)] for year in (2023, 2025, 2026)])
    assert discs[0][1] > discs[1][1] > discs[2][1] > discs[3][1], "more needed stands higher"
    top = size.head(sheet) + 14
    share = (sheet.lanes[0].points[-1].need - sheet.low) / (sheet.high - sheet.low)
    assert discs[3][1] == pytest.approx(top + (400 - 28) * (1 - share))


def test_the_trend_is_the_line_of_least_squares_and_is_not_drawn_where_the_years_do_not_tell() -> None:
    sheet = sheet_of()
    trend = sheet.lanes[4].trend
    assert trend is not None
    (x, low), (u, high) = trend
    assert (x, u) == pytest.approx((1 / 8, 7 / 8))
    assert high - low == pytest.approx(20, abs=3)
    assert sheet.lanes[2].trend is None and sheet.lanes[2].drift is Drift.TOO_LITTLE_DATA


@pytest.mark.parametrize("language", LANGUAGES)
def test_one_row_has_each_calibration_in_words_newest_first(language: Language) -> None:
    sheet = sheet_of(3, language=language)
    days = [datetime.strptime(line[0], load_forms(language).day).replace(tzinfo=UTC) for line in sheet.table]
    assert days == sorted(days, reverse=True)
    assert len(sheet.table) == 6
    assert any("new roller in row three" in line[2] for line in sheet.table)
    assert sum("Granules B" in line[2] for line in sheet.table) == 1
    said = words(sheet)
    assert all(line[0] in said and line[1] in said for line in sheet.table)


def test_marks_of_drift_differ_without_colour() -> None:
    shapes = {
        drift: [
            (type(one), getattr(one, "points", None), getattr(one, "filled", None))
            for one in drift_mark(drift, (0, 0), 10)
        ]
        for drift in Drift
    }
    assert len({str(shape) for shape in shapes.values()}) == len(Drift)


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_letter_is_in_the_font(language: Language) -> None:
    nothing = bytes(font(40, False).getmask("\uffff"))
    said = [*words(sheet_of(language=language)), *words(sheet_of(5, language=language))]
    for sign in {sign for text in said for sign in text} - {" ", "\xa0"}:
        assert bytes(font(40, False).getmask(sign)) != nothing, sign


def test_a_long_name_is_cut_and_stays_readable() -> None:
    long = "A product with a very long name that goes on and on, special formulation, in bags of fifty pounds each"
    past = [one.model_copy(update={"values": {**one.values, "product": long}}) for one in PAST]
    sheet = sheet_of(5, Yearbook(past, ()))
    (cut, *_) = [one for one in drawn(sheet) if isinstance(one, PlacedText) and "A product" in one.text]
    assert cut.text.endswith("…") and font(round(cut.size), False).getlength(cut.text) <= cut.room


@pytest.mark.parametrize("rows", [1, 8, 24])
def test_pages_hold_every_row_and_every_line_of_a_long_table(rows: int) -> None:
    past = calibrated(range(1990, 2027), rows=max(rows, 3))
    sheet = sheet_of(1 if rows == 1 else None, Yearbook(past, ()))
    plates = list(paged(sheet, 1700, 2150, 110))
    said = [one.text for plate in plates for one in plate.pieces if isinstance(one, PlacedText)]
    if rows == 1:
        assert len(plates) > 1
        assert [text for text in said if text in {line[0] for line in sheet.table}] == [line[0] for line in sheet.table]
    else:
        assert len(plates) == 1 and {str(row) for row in range(1, rows + 1)} <= {*said}
    for plate in plates:
        assert max(one.at[1] for one in plate.pieces if isinstance(one, PlacedText)) < plate.height


@pytest.mark.parametrize("row", [None, 5])
def test_it_is_painted_and_comes_back_from_the_outbox(row: int | None) -> None:
    sheet = sheet_of(row)
    adapter: TypeAdapter[AnySheet] = TypeAdapter(AnySheet)
    assert adapter.validate_python(sheet.model_dump(mode="json")) == sheet
    image = Image.open(io.BytesIO(picture(sheet)))
    assert image.size == (1080, round(whole(sheet).height))
    assert pages(sheet).startswith(b"%PDF")
    assert Ink.OFF in {one.ink for one in drawn(sheet) if isinstance(one, Outline)}


@pytest.mark.parametrize(
    ("percent", "told"), [(4.4, "+4 %"), (-3.6, "−4 %"), (0.2, "0 %"), (-0.2, "0 %"), (10, "+10 %")]
)
def test_percents_are_whole_and_nothing_has_no_sign(percent: float, told: str) -> None:
    assert signed(percent) == told
