"""What the picture of the years of a row shows, or of all rows: what each needs against the machine by season."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from bot.record.shift_words import RecordReport
from bot.record.texts import RecordKey
from bot.sheet.wall import WallReport, on_wall
from engine.calculations.hoppers.wear import Drift, Wear
from engine.dialog.facts.yearbook import PastCalibration, Repair, Yearbook
from engine.dialog.questions.year_answers import around, how, is_marked, wear_told
from engine.messages import Message

APART = 0.14
"""How far calibrations of one season stand from each other, as a share of a season."""
LEAST_REACH = 5
"""Percent that the scale of a lane reaches to either side at least, and in steps of which it does."""
WORDS: Mapping[Drift, RecordKey] = {
    Drift.RISING: RecordKey.YEARS_RISING,
    Drift.FALLING: RecordKey.YEARS_FALLING,
    Drift.STEADY: RecordKey.YEARS_STEADY,
    Drift.TOO_LITTLE_DATA: RecordKey.YEARS_TOO_LITTLE,
}


class YearPoint(Message):
    """What a row needed in one calibration, in percent against the machine, at its place from 0 to 1; ``counts`` where
    it is part of the trend."""

    at: float
    need: float
    counts: bool


class YearLane(Message):
    """One row over the years; ``repairs`` are places, ``trend`` is the line from its first to its last season."""

    row: int
    points: tuple[YearPoint, ...]
    repairs: tuple[float, ...] = ()
    trend: tuple[tuple[float, float], tuple[float, float]] | None = None
    drift: Drift
    word: str


class Season(Message):
    """A year at its place on the line of seasons."""

    at: float
    label: str


class YearSheet(Message):
    """The years of one row, with each calibration in ``table`` (date, how far off, with what), or of all rows.

    A lane shows from ``low`` to ``high`` percent.
    """

    title: str
    lines: tuple[str, ...]
    axis: str
    seasons: tuple[Season, ...]
    lanes: tuple[YearLane, ...]
    low: float
    high: float
    table: tuple[tuple[str, str, str], ...] = ()
    legend: tuple[tuple[str, str], ...]
    when: datetime | None = None
    author: str = ""


def year_sheet(
    book: Yearbook, told: RecordReport, row: int | None = None, about: Sequence[str | None] = ()
) -> YearSheet:
    """The sheet of one row, of all where none is named; ``about`` is what else is known, such as the planter."""
    rows = book.rows() if row is None else (row,)
    time, found = _Line(book), book.wear()
    lanes = tuple(_lane(book, told, time, one, found) for one in rows)
    needs = [point.need for lane in lanes for point in lane.points]
    wear = wear_told(told.wording, book, found, row) if found and row is not None else []
    return YearSheet(
        title=told.say(RecordKey.YEARS_TITLE_ALL) if row is None else told.say(RecordKey.YEARS_TITLE, row=str(row)),
        lines=(*filter(None, about), *map(str, wear)),
        axis=told.say(RecordKey.YEARS_AXIS),
        seasons=time.seasons,
        lanes=lanes,
        low=-_reach(-min(needs, default=0)),
        high=_reach(max(needs, default=0)),
        table=tuple(_table(book, on_wall(told), row)) if row is not None else (),
        legend=tuple(_legend(lanes, told)),
        when=max((one.at.astimezone(told.zone) for one in time.dated if one.at), default=None),
    )


def _reach(most: float) -> float:
    return LEAST_REACH * max(1, math.ceil(most * 1.1 / LEAST_REACH))


@dataclass(frozen=True)
class _Line:
    """Where calibrations stand on the line of seasons, and repairs between them."""

    book: Yearbook

    @property
    def dated(self) -> list[PastCalibration]:
        return [one for one in self.book.past if one.at is not None]

    @property
    def _bounds(self) -> tuple[int, int]:
        years = [self.book.season(one.at) for one in self.dated if one.at]
        return min(years, default=0), max(years, default=0)

    @property
    def seasons(self) -> tuple[Season, ...]:
        first, last = self._bounds
        step = max(1, -(-(last - first + 1) // 10))
        return tuple(Season(at=self.middle(year), label=str(year)) for year in range(last, first - 1, -step))

    def middle(self, season: int) -> float:
        first, last = self._bounds
        return (season - first + 0.5) / (last - first + 1)

    def at(self, one: PastCalibration) -> float:
        assert one.at is not None
        season = self.book.season(one.at)
        same = [other for other in self.dated if other.at and self.book.season(other.at) == season]
        spread = min(APART, 0.8 / len(same))
        first, last = self._bounds
        return self.middle(season) + (same.index(one) - (len(same) - 1) / 2) * spread / (last - first + 1)

    def between(self, repair: Repair) -> float:
        """Between the calibration before a repair and the one after it."""
        before = [self.at(one) for one in self.dated if one.at and one.at < repair.at]
        after = [self.at(one) for one in self.dated if one.at and one.at >= repair.at]
        first, last = self._bounds
        room = 0.4 / (last - first + 1)
        low = before[-1] if before else after[0] - room
        high = after[0] if after else min(low + room, 1.0)
        return (low + high) / 2


def signed(percent: float) -> str:
    """Whole percents with their sign, the minus as long as the plus; nothing has none."""
    return f"{percent:+.0f} %".replace("-", "−").replace("+0 ", "0 ").replace("−0 ", "0 ")


def _lane(book: Yearbook, told: RecordReport, time: _Line, row: int, found: Wear | None) -> YearLane:
    drift = found.drifts.get(row, Drift.TOO_LITTLE_DATA) if found else Drift.TOO_LITTLE_DATA
    points = tuple(
        YearPoint(at=time.at(one), need=math.expm1(need) * 100, counts=book.counts_for(row, one))
        for one in time.dated
        if (need := book.needs(one).get(row)) is not None
    )
    word = told.say(WORDS[drift])
    if found and drift in (Drift.RISING, Drift.FALLING) and not is_marked(book):
        word = told.say(RecordKey.YEARS_DRIFT, change=signed(found.change[row].to("percent").magnitude))
    return YearLane(
        row=row,
        points=points,
        repairs=tuple(time.between(one) for one in book.repairs_of(row)) if time.dated else (),
        trend=_trend(book, time, row, found),
        drift=drift,
        word=word,
    )


def _trend(
    book: Yearbook, time: _Line, row: int, found: Wear | None
) -> tuple[tuple[float, float], tuple[float, float]] | None:
    """The least-squares line through the seasons of a row, in percent; None where it has no figures."""
    if found is None or found.drifts.get(row, Drift.TOO_LITTLE_DATA) is Drift.TOO_LITTLE_DATA:
        return None
    needs = book.by_season()[row]
    slope = math.log1p(found.change[row].to("dimensionless").magnitude)
    middle, level = sum(needs) / len(needs), sum(needs.values()) / len(needs)
    first, last = (
        (time.middle(season), math.expm1(level + slope * (season - middle)) * 100)
        for season in (min(needs), max(needs))
    )
    return first, last


def _table(book: Yearbook, told: WallReport, row: int) -> Iterator[tuple[str, str, str]]:
    lines = [
        (one.at, told.day(one.at), how(told.wording, one), ", ".join(around(told.wording, one))) for one in book.of(row)
    ]
    lines += [
        (one.at, told.day(one.at), told.say(RecordKey.YEARS_REPAIRED), f"“{one.said}”") for one in book.repairs_of(row)
    ]
    for _, *cells in sorted(lines, key=lambda line: line[0], reverse=True):
        date, off, with_ = cells
        yield date, off, with_


def _legend(lanes: Sequence[YearLane], told: RecordReport) -> Iterator[tuple[str, str]]:
    points = [point for lane in lanes for point in lane.points]
    if any(point.counts for point in points):
        yield "counts", told.say(RecordKey.YEARS_COUNTS)
    if not all(point.counts for point in points):
        yield "apart", told.say(RecordKey.YEARS_APART)
    if any(lane.repairs for lane in lanes):
        yield "repaired", told.say(RecordKey.YEARS_REPAIRED)
    if any(lane.trend for lane in lanes):
        yield "trend", told.say(RecordKey.YEARS_TREND)
