"""A short calibration as facts: two rows, two runs, one correction, one word taken back, one row skipped."""

from __future__ import annotations

from engine.dialog.facts.events import (
    Computed,
    Fact,
    Finished,
    Kept,
    RunStarted,
    Skipped,
    Started,
    Taken,
    Withdrawn,
)
from engine.dialog.schema.slot_roles import Phase
from engine.facts import write_fact
from engine.history.store.journal import Journal
from engine.quantities import Measure
from engine.values import Rows, Setting
from tests.helpers.turns import new_turn

TARGET = Measure(value=49.5, unit="g")


def grams(value: float) -> Measure:
    return Measure(value=value, unit="g")


def at(position: float) -> Setting:
    return Setting(position=position, label=f"{position:g}")


def caught(row: int, value: float, run: int, replaces: float | None = None) -> Kept:
    old = None if replaces is None else grams(replaces)
    return Kept(slot="catch", row=row, run=run, value=grams(value), said=f"row {row} {value}", replaces=old)


def timed(seconds: float, run: int) -> Kept:
    return Kept(slot="course_time", run=run, value=Measure(value=seconds, unit="s"), said=f"{seconds} seconds")


def judged(run: int, verdicts: Rows, settings: Rows) -> Computed:
    return Computed(
        step="judge",
        run=run,
        formula="handbook-advice",
        arguments={"target": TARGET},
        results={"verdict": verdicts, "next_setting": settings},
        outcome="adjust" if run == 1 else "settled",
    )


TURNS: tuple[tuple[Fact, ...], ...] = (
    (
        Started(dialog="test-run", script="abc", phase=Phase.CALIBRATION),
        Taken(values={"planter": "the blue one", "target": TARGET}, rows={"setting": {1: at(12), 2: at(12)}}),
    ),
    (caught(1, 15.0, 1), timed(41, 1)),
    (caught(1, 50.0, 1, replaces=15.0), caught(2, 41.0, 1)),
    (Withdrawn(slot="catch", row=2, run=1, value=grams(41.0)),),
    (
        caught(2, 44.0, 1),
        judged(1, {1: "on_target", 2: "adjust"}, {1: at(12), 2: at(13.5)}),
        RunStarted(run=2, cleared=(), carried={"setting": {1: at(12), 2: at(13.5)}}),
    ),
    (Skipped(slot="catch", row=1, run=2), timed(44, 2)),
    (caught(2, 49.0, 2), judged(2, {2: "on_target"}, {2: at(13.5)}), Finished(dialog="test-run")),
)


def calibrate(journal: Journal, conversation: str = "c1", turns: tuple[tuple[Fact, ...], ...] = TURNS) -> None:
    """Append the turns, one a minute."""
    first = journal.last(conversation)
    for seq, facts in enumerate(turns, first + 1):
        bodies = [write_fact(fact) for fact in facts]
        journal.append(new_turn(seq, *bodies, conversation=conversation, minutes=seq))
