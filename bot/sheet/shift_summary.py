"""What the summary of a shift shows: its hours, looks and pauses, and per row what is in doubt and its true rate."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta, tzinfo

from bot.record.shift_words import RecordReport
from bot.record.texts import RecordKey
from bot.sheet.wall import on_wall
from engine.history.shifts import ShiftRecord, SuspectStretch
from engine.messages import Message, Report, System
from engine.quantities import Measure

STEPS = (5, 10, 15, 30, 60, 120, 180, 240, 360, 720, 1440, 2880, 10080)
MOST_HOURS = 6
RATE_UNIT = {System.US: "lb/acre", System.METRIC: "kg/ha"}
Span = tuple[float, float]
"""From where to where on the line of time, which runs from 0 to 1."""


class Hour(Message):
    """A time of day at its place on the line of time."""

    at: float
    label: str


class Block(Message):
    """A doubtful stretch on the line of a row; ``stopped`` or else its hopper stayed high."""

    span: Span
    stopped: bool
    text: str


class Lane(Message):
    """One row: its doubtful stretches, its true rate, and whether that is named as too little."""

    row: int
    blocks: tuple[Block, ...] = ()
    rate: str = ""
    named: bool = False


class ShiftSheet(Message):
    """One shift. ``unit`` is that of the rates, empty where none is known; ``looks_name`` and ``footer`` are words of
    the drawing itself. ``others`` has {count} in it, ``page_of`` {page} and {pages}; ``when`` it ended, ``author`` are
    those who worked."""

    title: str
    lines: tuple[str, ...]
    hours: tuple[Hour, ...]
    looks: tuple[float, ...]
    refills: tuple[float, ...]
    pauses: tuple[Span, ...]
    lanes: tuple[Lane, ...]
    unit: str
    looks_name: str
    footer: tuple[str, ...]
    others: str = "{count}"
    page_of: str = "{page}/{pages}"
    when: datetime | None = None
    author: str = ""


def shift_sheet(record: ShiftRecord, told: RecordReport, about: Sequence[str | None] = ()) -> ShiftSheet:
    """The sheet of a shift; ``about`` is what else is known of it: planter, who spoke."""
    told = on_wall(told)
    time = _Line(record)
    rates = record.balance.row_rates
    named = {row for one in record.rates for row in one.odd}
    return ShiftSheet(
        title=told.say(RecordKey.SHEET_TITLE, date=told.day(record.started_at)),
        lines=tuple(_lines(record, told, about)),
        hours=tuple(Hour(at=time.at(one), label=told.full_hour(one)) for one in _hours(record, told.zone)),
        looks=tuple(time.at(one) for one in record.looks),
        refills=tuple(time.at(one) for one in record.refills),
        pauses=tuple((time.at(since), time.at(until)) for since, until in record.pauses),
        lanes=tuple(
            Lane(row=row, blocks=_blocks(record, row, time, told), rate=_rate(rates.get(row), told), named=row in named)
            for row in record.rows
        ),
        unit=told.wording.unit(RATE_UNIT[told.system]) if rates else "",
        looks_name=told.say(RecordKey.SHEET_LOOKS),
        footer=(told.say(RecordKey.SHEET_FOOTER), told.say(RecordKey.SHEET_LEGEND)),
        others=told.say(RecordKey.SHEET_OTHERS, count="{count}"),
        page_of=told.say(RecordKey.SHEET_PAGE, page="{page}", pages="{pages}"),
        when=record.ended_at.astimezone(told.zone),
        author=", ".join(record.operators),
    )


class _Line:
    """Where moments lie between the start of a shift and its end."""

    def __init__(self, record: ShiftRecord) -> None:
        self._start = record.started_at
        self._length = max((record.ended_at - record.started_at).total_seconds(), 1.0)

    def at(self, moment: datetime) -> float:
        return min(max((moment - self._start).total_seconds() / self._length, 0.0), 1.0)


def _lines(record: ShiftRecord, told: RecordReport, about: Sequence[str | None]) -> Iterator[str]:
    planted = told.say(
        RecordKey.SHEET_PLANTED,
        area=told.rough(record.planted),
        hours=told.wording.hours(record.worked.total_seconds()),
        since=told.hour(record.started_at),
        until=told.hour(record.ended_at),
    )
    yield planted
    around = [*filter(None, about), *record.fields, *told.around(record)]
    if around:
        yield " · ".join(around)
    yield from told.rate_of(record)
    yield from told.label(record)
    yield told.doubt(record)


def _hours(record: ShiftRecord, zone: tzinfo) -> Iterator[datetime]:
    """Round hours of the day in a shift, as many as can be read."""
    minutes = (record.ended_at - record.started_at).total_seconds() / 60
    step = next((one for one in STEPS if minutes / one <= MOST_HOURS), STEPS[-1])
    five = STEPS[0] * 60
    first = math.ceil(record.started_at.timestamp() / five) * five
    moment = datetime.fromtimestamp(first, UTC)
    while moment <= record.ended_at:
        local = moment.astimezone(zone)
        since_midnight = local.hour * 60 + local.minute
        if (since_midnight + local.toordinal() * 1440) % step == 0:
            yield moment
        moment += timedelta(seconds=five)


def _blocks(record: ShiftRecord, row: int, time: _Line, told: RecordReport) -> tuple[Block, ...]:
    return tuple(
        Block(
            span=(time.at(one.found.since), time.at(one.found.until)),
            stopped=one.found.report is Report.STOPPED,
            text=_span(one, told),
        )
        for one in record.stretches
        if row in one.found.rows
    )


def _span(one: SuspectStretch, told: RecordReport) -> str:
    part = one.of_row
    return told.say(
        RecordKey.SHEET_SPAN,
        since=told.hour(part.since),
        until=told.hour(part.until),
        area=told.rough(part.area),
        short=told.rough(part.short),
    )


def _rate(rate: Measure | None, told: RecordReport) -> str:
    return "" if rate is None else f"{rate.to(RATE_UNIT[told.system]).value:.1f}"
