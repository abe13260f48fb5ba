"""A test run as shapes on a sheet: for every row what was judged against the tolerance, and what to do.

Sizes are in points of a canvas that is ``width`` wide, y grows downwards, text stands on its baseline. Every mark has a
shape of its own, so that it can be told without its colour: see ``mark_pieces``.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from bot.sheet.font import wrapped
from bot.sheet.piece import Disc, DrawingArea, Ink, Outline, Piece, PlacedText, Point, Side, box, corners, lozenge
from bot.sheet.sheet import RowMark, RunSheet, SheetRow

LINE = 0.27
"""The width of the line of an open mark, as a share of the mark."""
SPAN = 3.0
"""The scale of a row reaches this many times the tolerance to both sides."""


@dataclass(frozen=True)
class Layout(DrawingArea):
    """A sheet of rows: its columns, the height of a row, and the sizes of a mark and of the words under a row."""

    columns: int = 1
    row: float = 104
    size: float = 15
    words: float = 25
    gap: float = 28

    @property
    def column(self) -> float:
        return (self.room - self.gap * (self.columns - 1)) / self.columns

    def head_lines(self, sheet: RunSheet) -> list[tuple[str, float, float, bool]]:
        """The lines of the head: the height of each, the size of its letters, and whether they are bold."""
        texts = (
            (sheet.title, 54, 44, True),
            (sheet.summary, 48, 38, True),
            *((one, 36, 27, False) for one in sheet.lines),
        )
        return [
            (line, height, size, bold)
            for text, height, size, bold in texts
            for line in wrapped(text, size, self.room, bold)
        ]

    def head(self, sheet: RunSheet) -> float:
        return 30 + sum(height for _, height, _, _ in self.head_lines(sheet)) + 44

    def foot(self, sheet: RunSheet) -> float:
        return 42 + 38 * len(_legend_lines(sheet, self))

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
    left, y = layout.margin, 8.0
    for line, height, size, bold in layout.head_lines(sheet):
        y += height
        yield PlacedText((left, y), line, size, Ink.TEXT, layout.room, bold=bold)
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
    middle = top + layout.row * 0.3
    base = middle + layout.size + layout.words + 2
    yield PlacedText((left + 34, top + layout.row * 0.56), str(row.row), 46, Ink.TEXT, 70, bold=True, side=Side.MIDDLE)
    if row.off is None:
        yield from _nothing(row, layout, start, end, middle)
        return
    yield from _scale(sheet, row, row.off, start, end, middle, layout.size)
    off, wide = row.mark not in (RowMark.ON_TARGET, RowMark.CLOSEST, RowMark.NOT_SURE), end - start
    said, below = _said(row, layout)
    yield PlacedText((start, base), said, layout.words, Ink.TEXT, wide * (0.7 if layout.columns < MANY else 0.56))
    room = wide * (0.28 if layout.columns < MANY else 0.42)
    yield PlacedText((end, base), row.setting, layout.words, Ink.TEXT, room, bold=off, side=Side.RIGHT)
    if below:
        yield PlacedText((start, base + 27), below, 23, Ink.OFF if off else Ink.TEXT, wide)


def _said(row: SheetRow, layout: Layout) -> tuple[str, str]:
    """What a row gave with its verdict beside it, or below it where rows are high enough; in columns the mark says
    it."""
    if layout.columns > 1:
        return row.last, ""
    told = row.verdict if row.mark not in (RowMark.ON_TARGET, RowMark.MOVE) else ""
    if layout.row >= TWO_LINES:
        return row.catch, told
    return " · ".join(filter(None, (row.catch, told))), ""


def _nothing(row: SheetRow, layout: Layout, start: float, end: float, middle: float) -> Iterator[Piece]:
    """A row of which nothing is known has no scale on which it could seem to stand."""
    yield from mark_pieces(row.mark, (start + layout.size, middle), layout.size)
    at = (start + 3.2 * layout.size, middle + layout.words * 0.36)
    yield PlacedText(at, row.catch, layout.words, Ink.TEXT, end - at[0])


def _scale(
    sheet: RunSheet, row: SheetRow, off: float, start: float, end: float, middle: float, size: float
) -> Iterator[Piece]:
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
    yield from mark_pieces(row.mark, (at(off), middle), size, off >= 0)


def mark_pieces(mark: RowMark, at: Point, size: float, more: bool = True) -> Iterator[Piece]:
    """The shape of a mark: a disc is on target; a lozenge its closest notch; an open one not sure; an open square is to
    be caught again; an arrowhead points the way that a row is off; a cross wants somebody to look; two strokes were not
    caught; one stroke is left out."""
    x, y = at
    if mark is RowMark.ON_TARGET:
        yield Disc(at, size, Ink.GOOD)
    elif mark in (RowMark.CLOSEST, RowMark.NOT_SURE):
        ink = Ink.GOOD if mark is RowMark.CLOSEST else Ink.TEXT
        yield Outline(lozenge(at, size), ink, filled=mark is RowMark.CLOSEST, width=size * LINE)
    elif mark is RowMark.AGAIN:
        side = size * 0.8
        yield Outline(corners(x - side, y - side, x + side, y + side), Ink.TEXT, filled=False, width=size * LINE)
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
    y = top + 38
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


def fitted(rows: int) -> Layout:
    """A layout in which so many rows can be read on a screen that shows 1280 points on the long side."""
    if rows <= ONE_COLUMN:
        return Layout()
    if rows <= TWO_COLUMNS:
        return Layout(width=1280, columns=2, row=70, size=11)
    return Layout(width=1280, columns=MANY, row=66, size=10, words=22, gap=22)


ONE_COLUMN, TWO_COLUMNS, MOST = 8, 24, 36
"""Rows in one column, in two, and in all of a picture; a longer list is told as those that are off and a count."""
MANY = 3
TWO_LINES = 100
"""From this height of a row on its verdict has a line of its own."""
