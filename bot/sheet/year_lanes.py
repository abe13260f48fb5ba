"""The years as shapes: a lane for each row, up is more setting than the middle row needs, each season at its place.

A disc counts for the trend, an open lozenge does not, two upright strokes are a repair, a slanting bar is the trend; at
the end of a lane an arrowhead points the way that the row drifts, a disc is steady, an open square cannot be told.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from bot.sheet.font import wrapped
from bot.sheet.piece import Disc, DrawingArea, Ink, Outline, Piece, PlacedText, Point, Side, box, corners, lozenge
from bot.sheet.years_chart import YearLane, YearPoint, YearSheet, signed
from engine.calculations.hoppers.wear import Drift

WRITTEN = 120
"""From this height of a lane on its scale is written in figures beside the first."""


@dataclass(frozen=True)
class Years(DrawingArea):
    """A sheet of years: the height of a lane, of a line in the table, and of a mark."""

    lane: float = 150
    table: float = 76
    size: float = 12
    numbers: float = 150
    words: float = 250

    def track(self, alone: bool) -> tuple[float, float]:
        """Where the line of seasons begins and ends; a row that stands alone says its drift in the head."""
        return self.margin + self.numbers, self.width - self.margin - (0 if alone else self.words)

    def head_lines(self, sheet: YearSheet) -> list[str]:
        return [part for line in sheet.lines for part in wrapped(line, 30, self.room)]

    def head(self, sheet: YearSheet) -> float:
        return 90 + 42 * len(self.head_lines(sheet)) + 40

    def foot(self, sheet: YearSheet) -> float:
        return 70 + 38 * len(sheet.legend) + 20

    def height(self, sheet: YearSheet, lanes: int, table: int) -> float:
        return self.head(sheet) + self.lane * lanes + self.foot(sheet) + self.table * table + 20


def draw_years(
    sheet: YearSheet, lanes: Sequence[YearLane], table: Sequence[tuple[str, str, str]], size: Years
) -> Iterator[Piece]:
    """The head, these lanes over their seasons, the legend, and these lines of the table."""
    yield from _head(sheet, size)
    top, alone = size.head(sheet), bool(sheet.table)
    if lanes:
        bottom = top + size.lane * len(lanes)
        yield from _seasons(sheet, size, top, bottom, alone)
        for number, lane in enumerate(lanes):
            yield from _lane(sheet, lane, size, top + number * size.lane, alone)
        yield from _legend(sheet, size, bottom + 70)
        top = bottom + size.foot(sheet)
    for number, line in enumerate(table):
        yield from _table(line, size, top + number * size.table)


def _head(sheet: YearSheet, size: Years) -> Iterator[Piece]:
    yield PlacedText((size.margin, 66), sheet.title, 46, Ink.TEXT, size.room, bold=True)
    y = 72.0
    for line in size.head_lines(sheet):
        y += 42
        yield PlacedText((size.margin, y), line, 30, Ink.TEXT, size.room)
    yield PlacedText((size.margin, y + 46), sheet.axis, 24, Ink.FAINT, size.room)


def _seasons(sheet: YearSheet, size: Years, top: float, bottom: float, alone: bool) -> Iterator[Piece]:
    start, end = size.track(alone)
    room = (end - start) / max(len(sheet.seasons), 1)
    for season in sheet.seasons:
        x = start + season.at * (end - start)
        yield box(x - 1, top + 6, x + 1, bottom, Ink.BAND)
        yield PlacedText((x, bottom + 36), season.label, 28, Ink.TEXT, room - 8, side=Side.MIDDLE)


def _lane(sheet: YearSheet, lane: YearLane, size: Years, top: float, alone: bool) -> Iterator[Piece]:
    start, end = size.track(alone)
    high, low, middle = top + 14, top + size.lane - 14, top + size.lane / 2

    def place(at: float, need: float) -> Point:
        share = (need - sheet.low) / (sheet.high - sheet.low)
        return start + at * (end - start), low - max(0.0, min(1.0, share)) * (low - high)

    figures = alone or (lane is sheet.lanes[0] and size.lane >= WRITTEN)
    yield from _scale(sheet, size, (start, end), [place(0, need)[1] for need in (sheet.high, 0, sheet.low)], figures)
    if not alone:
        yield PlacedText((size.margin + 34, middle + 16), str(lane.row), 44, Ink.TEXT, 66, bold=True, side=Side.MIDDLE)
    if lane.trend:
        ink = Ink.OFF if lane.drift in (Drift.RISING, Drift.FALLING) else Ink.FAINT
        yield _bar(place(*lane.trend[0]), place(*lane.trend[1]), ink)
    for at in lane.repairs:
        x, _ = place(at, 0)
        for way in (-5, 5):
            yield box(x + way - 2, high, x + way + 2, low, Ink.TEXT)
    for point in lane.points:
        yield from _point(point, place(point.at, point.need), size.size, alone)
    if not alone:
        yield from drift_mark(lane.drift, (end + 34, middle), 13)
        room = size.words - 60
        for number, line in enumerate(wrapped(lane.word, 24, room)):
            yield PlacedText((end + 60, middle + 9 + 28 * number), line, 24, Ink.TEXT, room)


def _scale(sheet: YearSheet, size: Years, track: Point, heights: Sequence[float], figures: bool) -> Iterator[Piece]:
    """The middle row as a line, and how far the lane reaches; ``heights`` are those of the most, nothing and least."""
    start, end = track
    yield box(start, heights[1] - 1.5, end, heights[1] + 1.5, Ink.BAND)
    for y, need in zip(heights, (sheet.high, 0, sheet.low), strict=True):
        yield box(start - 14, y - 1, start, y + 1, Ink.BAND)
        if figures:
            yield PlacedText((start - 20, y + 7), signed(need), 19, Ink.FAINT, size.numbers - 88, side=Side.RIGHT)


def _point(point: YearPoint, at: Point, size: float, alone: bool) -> Iterator[Piece]:
    x, y = at
    if point.counts:
        yield Disc(at, size, Ink.GOOD)
    else:
        yield Outline(lozenge(at, size), Ink.TEXT, filled=False)
    if alone:
        yield PlacedText((x, y - size - 12), signed(point.need), 24, Ink.TEXT, 130, side=Side.MIDDLE)


def _bar(one: Point, other: Point, ink: Ink, thick: float = 3) -> Outline:
    (x, y), (u, v) = one, other
    return Outline(((x, y - thick), (u, v - thick), (u, v + thick), (x, y + thick)), ink)


def drift_mark(drift: Drift, at: Point, size: float) -> Iterator[Piece]:
    """An arrowhead up or down, a disc, or an open square."""
    x, y = at
    match drift:
        case Drift.RISING | Drift.FALLING:
            way = -size if drift is Drift.RISING else size
            yield Outline(((x - size * 1.2, y - way), (x, y + way * 1.2), (x + size * 1.2, y - way)), Ink.OFF)
        case Drift.STEADY:
            yield Disc(at, size, Ink.GOOD)
        case Drift.TOO_LITTLE_DATA:
            side = size * 0.8
            yield Outline(corners(x - side, y - side, x + side, y + side), Ink.FAINT, filled=False)


def _legend(sheet: YearSheet, size: Years, top: float) -> Iterator[Piece]:
    x = size.margin
    for number, (name, word) in enumerate(sheet.legend):
        y = top + 38 * number
        at = (x + 14, y - 8)
        if name == "counts":
            yield Disc(at, 11, Ink.GOOD)
        elif name == "apart":
            yield Outline(lozenge(at, 11), Ink.TEXT, filled=False)
        elif name == "repaired":
            for way in (-5, 5):
                yield box(at[0] + way - 2, y - 22, at[0] + way + 2, y + 6, Ink.TEXT)
        else:
            yield _bar((x, y - 2), (x + 28, y - 14), Ink.FAINT)
        yield PlacedText((x + 44, y), word, 24, Ink.FAINT, size.room - 44)


def _table(line: tuple[str, str, str], size: Years, top: float) -> Iterator[Piece]:
    date, off, with_ = line
    left = size.margin + 200
    yield PlacedText((size.margin, top + 28), date, 28, Ink.TEXT, 190, bold=True)
    yield PlacedText((left, top + 28), off, 28, Ink.TEXT, size.room - 200)
    first, *more = wrapped(with_, 24, size.room - 240) or [""]
    yield PlacedText((left, top + 60), f"{first} …" if more else first, 24, Ink.FAINT, size.room - 200)
