"""A test run as shapes on a sheet: for every row what was judged against the tolerance, and what to do.

Sizes are in points of a canvas that is ``width`` wide, y grows downwards, text stands on its baseline. Every mark has a
shape of its own, so that it can be told without its colour: see ``mark_pieces``.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from bot.sheet.font import wrapped
from bot.sheet.sheet import RowMark, RunSheet, SheetRow

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
class Outline:
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
class PlacedText:
    """A text at a place, no wider than ``room``."""

    at: Point
    text: str
    size: float
    ink: Ink
    room: float
    bold: bool = False
    side: Side = Side.LEFT


Piece = Outline | Disc | PlacedText


@dataclass(frozen=True)
class Layout:
    """The sizes of a sheet: its width and margin, columns of rows, the height of a row, and the size of a mark."""

    width: float = 1080
    margin: float = 40
    columns: int = 1
    row: float = 104
    size: float = 15
    gap: float = 28

    @property
    def room(self) -> float:
        return self.width - 2 * self.margin

    @property
    def column(self) -> float:
        return (self.room - self.gap * (self.columns - 1)) / self.columns

    def head_lines(self, sheet: RunSheet) -> list[str]:
        return [part for line in sheet.lines for part in wrapped(line, 27, self.room)]

    def standing(self, sheet: RunSheet) -> list[str]:
        return wrapped(sheet.summary, 38, self.room)

    def head(self, sheet: RunSheet) -> float:
        return 84 + 48 * len(self.standing(sheet)) + 36 * len(self.head_lines(sheet)) + 44

    def foot(self, sheet: RunSheet) -> float:
        return 30 + 38 * len(_legend_lines(sheet, self))

    def height(self, sheet: RunSheet, rows: int) -> float:
        return self.head(sheet) + self.row * -(-rows // self.columns) + self.foot(sheet)


def draw(sheet: RunSheet, rows: Sequence[SheetRow], layout: Layout, more: str = "") -> Iterator[Piece]:
    """The head, these rows column by column, and the legend; ``more`` stands behind the last row."""
    yield from _head(sheet, layout)
    deep = max(-(-len(rows) // layout.columns), 1)
    top = layout.head(sheet)
    for number, row in enumerate(rows):
        left = layout.margin + (number // deep) * (layout.column + layout.gap)
        yield from _row(sheet, row, layout, left, top + (number % deep) * layout.row)
    yield from _foot(sheet, layout, top + deep * layout.row, more)


def _head(sheet: RunSheet, layout: Layout) -> Iterator[Piece]:
    left, y = layout.margin, 62.0
    yield PlacedText((left, y), sheet.title, 44, Ink.TEXT, layout.room, bold=True)
    for line in layout.standing(sheet):
        y += 48
        yield PlacedText((left, y), line, 38, Ink.TEXT, layout.room, bold=True)
    for line in layout.head_lines(sheet):
        y += 36
        yield PlacedText((left, y), line, 27, Ink.TEXT, layout.room)
    for column in range(layout.columns):
        start, end = _track(layout, left + column * (layout.column + layout.gap))
        base = layout.head(sheet) - 8
        yield PlacedText((start, base), sheet.low, 22, Ink.FAINT, (end - start) / 2)
        yield PlacedText((end, base), sheet.high, 22, Ink.FAINT, (end - start) / 2, side=Side.RIGHT)


def _track(layout: Layout, left: float) -> tuple[float, float]:
    """Where the scale of a row begins and ends."""
    return left + 84, left + layout.column


def _row(sheet: RunSheet, row: SheetRow, layout: Layout, left: float, top: float) -> Iterator[Piece]:
    start, end = _track(layout, left)
    wide, base = end - start, top + layout.row * 0.3 + layout.size + 27
    yield PlacedText((left + 34, top + layout.row * 0.56), str(row.row), 46, Ink.TEXT, 70, bold=True, side=Side.MIDDLE)
    yield from _scale(sheet, row, start, end, top + layout.row * 0.3, layout.size)
    off = row.mark not in (RowMark.ON_TARGET, RowMark.CLOSEST, RowMark.NOT_SURE)
    said = row.catch if layout.columns == 1 else row.last
    yield PlacedText((start, base), said, 25, Ink.TEXT, wide * 0.7)
    yield PlacedText((end, base), row.setting, 25, Ink.TEXT, wide * 0.28, bold=off, side=Side.RIGHT)
    if layout.columns == 1 and row.verdict and row.mark not in (RowMark.ON_TARGET, RowMark.MOVE):
        yield PlacedText((start, base + 27), row.verdict, 23, Ink.OFF if off else Ink.TEXT, wide)


def _scale(sheet: RunSheet, row: SheetRow, start: float, end: float, middle: float, size: float) -> Iterator[Piece]:
    """A line with the tolerance as a block in its middle and the target as a stroke; the interval, the last catch and
    the mark on it."""
    centre, half = (start + end) / 2, (end - start) / 2
    band = half / SPAN
    yield box(start, middle - 2, end, middle + 2, Ink.BAND)
    yield box(centre - band, middle - size, centre + band, middle + size, Ink.BAND)
    yield box(centre - 1.5, middle - size, centre + 1.5, middle + size, Ink.FAINT)

    def at(percent: float) -> float:
        return centre + max(-1.0, min(1.0, percent / (SPAN * sheet.tolerance))) * (half - size)

    if row.low is not None and row.high is not None:
        yield box(at(row.low), middle - 2.5, at(row.high), middle + 2.5, Ink.TEXT)
    if row.catch_off is not None:
        place = at(row.catch_off)
        yield box(place - 2, middle - size - 7, place + 2, middle - 3, Ink.TEXT)
    if row.off is not None:
        yield from mark_pieces(row.mark, (at(row.off), middle), size, row.off >= 0)
    else:
        yield from mark_pieces(row.mark, (centre, middle), size, True)


def mark_pieces(mark: RowMark, at: Point, size: float, more: bool = True) -> Iterator[Piece]:
    """The shape of a mark: a disc is on target; a lozenge its closest notch; an open one not sure; an open square is to
    be caught again; an arrowhead points the way that a row is off; a cross wants somebody to look; two strokes were not
    caught; one stroke is left out."""
    x, y = at
    if mark is RowMark.ON_TARGET:
        yield Disc(at, size, Ink.GOOD)
    elif mark in (RowMark.CLOSEST, RowMark.NOT_SURE):
        corner = ((x - size, y), (x, y - size), (x + size, y), (x, y + size))
        yield Outline(corner, Ink.GOOD if mark is RowMark.CLOSEST else Ink.TEXT, filled=mark is RowMark.CLOSEST)
    elif mark is RowMark.AGAIN:
        yield Outline(corners(x - size * 0.8, y - size * 0.8, x + size * 0.8, y + size * 0.8), Ink.TEXT, filled=False)
    elif mark is RowMark.MOVE:
        way = size if more else -size
        yield Outline(((x - way, y - size * 1.2), (x + way * 1.2, y), (x - way, y + size * 1.2)), Ink.OFF)
    elif mark is RowMark.FAULT:
        yield from _cross(x, y, size)
    else:
        places = (0.0,) if mark is RowMark.LEFT_OUT else (-size * 0.5, size * 0.5)
        for place in places:
            yield box(x - size, y + place - 2.5, x + size, y + place + 2.5, Ink.OFF)


def _cross(x: float, y: float, size: float) -> Iterator[Piece]:
    thick = size * 0.3
    for way in (1, -1):
        yield Outline(
            (
                (x - size, y - way * size - thick),
                (x - size, y - way * size + thick),
                (x + size, y + way * size + thick),
                (x + size, y + way * size - thick),
            ),
            Ink.OFF,
        )


def _legend(sheet: RunSheet) -> list[tuple[RowMark | None, str]]:
    found: list[tuple[RowMark | None, str]] = [(mark, word) for mark, word in sheet.legend.items()]
    return found + ([(None, sheet.catch_legend)] if sheet.catch_legend else [])


def _legend_lines(sheet: RunSheet, layout: Layout) -> list[list[tuple[RowMark | None, str]]]:
    """The legend in lines that fit the width."""
    lines: list[list[tuple[RowMark | None, str]]] = [[]]
    used = 0.0
    for entry in _legend(sheet):
        wide = _wide(entry)
        if lines[-1] and used + wide > layout.room:
            lines.append([])
            used = 0.0
        lines[-1].append(entry)
        used += wide
    return lines


def _wide(entry: tuple[RowMark | None, str]) -> float:
    return 46 + 13.5 * len(entry[1]) + 24


def _foot(sheet: RunSheet, layout: Layout, top: float, more: str) -> Iterator[Piece]:
    y = top + 26
    for line in _legend_lines(sheet, layout):
        x = layout.margin
        for mark, word in line:
            if mark is None:
                yield box(x + 12, y - 18, x + 16, y + 2, Ink.TEXT)
            else:
                yield from mark_pieces(mark, (x + 14, y - 8), 11)
            yield PlacedText((x + 36, y), word, 22, Ink.FAINT, 13.5 * len(word) + 10)
            x += _wide((mark, word))
        y += 38
    if more:
        yield PlacedText((layout.width - layout.margin, y - 38), more, 24, Ink.TEXT, layout.room / 2, True, Side.RIGHT)


def box(left: float, top: float, right: float, bottom: float, ink: Ink) -> Outline:
    """A filled rectangle."""
    return Outline(corners(left, top, right, bottom), ink)


def corners(left: float, top: float, right: float, bottom: float) -> tuple[Point, ...]:
    """The outline of a rectangle."""
    return (left, top), (right, top), (right, bottom), (left, bottom)


def fitted(rows: int) -> Layout:
    """A layout in which so many rows can be read on a screen that shows 1280 points on the long side."""
    return Layout() if rows <= ONE_COLUMN else replace(Layout(), width=1280, columns=2, row=70, size=11)


ONE_COLUMN, MOST = 9, 24
"""Rows in one column, and in all of a picture; a longer list is told as those that are off and a count."""
