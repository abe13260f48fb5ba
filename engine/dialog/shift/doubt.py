"""What is in doubt when a row stopped or fed wrong: from its last proof of feeding until now."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime

from engine.calculations.stopped import suspect_area
from engine.dialog.house import Key
from engine.dialog.shift.fact import Doubted, Proof
from engine.dialog.shift.log import Log
from engine.messages import Report
from engine.quantities import Measure, measure, quantity

OF_ROWS = ("area", "row_length", "short")
"""The parts of a stretch that lie under its rows alone."""


def scaled(stretch: Doubted, factor: float, *names: str) -> Doubted:
    """The stretch with these of its measures so many times as large."""
    parts = {name: getattr(stretch, name) for name in names}
    return stretch.model_copy(
        update={name: one.model_copy(update={"value": one.value * factor}) for name, one in parts.items()}
    )


def wrong_alike(troubled: Mapping[int, Report]) -> Iterator[tuple[Report, tuple[int, ...]]]:
    """What is wrong, each with the rows of which it was told, in their order."""
    for what in dict.fromkeys(troubled.values()):
        yield what, tuple(row for row, one in troubled.items() if one is what)


def doubt(
    log: Log, rows: tuple[int, ...], report: Report, proofs: Mapping[int, Proof], until: Proof | None = None
) -> None:
    """Put the doubtful stretch of these rows into the record and say it, each since its own last proof until now."""
    first = not log.shift.doubts
    groups: dict[tuple[Proof, datetime | None], list[int]] = {}
    for row in rows:
        groups.setdefault((proofs[row], log.shift.stretches.get(row)), []).append(row)
    for (proof, told), together in groups.items():
        instead = told if told != proof.at else None
        _stretch(log, (proof, _before_it_stood(log, until or log.mark)), tuple(together), report, instead)
    if first and log.shift.doubts:
        log.say(Key.SHIFT_NO_SECOND)


def _before_it_stood(log: Log, until: Proof) -> Proof:
    """What is found while the planter stands went wrong before it stood."""
    stood = log.shift.stood
    return until.model_copy(update={"at": min(until.at, stood)}) if stood and not log.shift.runs else until


def _stretch(
    log: Log, window: tuple[Proof, Proof], rows: tuple[int, ...], report: Report, instead: datetime | None
) -> None:
    since, until = window
    acres = until.planted.value - since.planted.value
    names = log.walk.wording.row_names(rows)
    if acres <= 0:
        log.say(Key.SHIFT_NO_DOUBT, rows=names)
        return
    everything = len(log.shift.rows)
    planted = quantity(acres, "acre")
    found = suspect_area(planted, everything, len(rows), log.plan.spacing, log.rate.quantity)
    field = log.shift.now.get("field")
    fact = Doubted(
        report=report,
        rows=rows,
        since=since.at,
        until=until.at,
        planted=Measure(value=acres, unit="acre"),
        area=measure(found.area, "acre"),
        row_length=measure(found.row_length, "ft"),
        short=measure(found.short, "lb"),
        field=field if isinstance(field, str) else None,
        instead=instead,
    )
    log.walk.add(fact)
    wording = log.walk.wording
    log.say(
        Key.SHIFT_DOUBT,
        rows=names,
        since=wording.clock(fact.since, fact.until),
        until=wording.clock(fact.until, fact.until),
        area=log.rough(fact.area),
        length=log.rough(fact.row_length),
        short=log.rough(fact.short),
        planted=log.rough(fact.planted),
    )
