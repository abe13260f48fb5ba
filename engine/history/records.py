"""The calibration record: what was set, what each run gave, what was decided, when, and how it ended.

It is the fold of the facts of one dialog, as they were written: a verdict of years ago stays what it was then.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime
from enum import StrEnum

from engine.dialog.events import Cancelled, Fact, Finished, Kept, Skipped, Started, read_fact
from engine.dialog.state import ConversationState, DialogState, apply
from engine.history.journal import StoredTurn
from engine.values import Rows, Value

TEST_RUN = "test-run"


class Ending(StrEnum):
    """``open``: still under way, or given up without a word."""

    FINISHED = "finished"
    CANCELLED = "cancelled"
    OPEN = "open"


@dataclass(frozen=True)
class Run:
    """One test run: per-row values by name, those of the whole machine as they stood in it (such as the time over the
    course), and when its last value was given."""

    number: int
    when: datetime
    rows: dict[str, Rows]
    machine: dict[str, Value]

    def of(self, row: int) -> dict[str, Value]:
        """Everything known of one row in this run."""
        return {name: values[row] for name, values in self.rows.items() if row in values}


@dataclass(frozen=True)
class Calibration:
    """One dialog from its start to its end. ``values`` are those of the whole machine, as they stood last."""

    conversation: str
    dialog: str
    script: str
    started_at: datetime
    ended_at: datetime
    ending: Ending
    values: dict[str, Value]
    runs: tuple[Run, ...]

    @property
    def rows(self) -> tuple[int, ...]:
        """The rows that have any value, in order."""
        return tuple(sorted({row for run in self.runs for values in run.rows.values() for row in values}))


def calibrations(turns: Iterable[StoredTurn], dialog: str = TEST_RUN) -> tuple[Calibration, ...]:
    """The calibrations in the turns of one conversation, given from its first turn on, oldest first."""
    return tuple(found for found in _segments(turns) if found.dialog == dialog)


@dataclass(frozen=True)
class _Open:
    """A dialog under way: when it began, and for each run when it last got a value and the machine's values then."""

    turn: StoredTurn
    heard_at: dict[int, datetime] = field(default_factory=dict)
    machine: dict[int, dict[str, Value]] = field(default_factory=dict)

    def after(self, fact: Fact, turn: StoredTurn, state: DialogState) -> _Open:
        heard = {fact.run: turn.said_at} if isinstance(fact, Kept | Skipped) else {}
        machine = {**self.machine, state.run: state.values}
        return replace(self, heard_at={**self.heard_at, **heard}, machine=machine)

    def close(self, state: DialogState, turn: StoredTurn, ending: Ending) -> Calibration:
        return Calibration(
            conversation=turn.conversation,
            dialog=state.dialog,
            script=state.script,
            started_at=self.turn.said_at,
            ended_at=turn.said_at,
            ending=ending,
            values=state.values,
            runs=tuple(self._runs(state)),
        )

    def _runs(self, state: DialogState) -> Iterator[Run]:
        started = self.turn.said_at
        for number, rows in enumerate((*state.runs, state.rows), 1):
            started = self.heard_at.get(number, started)
            given = {name: values for name, values in rows.items() if values}
            yield Run(number, started, given, self.machine.get(number, state.values))


def _segments(turns: Iterable[StoredTurn]) -> Iterator[Calibration]:
    state: ConversationState | None = None
    under_way: _Open | None = None
    for turn in turns:
        last = turn
        for body in turn.facts:
            fact = read_fact(body)
            state = state or ConversationState.model_validate({"language": turn.language})
            before, state = state.dialog, apply(state, fact)
            if under_way and before and isinstance(fact, Started | Finished | Cancelled):
                yield under_way.close(before, turn, _ending(fact))
            if isinstance(fact, Started):
                under_way = _Open(turn)
            if under_way and state.dialog:
                under_way = under_way.after(fact, turn, state.dialog)
    if under_way and state and state.dialog:
        yield under_way.close(state.dialog, last, Ending.OPEN)


def _ending(fact: Fact) -> Ending:
    return Ending.FINISHED if isinstance(fact, Finished) else Ending.CANCELLED
