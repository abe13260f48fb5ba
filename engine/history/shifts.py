"""The record of shifts: what was planted where and with what, who looked when, what is in doubt, the true rate.

It is the fold of the facts of one dialog, as they were written; a report that was taken back is not in it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from engine.dialog.events import Kept, Skipped, Withdrawn
from engine.dialog.roles import Phase
from engine.dialog.shift.course import latest
from engine.dialog.shift.doubt import OF_ROWS, scaled
from engine.dialog.shift.fact import Doubted, Noted, RateFound, ShiftStarted, TakenBack
from engine.dialog.shift.state import LOOKED, NAMED, Shift
from engine.history.balance import Balance, balance
from engine.history.journal import StoredTurn
from engine.history.put_away import PutAway, put_aways
from engine.history.segments import Ending, Segment, Step, segments
from engine.messages import Report, System
from engine.quantities import Measure
from engine.values import Value


@dataclass(frozen=True)
class Stretch:
    """A doubtful stretch as it was last told, and what was planted in it, as far as that has names."""

    found: Doubted
    fields: tuple[str, ...]
    products: tuple[str, ...]
    lots: tuple[str, ...]

    @property
    def of_row(self) -> Doubted:
        """What one of its rows has of it."""
        return scaled(self.found, 1 / len(self.found.rows), *OF_ROWS)


@dataclass(frozen=True)
class ShiftRecord:
    """One shift. ``ended_at`` is the last moment known of it, ``worked`` the time without pauses.

    ``fields``, ``products``, ``lots`` and ``operators`` are all that were named, in order; ``loaded`` is what each
    hopper held at the start, ``looks`` when somebody looked at them, ``reports`` everything told that still counts.
    ``first`` and ``last`` are the numbers of its turns, the last one that which ended it, or the newest; ``system`` are
    the units wanted last. ``put_away`` is what became of the rest after it, as it was told last.
    """

    conversation: str
    script: str
    started_at: datetime
    ended_at: datetime
    ending: Ending
    first: int
    last: int
    system: System
    rows: tuple[int, ...]
    values: dict[str, Value]
    fields: tuple[str, ...]
    products: tuple[str, ...]
    lots: tuple[str, ...]
    operators: tuple[str, ...]
    loaded: dict[int, Measure]
    planted: Measure
    worked: timedelta
    looks: tuple[datetime, ...]
    reports: tuple[Noted, ...]
    stretches: tuple[Stretch, ...]
    rates: tuple[RateFound, ...]
    balance: Balance
    put_away: PutAway | None = None

    @property
    def worked_hours(self) -> Measure:
        return Measure(value=self.worked.total_seconds() / 3600, unit="h")

    @property
    def in_doubt(self) -> Measure:
        """The area under the rows and stretches that are in doubt."""
        acres = sum((one.found.area.to("acre").value for one in self.stretches), 0.0)
        return Measure(value=acres, unit="acre")

    @property
    def refills(self) -> tuple[datetime, ...]:
        moments = [one.mark.at for one in self.reports if one.report is Report.REFILLED]
        return tuple(dict.fromkeys(moments))

    @property
    def pauses(self) -> tuple[tuple[datetime, datetime], ...]:
        """From when to when the planter stood, as it was last told; to the end where nothing was planted after it."""
        found: list[tuple[datetime, datetime]] = []
        since: datetime | None = None
        for one in self.reports:
            if one.until is not None and one.moment is not None:
                found.append((one.moment.at, one.until.at))
            elif one.report in (Report.PAUSED, Report.ENDED):
                since = min(since or one.mark.at, one.mark.at)
            elif one.report is Report.WENT_ON and since:
                found.append((since, one.mark.at))
                since = None
        return tuple(sorted((*found, (since, self.ended_at)) if since else found))


def shifts(turns: Iterable[StoredTurn]) -> tuple[ShiftRecord, ...]:
    """The shifts in the turns of one conversation, given from its first turn on, oldest first."""
    turns = tuple(turns)
    records = [_record(found, found.state.shift) for found in segments(turns, Phase.SHIFT) if found.state.shift]
    for one in put_aways(turns):
        place = max(number for number, record in enumerate(records) if record.last < one.first)
        records[place] = replace(records[place], put_away=one)
    return tuple(records)


def _record(found: Segment, shift: Shift) -> ShiftRecord:
    steps = list(_standing(found.steps))
    named = list(_named(steps))
    noted = [(one.turn.seq, one.fact) for one in steps if isinstance(one.fact, Noted)]
    looks = {seq: fact.mark.at for seq, fact in noted if fact.report in LOOKED}
    loaded = [one.fact.hoppers for one in steps if isinstance(one.fact, ShiftStarted)]
    stretches = tuple(_stretch(one, named) for one in latest(shift.doubts))
    return ShiftRecord(
        conversation=found.last.conversation,
        script=found.state.script,
        started_at=shift.started,
        ended_at=max([shift.mark.at, *(one.found.until for one in stretches)]),
        ending=found.ending,
        first=found.first.seq,
        last=found.last.seq,
        system=found.system,
        rows=shift.rows,
        values=found.state.values,
        fields=_all(named, "field"),
        products=_all(named, "product"),
        lots=_all(named, "lot"),
        operators=_all(named, "operator"),
        loaded=loaded[-1],
        planted=shift.mark.planted,
        worked=timedelta(seconds=shift.mark.worked),
        looks=tuple(looks.values()),
        reports=tuple(fact for _, fact in noted),
        stretches=stretches,
        rates=shift.rates,
        balance=balance(shift.rates, [fact for _, fact in noted], shift.mark.planted),
    )


def _standing(steps: Iterable[Step]) -> Iterator[Step]:
    """The steps that still count: what was taken back is gone, with all that followed from it."""
    kept: list[Step] = []
    for step in steps:
        if isinstance(step.fact, TakenBack | Withdrawn):
            while kept and not isinstance(kept.pop().fact, Kept | Skipped | Noted):
                pass
        else:
            kept.append(step)
    yield from kept


@dataclass(frozen=True)
class _Names:
    """What things were called from a moment on; a change without a name leaves a thing without one."""

    since: datetime
    names: dict[str, str]


def _named(steps: Iterable[Step]) -> Iterator[_Names]:
    nameless: set[str] = set()
    for one in steps:
        if not isinstance(one.fact, Noted | ShiftStarted):
            continue
        changed = NAMED.get(one.fact.report) if isinstance(one.fact, Noted) else None
        if changed and isinstance(one.fact, Noted):
            nameless = nameless - {changed} if one.fact.value else nameless | {changed}
        now = one.state.shift.now if one.state.shift else {}
        names = {name: value for name, value in now.items() if isinstance(value, str) and name not in nameless}
        yield _Names(one.fact.mark.at if isinstance(one.fact, Noted) else one.fact.at, names)


def _all(named: Iterable[_Names], name: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(one.names[name] for one in named if name in one.names))


def _stretch(found: Doubted, named: Sequence[_Names]) -> Stretch:
    """A stretch with all that was planted from its first moment to its last."""
    before = [one for one in named if one.since <= found.since][-1:]
    during = [*before, *(one for one in named if found.since < one.since < found.until)]
    return Stretch(found, _all(during, "field"), _all(during, "product"), _all(during, "lot"))
