"""A summary of either kind as what is painted: whole for a picture, or page by page."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import assert_never

from bot.sheet.drawing import Layout, Piece, draw
from bot.sheet.lanes import Rack, draw_shift
from bot.sheet.night import Lane, ShiftSheet
from bot.sheet.sheet import Sheet

AnySheet = Sheet | ShiftSheet
ROWS_A_PAGE = 9


@dataclass(frozen=True)
class Plate:
    """Shapes on a canvas of this size."""

    pieces: tuple[Piece, ...]
    width: float
    height: float


def whole(sheet: AnySheet) -> Plate:
    """Everything on one tall canvas."""
    match sheet:
        case Sheet():
            layout = Layout()
            return Plate(tuple(draw(sheet, sheet.rows, layout)), layout.width, layout.height(len(sheet.rows)))
        case ShiftSheet():
            rack = Rack()
            return Plate(tuple(draw_shift(sheet, sheet.lanes, rack)), rack.width, rack.height(sheet, sheet.lanes))
        case _:
            assert_never(sheet)


def paged(sheet: AnySheet, width: float, height: float, margin: float) -> Iterator[Plate]:
    """As many canvases of this size as the rows need."""
    match sheet:
        case Sheet():
            layout = Layout(width=width, margin=margin)
            for start in range(0, max(len(sheet.rows), 1), ROWS_A_PAGE):
                yield Plate(tuple(draw(sheet, sheet.rows[start : start + ROWS_A_PAGE], layout)), width, height)
        case ShiftSheet():
            rack = Rack(width=width, margin=margin)
            for lanes in _pages(sheet, rack, height):
                yield Plate(tuple(draw_shift(sheet, lanes, rack)), width, height)
        case _:
            assert_never(sheet)


def _pages(sheet: ShiftSheet, rack: Rack, height: float) -> Iterator[list[Lane]]:
    page: list[Lane] = []
    for lane in sheet.lanes:
        if page and rack.height(sheet, [*page, lane]) > height:
            yield page
            page = []
        page.append(lane)
    yield page
