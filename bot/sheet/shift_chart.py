"""The summary of a shift as shapes: a line of time with its looks above, and below it a line for every row.

The shapes say what the colours say: a full block is a row that stopped, an open one a hopper that stayed high, a disc
a look, an arrowhead down a refill, a thin line a pause. A rate that is too little has an arrowhead to the left.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from bot.sheet.font import wrapped
from bot.sheet.piece import Disc, DrawingArea, Ink, Outline, Piece, PlacedText, Side, box, corners
from bot.sheet.shift_summary import Block, Lane, ShiftSheet

BLOCK = 84
"""The height of a row with a block in it."""
EDGE = 0.95
"""Behind this an hour is written to the left of its place where nothing stands to the right of it."""


@dataclass(frozen=True)
class LaneSizes(DrawingArea):
    """A page of lanes: widths of the row numbers and of the rates, heights of head, of each line of words in it, of a
    lane and of the words under it, and of the foot."""

    margin: float = 44
    head: float = 268
    line: float = 54
    lane: float = 84
    text: float = 46
    foot: float = 168
    numbers: float = 110
    rates: float = 170

    def height(self, sheet: ShiftSheet, lanes: Sequence[Lane]) -> float:
        return self.top(sheet) + sum(self.of(lane) for lane in lanes) + self.foot

    def top(self, sheet: ShiftSheet) -> float:
        """Where the lanes begin."""
        return self.head + self.line * len(self.lines(sheet))

    def lines(self, sheet: ShiftSheet) -> list[tuple[str, float]]:
        """The lines of the head with the size of their letters: the first one is larger."""
        return [
            (part, size)
            for number, line in enumerate(sheet.lines)
            for size in (44.0 if number == 0 else 36.0,)
            for part in wrapped(line, size, self.room)
        ]

    def of(self, lane: Lane) -> float:
        return self.bar(lane) + self.text * len(lane.blocks)

    def bar(self, lane: Lane) -> float:
        """The height without the words under it; a block is higher than the hours of the row."""
        return max(self.lane, BLOCK) if lane.blocks else self.lane

    def track(self, sheet: ShiftSheet) -> tuple[float, float]:
        """Where the line of time begins and ends."""
        return self.margin + self.numbers, self.width - self.margin - (self.rates if sheet.unit else 0)


def draw_shift(sheet: ShiftSheet, lanes: Sequence[Lane], rack: LaneSizes, more: str = "") -> Iterator[Piece]:
    """The head, these lanes, and the foot; ``more`` stands behind the last lane."""
    bottom = rack.height(sheet, lanes) - rack.foot
    yield from _head(sheet, rack)
    yield from _hours(sheet, rack, bottom)
    yield from _strip(sheet, rack)
    top = rack.top(sheet)
    for lane in lanes:
        yield from _lane(sheet, lane, rack, top)
        top += rack.of(lane)
    for number, line in enumerate(sheet.footer):
        yield PlacedText((rack.margin, bottom + 96 + 44 * number), line, 32, Ink.FAINT, rack.room)
    if more:
        at = (rack.width - rack.margin, bottom + 48)
        yield PlacedText(at, more, 32, Ink.TEXT, rack.room, bold=True, side=Side.RIGHT)


def _head(sheet: ShiftSheet, rack: LaneSizes) -> Iterator[Piece]:
    yield PlacedText((rack.margin, 96), sheet.title, 72, Ink.TEXT, rack.room, bold=True)
    for number, (line, size) in enumerate(rack.lines(sheet)):
        yield PlacedText((rack.margin, 162 + rack.line * number), line, size, Ink.TEXT, rack.room)


def _hours(sheet: ShiftSheet, rack: LaneSizes, bottom: float) -> Iterator[Piece]:
    start, end = rack.track(sheet)
    base = rack.top(sheet) - 90
    room = (end - start) / max(len(sheet.hours), 1)
    for hour in sheet.hours:
        x = start + hour.at * (end - start)
        yield box(x - 1.5, base + 12, x + 1.5, bottom, Ink.BAND)
        side = Side.RIGHT if hour.at > EDGE and not sheet.unit else Side.MIDDLE
        yield PlacedText((x, base), hour.label, 32, Ink.FAINT, room, side=side)
    if sheet.unit:
        yield PlacedText((rack.width - rack.margin, base), sheet.unit, 32, Ink.FAINT, rack.rates - 20, side=Side.RIGHT)


def _strip(sheet: ShiftSheet, rack: LaneSizes) -> Iterator[Piece]:
    """When somebody looked, and when hoppers were filled."""
    start, end = rack.track(sheet)
    middle = rack.top(sheet) - 44
    yield PlacedText((rack.margin, middle + 11), sheet.looks_name, 32, Ink.FAINT, rack.numbers - 16)
    for at in sheet.looks:
        yield Disc((start + at * (end - start), middle), 11, Ink.GOOD)
    for at in sheet.refills:
        x = start + at * (end - start)
        yield Outline(((x - 18, middle - 30), (x + 18, middle - 30), (x, middle - 4)), Ink.TEXT)


def _lane(sheet: ShiftSheet, lane: Lane, rack: LaneSizes, top: float) -> Iterator[Piece]:
    start, end = rack.track(sheet)
    middle = top + 36
    yield PlacedText((rack.margin + 42, middle + 22), str(lane.row), 60, Ink.TEXT, 90, bold=True, side=Side.MIDDLE)
    yield from _bar(sheet, start, end, middle)
    for block in lane.blocks:
        yield from _block(block, start, end, middle)
    if lane.rate:
        yield from _rate(lane, rack, middle)
    for number, block in enumerate(lane.blocks):
        base = top + rack.bar(lane) + rack.text * number + 18
        yield PlacedText((start, base), block.text, 36, Ink.OFF, rack.width - rack.margin - start)


def _bar(sheet: ShiftSheet, start: float, end: float, middle: float) -> Iterator[Piece]:
    """The hours of the row, thin where the planter stood."""
    edges = [0.0, *(edge for pause in sheet.pauses for edge in pause), 1.0]
    yield box(start, middle - 2, end, middle + 2, Ink.BAND)
    for since, until in zip(edges[::2], edges[1::2], strict=True):
        if until > since:
            yield box(start + since * (end - start), middle - 16, start + until * (end - start), middle + 16, Ink.BAND)


def _block(block: Block, start: float, end: float, middle: float) -> Iterator[Piece]:
    left, right = (start + at * (end - start) for at in block.span)
    right = max(right, left + 12)
    if block.stopped:
        yield box(left, middle - 26, right, middle + 26, Ink.OFF)
    else:
        yield Outline(corners(left + 3, middle - 24, right - 3, middle + 24), Ink.OFF, filled=False)


def _rate(lane: Lane, rack: LaneSizes, middle: float) -> Iterator[Piece]:
    right = rack.width - rack.margin
    ink = Ink.OFF if lane.named else Ink.TEXT
    yield PlacedText((right, middle + 16), lane.rate, 44, ink, rack.rates - 64, bold=lane.named, side=Side.RIGHT)
    if lane.named:
        x = right - rack.rates + 28
        yield Outline(((x + 24, middle - 20), (x, middle), (x + 24, middle + 20)), Ink.OFF)
