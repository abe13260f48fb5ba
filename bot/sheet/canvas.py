"""A summary of either kind as what is painted: whole for a picture, or page by page."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import assert_never

from bot.sheet.drawing import MOST, Layout, Piece, draw, fitted
from bot.sheet.form import FormPages, draw_form
from bot.sheet.sheet import RowMark, RunSheet, SheetRow
from bot.sheet.shift_chart import Rack, draw_shift
from bot.sheet.shift_summary import Lane, ShiftSheet
from bot.sheet.year_lanes import Years, draw_years
from bot.sheet.years_chart import YearSheet

AnySheet = RunSheet | ShiftSheet | YearSheet | FormPages
LANE, ALONE, LEAST_LANE = 150, 460, 70
"""The height of a lane of years among others, alone, and at least where a page holds all rows."""
TALL = 1.3
"""Height of a form as a picture, by its width."""
ROWS_A_PAGE = 14


@dataclass(frozen=True)
class Plate:
    """Shapes on a canvas of this size."""

    pieces: tuple[Piece, ...]
    width: float
    height: float


def whole(sheet: AnySheet) -> Plate:
    """Everything on one tall canvas."""
    match sheet:
        case RunSheet():
            rows = _shown(sheet)
            layout = fitted(len(rows))
            left = len(sheet.rows) - len(rows)
            more = sheet.others.format(count=left) if left else ""
            return Plate(tuple(draw(sheet, rows, layout, more)), layout.width, layout.height(sheet, len(rows)))
        case ShiftSheet():
            rack = Rack()
            return Plate(tuple(draw_shift(sheet, sheet.lanes, rack)), rack.width, rack.height(sheet, sheet.lanes))
        case YearSheet():
            years = Years(lane=ALONE if sheet.table else LANE)
            height = years.height(sheet, len(sheet.lanes), len(sheet.table))
            return Plate(tuple(draw_years(sheet, sheet.lanes, sheet.table, years)), years.width, height)
        case FormPages():
            width, margin = Layout().width, Layout().margin
            return Plate(tuple(draw_form(sheet.forms[0], width, width * TALL, margin)), width, width * TALL)
        case _:
            assert_never(sheet)


def _shown(sheet: RunSheet) -> tuple[SheetRow, ...]:
    """All rows, or of very many those that are not on target; of those as many as can be read."""
    if len(sheet.rows) <= MOST:
        return sheet.rows
    return tuple(row for row in sheet.rows if row.mark is not RowMark.ON_TARGET)[:MOST]


def paged(sheet: AnySheet, width: float, height: float, margin: float) -> Iterator[Plate]:
    """As many canvases of this size as the rows need."""
    match sheet:
        case RunSheet():
            layout = Layout(width=width, margin=margin, row=118)
            pages = max(-(-len(sheet.rows) // ROWS_A_PAGE), 1)
            for page in range(pages):
                rows = sheet.rows[page * ROWS_A_PAGE : (page + 1) * ROWS_A_PAGE]
                number = sheet.page_of.format(page=page + 1, pages=pages)
                yield Plate(tuple(draw(sheet, rows, layout, number)), width, height)
        case ShiftSheet():
            rack = Rack(width=width, margin=margin)
            for lanes in _pages(sheet, rack, height):
                yield Plate(tuple(draw_shift(sheet, lanes, rack)), width, height)
        case YearSheet():
            yield from _year_pages(sheet, width, height, margin)
        case FormPages():
            for form in sheet.forms:
                yield Plate(tuple(draw_form(form, width, height, margin)), width, height)
        case _:
            assert_never(sheet)


def _year_pages(sheet: YearSheet, width: float, height: float, margin: float) -> Iterator[Plate]:
    """All lanes on the first page, lower where there are many; a long table goes on on the next ones."""
    years = Years(width=width, margin=margin)
    bare = height - years.height(sheet, 0, 0)
    lane = ALONE if sheet.table else max(LEAST_LANE, min(1.4 * LANE, bare / max(len(sheet.lanes), 1)))
    years = replace(years, lane=lane)
    first = max(int((bare - lane * len(sheet.lanes)) // years.table), 0)
    after = max(int((height - years.head(sheet)) // years.table), 1)
    yield Plate(tuple(draw_years(sheet, sheet.lanes, sheet.table[:first], years)), width, height)
    for start in range(first, len(sheet.table), after):
        yield Plate(tuple(draw_years(sheet, (), sheet.table[start : start + after], years)), width, height)


def _pages(sheet: ShiftSheet, rack: Rack, height: float) -> Iterator[list[Lane]]:
    page: list[Lane] = []
    for lane in sheet.lanes:
        if page and rack.height(sheet, [*page, lane]) > height:
            yield page
            page = []
        page.append(lane)
    yield page
