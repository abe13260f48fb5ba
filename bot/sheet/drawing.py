"""A summary as shapes on a sheet: for every row where its catch lies against the tolerance, and what to do.

Sizes are in points of a canvas that is ``width`` wide, y grows downwards, text stands on its baseline. What the colours
say, the shapes say too: a disc is on target, an arrowhead points the way a row is off, an open square is not known.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from bot.sheet.sheet import Mark, Sheet, SheetRow

Point = tuple[float, float]
SPAN = 3.0
"""The scale of a row reaches this many times the tolerance to both sides."""


class Ink(StrEnum):
    """What something is painted for; the painter knows the colour."""

    PAPER = "paper"
    TEXT = "text"
    FAINT = "faint"
    BAND = "band"
    GOOD = "good"
    OFF = "off"


class Side(StrEnum):
    LEFT = "left"
    RIGHT = "right"
    MIDDLE = "middle"


@dataclass(frozen=True)
class Shape:
    """A closed outline, filled or only drawn."""

    points: tuple[Point, ...]
    ink: Ink
    filled: bool = True


@dataclass(frozen=True)
class Disc:
    at: Point
    radius: float
    ink: Ink


@dataclass(frozen=True)
class Words:
    """A text at a place, no wider than ``room``."""

    at: Point
    text: str
    size: float
    ink: Ink
    room: float
    bold: bool = False
    side: Side = Side.LEFT


Piece = Shape | Disc | Words


@dataclass(frozen=True)
class Layout:
    """The sizes of a page: how wide it is, how high the head and each row are, and the margin."""

    width: float = 1080
    head: float = 300
    row: float = 190
    foot: float = 80
    margin: float = 44

    def height(self, rows: int) -> float:
        return self.head + self.row * rows + self.foot


def draw(sheet: Sheet, rows: Sequence[SheetRow], layout: Layout) -> Iterator[Piece]:
    """The head, these rows, and the foot."""
    yield from _head(sheet, layout)
    for number, row in enumerate(rows):
        yield from _row(sheet, row, layout, layout.head + number * layout.row)
    end = layout.height(len(rows)) - layout.foot * 0.35
    room = layout.width - 2 * layout.margin
    yield Words((layout.margin, end), sheet.footer, 30, Ink.FAINT, room)


def _head(sheet: Sheet, layout: Layout) -> Iterator[Piece]:
    left, room = layout.margin, layout.width - 2 * layout.margin
    yield Words((left, 96), sheet.title, 72, Ink.TEXT, room, bold=True)
    for number, line in enumerate(sheet.lines):
        yield Words((left, 162 + 54 * number), line, 44 if number == 0 else 36, Ink.TEXT, room)
    start, end = _track(layout)
    base = layout.head - 8
    yield Words((start, base), sheet.low, 32, Ink.FAINT, (end - start) / 2)
    yield Words((end, base), sheet.high, 32, Ink.FAINT, (end - start) / 2, side=Side.RIGHT)


def _track(layout: Layout) -> tuple[float, float]:
    """Where the scale of a row begins and ends."""
    return layout.margin + 150, layout.width - layout.margin


def _row(sheet: Sheet, row: SheetRow, layout: Layout, top: float) -> Iterator[Piece]:
    start, end = _track(layout)
    yield Words((layout.margin + 60, top + 122), str(row.row), 96, Ink.TEXT, 130, bold=True, side=Side.MIDDLE)
    yield from _scale(sheet, row, start, end, top + 44)
    wide = end - start
    tone = Ink.OFF if row.mark is Mark.OFF else Ink.TEXT
    off = "" if row.off is None else f"  {row.off:+.1f} %".replace("-", "−")
    yield Words((start, top + 118), f"{row.catch}{off}", 44, tone, wide * 0.62, bold=row.mark is Mark.OFF)
    yield Words((end, top + 118), row.setting, 44, Ink.TEXT, wide * 0.36, bold=True, side=Side.RIGHT)
    yield Words((start, top + 162), row.verdict, 36, tone, wide)


def _scale(sheet: Sheet, row: SheetRow, start: float, end: float, middle: float) -> Iterator[Piece]:
    """A bar with the tolerance as a block in its middle, the target as a line, and the catch as a mark."""
    centre, half = (start + end) / 2, (end - start) / 2
    band = half / SPAN
    yield box(start, middle - 4, end, middle + 4, Ink.BAND)
    yield box(centre - band, middle - 26, centre + band, middle + 26, Ink.BAND)
    for edge in (centre - band, centre + band):
        yield box(edge - 3, middle - 34, edge + 3, middle + 34, Ink.FAINT)
    yield box(centre - 2, middle - 26, centre + 2, middle + 26, Ink.TEXT)
    if row.off is None:
        yield Shape(corners(centre - 22, middle - 22, centre + 22, middle + 22), Ink.FAINT, filled=False)
        return
    share = max(-1.0, min(1.0, row.off / (SPAN * sheet.tolerance)))
    at = centre + share * (half - 30)
    if row.mark is Mark.WITHIN:
        yield Disc((at, middle), 24, Ink.GOOD)
    else:
        way = 1 if row.off > 0 else -1
        yield Shape(((at - 24 * way, middle - 32), (at + 30 * way, middle), (at - 24 * way, middle + 32)), Ink.OFF)


def box(left: float, top: float, right: float, bottom: float, ink: Ink) -> Shape:
    """A filled rectangle."""
    return Shape(corners(left, top, right, bottom), ink)


def corners(left: float, top: float, right: float, bottom: float) -> tuple[Point, ...]:
    """The outline of a rectangle."""
    return (left, top), (right, top), (right, bottom), (left, bottom)
