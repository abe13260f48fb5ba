"""The history of single rows: every word that touched a row, and how it fed from one calibration to the next."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row, Select, select

from engine.database import Database
from engine.dialog.facts.events import Fact, Kept, Reopened, Skipped, Withdrawn
from engine.errors import UnreadableFact
from engine.facts import read_fact
from engine.history.records import Calibration
from engine.history.store import tables
from engine.values import Value

Touch = Kept | Skipped | Withdrawn | Reopened
"""A fact that is about one slot, and mostly about one row of it."""


@dataclass(frozen=True)
class RowEvent:
    """One fact about a row, with when and where it was said; what was corrected or taken back stays in sight."""

    conversation: str
    seq: int
    said_at: datetime
    fact: Touch


@dataclass(frozen=True)
class RowRun:
    """One row in one test run: its values, with those of the whole machine in that run beside them, all by role, or by
    name where they have none."""

    conversation: str
    started_at: datetime
    when: datetime
    run: int
    row: int
    values: dict[str, Value]
    machine: dict[str, Value]


@dataclass(frozen=True)
class RowLog:
    """What was said about rows, read straight from the facts."""

    database: Database

    def events(self, row: int, conversations: Sequence[str], slot: str | None = None) -> tuple[RowEvent, ...]:
        """Everything kept, skipped, taken back or reopened for a row in these conversations, oldest first."""
        with self.database.read() as connection:
            found = connection.execute(_about(row, conversations, slot)).all()
        facts = ((line, _fact(line)) for line in found)
        return tuple(
            RowEvent(line.conversation, line.seq, line.said_at, fact) for line, fact in facts if isinstance(fact, Touch)
        )


def row_history(
    records: Iterable[Calibration], row: int, machine: dict[str, Value] | None = None
) -> tuple[RowRun, ...]:
    """How a row fed in every run of these calibrations, oldest first.

    ``machine`` keeps only calibrations in which these values stood, such as the planter or the product.
    """
    wanted = machine or {}
    fitting = [one for one in records if all(one.values.get(name) == value for name, value in wanted.items())]
    return tuple(
        RowRun(record.conversation, record.started_at, run.when, run.number, row, run.of(row), run.machine)
        for record in sorted(fitting, key=lambda record: record.started_at)
        for run in record.runs
        if run.of(row)
    )


def _fact(line: Row[Any]) -> Fact:
    try:
        return read_fact(line.body)
    except UnreadableFact as error:
        raise error.at(line.conversation, line.seq) from error


def _about(row: int, conversations: Sequence[str], slot: str | None) -> Select[Any]:
    fact, turn = tables.fact, tables.turn
    about = select(turn.c.conversation, turn.c.seq, turn.c.said_at, fact.c.body).select_from(fact.join(turn))
    about = about.where(fact.c.row == row, turn.c.conversation.in_(conversations))
    about = about if slot is None else about.where(fact.c.slot == slot)
    return about.order_by(turn.c.said_at, turn.c.id, fact.c.ordinal)
