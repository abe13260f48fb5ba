"""A summary of either kind as what is painted: whole for a picture, or page by page."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import assert_never

from bot.sheet.drawing import MOST, Layout, draw, fitted
from bot.sheet.form import FormPages, draw_form
from bot.sheet.piece import Piece
from bot.sheet.sheet import RowMark, RunSheet, SheetRow
from bot.sheet.shift_chart import LaneSizes, draw_shift
from bot.sheet.shift_summary import Lane, ShiftSheet
from bot.sheet.year_lanes import Years, draw_years
from bot.sheet.years_chart import YearSheet

AnySheet = RunSheet | ShiftSheet | YearSheet | FormPages
LANE, ALONE, LEAST_LANE = 150, 460, 70
"""The height of a lane of years among others, alone, and at least where a page holds all rows."""
TALL = 1.3
"""Height of a form as a picture, by its width."""
LEAST_ROW, MOST_ROW = 76, 118
"""The heights of a row of a test run on a page."""
LEAST_SHIFT_LANE, MOST_LANES = 60, 12
"""The least height of a row of a shift on a page, and how many rows of it a picture shows."""


@dataclass(frozen=True)
class Canvas:
    """Shapes on a canvas of this size."""

    pieces: tuple[Piece, ...]
    width: float
    height: float


def whole(sheet: AnySheet) -> Canvas:
    """Everything on one tall canvas."""
    match sheet:
        case RunSheet():
            rows = _shown(sheet)
            layout, more = fitted(len(rows)), _rest(sheet, rows)
            return Canvas(tuple(draw(sheet, rows, layout, more)), layout.width, layout.height(sheet, len(rows)))
        case ShiftSheet():
            rack, lanes = LaneSizes(), noted(sheet)
            left = len(sheet.lanes) - len(lanes)
            more = sheet.others.format(count=left) if left else ""
            return Canvas(tuple(draw_shift(sheet, lanes, rack, more)), rack.width, rack.height(sheet, lanes))
        case YearSheet():
            years = Years(lane=ALONE if sheet.table else LANE)
            height = years.height(sheet, len(sheet.lanes), len(sheet.table))
            return Canvas(tuple(draw_years(sheet, sheet.lanes, sheet.table, years)), years.width, height)
        case FormPages():
            width, margin = Layout().width, Layout().margin
            return Canvas(tuple(draw_form(sheet.forms[0], width, width * TALL, margin)), width, width * TALL)
        case _:
            assert_never(sheet)


def _shown(sheet: RunSheet) -> tuple[SheetRow, ...]:
    """All rows, or of very many those that are not on target; of those as many as can be read."""
    if len(sheet.rows) <= MOST:
        return sheet.rows
    return tuple(row for row in sheet.rows if row.mark is not RowMark.ON_TARGET)[:MOST]


def _rest(sheet: RunSheet, rows: Sequence[SheetRow]) -> str:
    """How many rows are not drawn; nothing where all are."""
    left = [row for row in sheet.rows if row not in rows]
    good = all(row.mark is RowMark.ON_TARGET for row in left)
    return (sheet.others_good if good else sheet.others).format(count=len(left)) if left else ""


def noted(sheet: ShiftSheet) -> list[Lane]:
    """The rows of a shift that a picture shows: all, or of many those of which something is to be told."""
    if len(sheet.lanes) <= MOST_LANES:
        return [*sheet.lanes]
    return [lane for lane in sheet.lanes if lane.blocks or lane.named][:MOST_LANES]


def paged(sheet: AnySheet, width: float, height: float, margin: float) -> Iterator[Canvas]:
    """As many canvases of this size as the rows need."""
    match sheet:
        case RunSheet():
            yield from _run_pages(sheet, width, height, margin)
        case ShiftSheet():
            yield from _shift_pages(sheet, width, height, margin)
        case YearSheet():
            yield from _year_pages(sheet, width, height, margin)
        case FormPages():
            for form in sheet.forms:
                yield Canvas(tuple(draw_form(form, width, height, margin)), width, height)
        case _:
            assert_never(sheet)


def _run_pages(sheet: RunSheet, width: float, height: float, margin: float) -> Iterator[Canvas]:
    """As many rows on each page as on the others, as high as there is room."""
    layout = Layout(width=width, margin=margin)
    bare = height - layout.head(sheet) - layout.foot(sheet)
    pages = max(-(-len(sheet.rows) // int(bare / LEAST_ROW)), 1)
    each = max(-(-len(sheet.rows) // pages), 1)
    layout = replace(layout, row=min(MOST_ROW, bare / each))
    for page in range(pages):
        rows, number = sheet.rows[page * each : (page + 1) * each], sheet.page_of.format(page=page + 1, pages=pages)
        yield Canvas(tuple(draw(sheet, rows, layout, number)), width, height)


def _shift_pages(sheet: ShiftSheet, width: float, height: float, margin: float) -> Iterator[Canvas]:
    """As many lanes on each page as on the others, as high as there is room."""
    low = LaneSizes(width=width, margin=margin, lane=LEAST_SHIFT_LANE)
    bare, count = height - low.height(sheet, ()), max(len(sheet.lanes), 1)
    each = math.ceil(count / max(math.ceil(sum(map(low.of, sheet.lanes)) / bare), 1))
    parts = [sheet.lanes[start : start + each] for start in range(0, count, each)]
    spare = min(bare - sum(map(low.of, part)) for part in parts) / each
    rack = replace(low, lane=min(LaneSizes().lane, LEAST_SHIFT_LANE + max(spare, 0)))
    found = [page for part in parts for page in _pages(sheet, part, rack, height)]
    for number, lanes in enumerate(found, 1):
        page = sheet.page_of.format(page=number, pages=len(found))
        yield Canvas(tuple(draw_shift(sheet, lanes, rack, page)), width, height)


def _year_pages(sheet: YearSheet, width: float, height: float, margin: float) -> Iterator[Canvas]:
    """All lanes on the first page, lower where there are many; a long table goes on on the next ones."""
    years = Years(width=width, margin=margin)
    bare = height - years.height(sheet, 0, 0)
    lane = ALONE if sheet.table else max(LEAST_LANE, min(1.4 * LANE, bare / max(len(sheet.lanes), 1)))
    years = replace(years, lane=lane)
    first = max(int((bare - lane * len(sheet.lanes)) // years.table), 0)
    after = max(int((height - years.head(sheet)) // years.table), 1)
    yield Canvas(tuple(draw_years(sheet, sheet.lanes, sheet.table[:first], years)), width, height)
    for start in range(first, len(sheet.table), after):
        yield Canvas(tuple(draw_years(sheet, (), sheet.table[start : start + after], years)), width, height)


def _pages(sheet: ShiftSheet, lanes: Sequence[Lane], rack: LaneSizes, height: float) -> Iterator[list[Lane]]:
    page: list[Lane] = []
    for lane in lanes:
        if page and rack.height(sheet, [*page, lane]) > height:
            yield page
            page = []
        page.append(lane)
    yield page
