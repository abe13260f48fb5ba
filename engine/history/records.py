"""The calibration record: what was set, what each run gave, what was decided, when, and how it ended.

It is the fold of the facts of one dialog, as they were written: a verdict of years ago stays what it was then.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime

from engine.dialog.facts.events import Kept, Skipped
from engine.dialog.facts.role_values import as_word, by_role
from engine.dialog.facts.state import DialogState
from engine.dialog.schema.slot_roles import Phase, Role
from engine.history.store.journal import StoredTurn
from engine.history.store.segments import Ending, Segment, segments
from engine.messages import System
from engine.values import Rows, Value


@dataclass(frozen=True)
class TestRun:
    """One test run: per-row values, those of the whole machine as they stood in it (such as the time over the
    course), and when its last value was given. Values go by role, or by name where they have none."""

    number: int
    when: datetime
    rows: dict[str, Rows]
    machine: dict[str, Value]

    def of(self, row: int) -> dict[str, Value]:
        """Everything known of one row in this run."""
        return {name: values[row] for name, values in self.rows.items() if row in values}


@dataclass(frozen=True)
class Calibration:
    """One dialog from its start to its end. ``values`` are those of the whole machine by role, or by name where they
    have none, as they stood last.

    ``first`` and ``last`` are the numbers of its turns in the journal: they say what came after what, whatever the
    clocks of those who spoke showed. ``system`` are the units wanted last, ``left_out`` are the rows that it was
    done without at its end.
    """

    conversation: str
    dialog: str
    first: int
    last: int
    started_at: datetime
    ended_at: datetime
    ending: Ending
    values: dict[str, Value]
    runs: tuple[TestRun, ...]
    system: System
    left_out: tuple[int, ...] = ()

    @property
    def planter(self) -> str | None:
        """What the planter was called in it; None where it had no name."""
        return as_word(self.values.get(Role.PLANTER))

    @property
    def rows(self) -> tuple[int, ...]:
        """The rows that have any value or were left out, in order."""
        known = {row for run in self.runs for values in run.rows.values() for row in values}
        return tuple(sorted(known | set(self.left_out)))


def calibrations(turns: Iterable[StoredTurn], phase: Phase = Phase.CALIBRATION) -> tuple[Calibration, ...]:
    """The calibrations in the turns of one conversation, given from its first turn on, oldest first."""
    return tuple(map(_calibration, segments(turns, phase)))


def calibration_now(dialog: DialogState, turn: StoredTurn, system: System) -> Calibration:
    """The calibration that is open, as it stood after a turn; its runs are not told apart by when they were driven."""
    values = by_role(dialog.records, dialog.values)
    given = ({name: rows for name, rows in run.items() if rows} for run in (*dialog.runs, dialog.rows))
    return Calibration(
        conversation=turn.conversation,
        dialog=dialog.dialog,
        first=turn.seq,
        last=turn.seq,
        started_at=turn.said_at,
        ended_at=turn.said_at,
        ending=Ending.OPEN,
        values=values,
        system=system,
        left_out=dialog.left_out,
        runs=tuple(
            TestRun(number, turn.said_at, by_role(dialog.records, rows), values) for number, rows in enumerate(given, 1)
        ),
    )


def row_history(records: Iterable[Calibration], row: int) -> tuple[dict[str, Value], ...]:
    """What is known of a row in every run of these calibrations in which it had any value, oldest first."""
    ordered = sorted(records, key=lambda record: record.started_at)
    return tuple(values for record in ordered for run in record.runs if (values := run.of(row)))


def _calibration(found: Segment) -> Calibration:
    state = found.state
    return Calibration(
        conversation=found.last.conversation,
        dialog=state.dialog,
        first=found.first.seq,
        last=found.last.seq,
        started_at=found.first.said_at,
        ended_at=found.last.said_at,
        ending=found.ending,
        values=by_role(state.records, state.values),
        system=found.system,
        left_out=state.left_out,
        runs=tuple(_runs(found)),
    )


def _runs(found: Segment) -> Iterator[TestRun]:
    """Each run with when it last got a value, and the values of the machine as they stood in it then."""
    heard = {one.fact.run: one.turn.said_at for one in found.steps if isinstance(one.fact, Kept | Skipped)}
    records = found.state.records
    machine = {one.state.run: one.state.values for one in found.steps}
    started = found.first.said_at
    for number, rows in enumerate((*found.state.runs, found.state.rows), 1):
        started = heard.get(number, started)
        given = {name: values for name, values in rows.items() if values}
        whole = by_role(records, machine.get(number, found.state.values))
        yield TestRun(number, started, by_role(records, given), whole)
