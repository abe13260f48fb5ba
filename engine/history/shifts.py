"""The record of shifts: what was planted where and with what, who looked when, what is in doubt, the true rate.

It is the fold of the facts of one dialog, as they were written; a report that was taken back is not in it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from engine.dialog.facts.events import Kept, Skipped, TakenBack, Withdrawn
from engine.dialog.facts.role_values import as_word
from engine.dialog.schema.slot_roles import Phase, Role
from engine.history.balance import Balance, balance
from engine.history.put_away import StorageRecord, put_aways
from engine.history.store.journal import StoredTurn
from engine.history.store.segments import Ending, FactStep, Segment, segments
from engine.messages import Report, System
from engine.quantities import Measure
from engine.shift.record.shift_facts import Doubted, Noted, OverLabel, RateFound, ShiftStarted
from engine.shift.record.shift_state import LOOKED, NAMED, ShiftState
from engine.shift.record.timeline import Pause
from engine.shift.reports.suspect_rows import OF_ROWS, latest, scaled

_LEVELS = frozenset({Report.LEFT, Report.LEVEL})
"""Reports of what hoppers hold."""


@dataclass(frozen=True)
class SuspectStretch:
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

    ``fields``, ``products``, ``lots`` and ``operators`` are all that were named, in order; ``looks`` is when
    somebody looked at the hoppers, ``seen_at`` when anything was last told of them, levels too, ``reports`` everything
    told that still counts.
    ``first`` and ``last`` are the numbers of its turns, the last one that which ended it, or the newest; ``system`` are
    the units wanted last. ``unproved`` is the most that the planter did since a row in use was last known to feed,
    ``unproved_since``, where that is not told to be in doubt; ``over_label`` are rates over the label's highest,
    ``decided_by`` the licensed applicators who let planting go on. ``put_away`` is what became of the rest after it,
    as it was told last. ``state`` is where it stood last.
    """

    conversation: str
    started_at: datetime
    ended_at: datetime
    ending: Ending
    first: int
    last: int
    system: System
    rows: tuple[int, ...]
    fields: tuple[str, ...]
    products: tuple[str, ...]
    lots: tuple[str, ...]
    operators: tuple[str, ...]
    planted: Measure
    worked: timedelta
    looks: tuple[datetime, ...]
    seen_at: datetime
    reports: tuple[Noted, ...]
    stretches: tuple[SuspectStretch, ...]
    unproved: Measure
    unproved_since: datetime
    stood: tuple[Pause, ...]
    rates: tuple[RateFound, ...]
    over_label: tuple[OverLabel, ...]
    decided_by: tuple[str, ...]
    balance: Balance
    state: ShiftState
    put_away: StorageRecord | None = None
    planter: str | None = None
    """What the planter was called in it; None where it had no name."""

    @property
    def worked_hours(self) -> Measure:
        return Measure(value=self.worked.total_seconds() / 3600, unit="h")

    @property
    def in_doubt(self) -> Measure:
        """The area under the rows and stretches that are in doubt."""
        acres = sum((one.found.area.to("acre").value for one in self.stretches), 0.0)
        return Measure(value=acres, unit="acre")

    @property
    def unlooked(self) -> timedelta:
        """Time since anything was last told of the hoppers, or since the beginning."""
        return self.ended_at - self.seen_at

    @property
    def refills(self) -> tuple[datetime, ...]:
        moments = [one.when for one in self.reports if one.report is Report.REFILLED]
        return tuple(dict.fromkeys(moments))

    @property
    def pauses(self) -> tuple[tuple[datetime, datetime], ...]:
        """From when to when the planter stood, as it was last told; to the end where nothing was planted after it."""
        return tuple((one.since, one.until or self.ended_at) for one in self.stood)


def shifts(turns: Iterable[StoredTurn]) -> tuple[ShiftRecord, ...]:
    """The shifts in the turns of one conversation, given from its first turn on, oldest first."""
    turns = tuple(turns)
    records = [
        _record(found, found.state.activity)
        for found in segments(turns, Phase.SHIFT)
        if isinstance(found.state.activity, ShiftState)
    ]
    for one in put_aways(turns):
        place = max(number for number, record in enumerate(records) if record.last < one.first)
        records[place] = replace(records[place], put_away=one)
    return tuple(records)


def _record(found: Segment, shift: ShiftState) -> ShiftRecord:
    steps = list(_standing(found.steps))
    named = list(_named(steps))
    noted = [(one.turn.seq, one.fact) for one in steps if isinstance(one.fact, Noted)]
    looks = {one.turn.seq: one.fact.at for one in steps if isinstance(one.fact, Noted) and _is_look(one, one.fact)}
    timeline = shift.timeline
    stretches = tuple(_stretch(one, named) for one in latest(shift.doubts, timeline))
    return ShiftRecord(
        conversation=found.last.conversation,
        started_at=shift.started,
        ended_at=max([shift.last, *(one.found.until for one in stretches)]),
        ending=found.ending,
        first=found.first.seq,
        last=found.last.seq,
        system=found.system,
        rows=shift.rows,
        planter=as_word(found.state.of(Role.PLANTER)),
        fields=_all(named, "field"),
        products=_all(named, "product"),
        lots=_all(named, "lot"),
        operators=_all(named, "operator"),
        planted=timeline.planted(shift.last),
        worked=timeline.worked(shift.last),
        looks=tuple(looks.values()),
        seen_at=max((fact.at for _, fact in noted if fact.report in LOOKED), default=shift.started),
        reports=tuple(fact for _, fact in noted),
        stretches=stretches,
        unproved=_unproved(shift),
        unproved_since=_unproved_since(shift),
        stood=shift.pauses,
        rates=shift.rates,
        over_label=tuple(_over_label(steps)),
        decided_by=tuple(str(fact.value) for _, fact in noted if fact.report is Report.DECIDED),
        balance=balance(shift),
        state=shift,
    )


def _is_look(step: FactStep, noted: Noted) -> bool:
    """Whether somebody went and looked: what hoppers hold may be told between looks too, so it is one only where a look
    was due by then."""
    if noted.report not in _LEVELS:
        return noted.report in LOOKED
    shift = step.state.activity
    due = shift.look.due if isinstance(shift, ShiftState) and shift.look else None
    return due is not None and due <= noted.at


def _over_label(steps: Iterable[FactStep]) -> Iterator[OverLabel]:
    """Rates over the label, and the season total that kept it from planting at its start."""
    for one in steps:
        if isinstance(one.fact, OverLabel):
            yield one.fact
        elif isinstance(one.fact, ShiftStarted) and one.fact.over is not None and one.fact.over.season:
            yield one.fact.over


def _unproved_since(shift: ShiftState) -> datetime:
    """Since when nothing shows that each row fed, of those that are not in doubt."""
    return min((at for row, at in shift.proofs.items() if row not in shift.troubled), default=shift.last)


def _unproved(shift: ShiftState) -> Measure:
    """What was planted since then."""
    return shift.timeline.between(_unproved_since(shift), shift.last)


def _standing(steps: Iterable[FactStep]) -> Iterator[FactStep]:
    """The steps that still count: what was taken back is gone, with all that followed from it."""
    kept: list[FactStep] = []
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


def _named(steps: Iterable[FactStep]) -> Iterator[_Names]:
    nameless: set[str] = set()
    for one in steps:
        if not isinstance(one.fact, Noted | ShiftStarted):
            continue
        changed = NAMED.get(one.fact.report) if isinstance(one.fact, Noted) else None
        if changed and isinstance(one.fact, Noted):
            nameless = nameless - {changed} if one.fact.value else nameless | {changed}
        now = one.state.activity.now if isinstance(one.state.activity, ShiftState) else {}
        names = {name: value for name, value in now.items() if isinstance(value, str) and name not in nameless}
        yield _Names(one.fact.when if isinstance(one.fact, Noted) else one.fact.at, names)


def _all(named: Iterable[_Names], name: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(one.names[name] for one in named if name in one.names))


def _stretch(found: Doubted, named: Sequence[_Names]) -> SuspectStretch:
    """A stretch with all that was planted from its first moment to its last."""
    before = [one for one in named if one.since <= found.since][-1:]
    during = [*before, *(one for one in named if found.since < one.since < found.until)]
    return SuspectStretch(found, _all(during, "field"), _all(during, "product"), _all(during, "lot"))
