"""What is in doubt when a row stopped or fed wrong: from its last proof of feeding until it was found."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime

from engine.calculations.hoppers.stopped import suspect_area
from engine.dialog.facts.role_values import as_word
from engine.dialog.reply.system_texts import SystemKey
from engine.messages import Report
from engine.quantities import Measure, measure
from engine.shift.record.shift_facts import Doubted
from engine.shift.record.timeline import Timeline
from engine.shift.turn import ShiftTurn

OF_ROWS = ("area", "row_length", "short")
"""The parts of a stretch that lie under its rows alone."""


def scaled(stretch: Doubted, factor: float, *names: str) -> Doubted:
    """The stretch with these of its measures so many times as large."""
    parts: dict[str, Measure] = {name: getattr(stretch, name) for name in names}
    return stretch.model_copy(
        update={name: one.model_copy(update={"value": one.value * factor}) for name, one in parts.items()}
    )


def wrong_alike(troubled: Mapping[int, Report]) -> Iterator[tuple[Report, tuple[int, ...]]]:
    """What is wrong, each with the rows of which it was told, in their order."""
    for what in dict.fromkeys(troubled.values()):
        yield what, tuple(row for row, one in troubled.items() if one is what)


def doubt(
    turn: ShiftTurn, rows: tuple[int, ...], report: Report, proofs: Mapping[int, datetime], until: datetime
) -> None:
    """Put the doubtful stretch of these rows into the record and say it, each since its own last proof."""
    first = not turn.shift.doubts
    groups: dict[tuple[datetime, datetime | None], list[int]] = {}
    for row in rows:
        groups.setdefault((turn.timeline.settled(proofs[row]), turn.shift.stretches.get(row)), []).append(row)
    for (since, before), together in groups.items():
        _stretch(turn, (since, turn.timeline.settled(until)), tuple(together), report, before)
    if first and turn.shift.doubts:
        turn.say(SystemKey.SHIFT_NO_SECOND)


def _stretch(
    turn: ShiftTurn, window: tuple[datetime, datetime], rows: tuple[int, ...], report: Report, before: datetime | None
) -> None:
    since, until = window
    planted = turn.timeline.between(since, until)
    if planted.value <= 0:
        turn.say(SystemKey.SHIFT_NO_DOUBT, rows=turn.builder.wording.row_names(rows))
        return
    everything = len(turn.shift.rows)
    found = suspect_area(planted.quantity, everything, len(rows), turn.plan.spacing, turn.rate.quantity)
    fact = Doubted(
        report=report,
        rows=rows,
        since=since,
        until=until,
        planted=planted,
        area=measure(found.area, "acre"),
        row_length=measure(found.row_length, "ft"),
        short=measure(found.short, "lb"),
        field=as_word(turn.shift.now.get("field")),
        instead=before if before != since else None,
    )
    turn.builder.add(fact)
    say(turn, fact)


def say(turn: ShiftTurn, one: Doubted) -> None:
    """A stretch in one sentence."""
    turn.say(
        SystemKey.SHIFT_DOUBT,
        rows=turn.builder.wording.row_names(one.rows),
        since=turn.clock(one.since, one.until),
        until=turn.clock(one.until, one.until),
        area=turn.rough(one.area),
        length=turn.rough(one.row_length),
        short=turn.rough(one.short),
        planted=turn.rough(one.planted),
    )


def as_known(stretch: Doubted, timeline: Timeline) -> Doubted:
    """The stretch as the timeline has it now: what was planted from its beginning to its end."""
    since, until = timeline.settled(stretch.since), timeline.settled(stretch.until)
    planted, told = timeline.between(since, until), stretch.planted.to("acre").value
    found = scaled(stretch, planted.to("acre").value / told if told > 0 else 0.0, *OF_ROWS)
    return found.model_copy(update={"since": since, "until": until, "planted": planted})


def latest(doubts: Sequence[Doubted], timeline: Timeline) -> list[Doubted]:
    """Each doubtful stretch as it was last told and is known now, whatever rows were told together before.

    One that lies within another of its row is that one, and one in which nothing was planted is none.
    """
    last: dict[tuple[int, datetime | None], Doubted] = {}
    for one in doubts:
        for row in one.rows:
            last.pop((row, one.instead), None)
            last[row, one.since] = one
    found: dict[int, list[int]] = {}
    for (row, _), one in last.items():
        others = (other for (same, _), other in last.items() if same == row and other is not one)
        if not any(other.since <= one.since and one.until <= other.until for other in others):
            found.setdefault(id(one), []).append(row)
    known = [_of_rows(as_known(one, timeline), tuple(found[id(one)])) for one in doubts if id(one) in found]
    return [one for one in known if one.planted.value > 0]


def _of_rows(stretch: Doubted, rows: tuple[int, ...]) -> Doubted:
    return scaled(stretch, len(rows) / len(stretch.rows), *OF_ROWS).model_copy(update={"rows": rows})
