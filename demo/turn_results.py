"""What a turn came to, for the screen: a judged run of the calibration, or rows in doubt during the shift."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from demo.letters import DemoDoubt, DemoResult, RowResult
from demo.script_lines import shown
from engine.dialog.facts.events import Computed, Fact
from engine.dialog.facts.role_values import by_role
from engine.dialog.facts.state import DialogState
from engine.dialog.reply.wording import Wording
from engine.dialog.schema.script import Script
from engine.dialog.schema.slot_roles import Role
from engine.quantities import Measure, measure
from engine.shift.look import soonest
from engine.shift.record.plan import Plan
from engine.shift.record.shift_facts import Doubted
from engine.shift.record.shift_state import ShiftState
from engine.values import Rows, Value


def doubt(
    facts: Iterable[Fact], dialog: DialogState | None, script: Script | None, wording: Wording, now: datetime
) -> DemoDoubt | None:
    """The rows that these facts put in doubt, where ``dialog`` stands after them; None where they doubt none."""
    found = [fact for fact in facts if isinstance(fact, Doubted)]
    if not found or dialog is None or script is None or not isinstance(dialog.activity, ShiftState):
        return None
    one, shift = found[-1], dialog.activity
    empty = soonest(shift, Plan.told(script, dialog), now)
    length = max(empty[1], timedelta()) if empty else timedelta()
    missed = shift.timeline.pace(now).area(length) * len(one.rows) / len(shift.rows)
    return DemoDoubt(
        rows=one.rows,
        since=one.since,
        until=one.until,
        area=wording.rough(one.area),
        short=wording.rough(one.short),
        empty_at=now + length if empty else None,
        more=wording.rough(measure(missed, "acre")),
    )


def result(facts: Iterable[Fact], dialog: DialogState | None) -> DemoResult | None:
    """The run that these facts judged, if they did."""
    judged = [fact for fact in facts if isinstance(fact, Computed) and fact.formula == "judge-run"]
    if not judged or dialog is None:
        return None
    fact = judged[-1]
    caught, settings = _newest(fact.arguments["caught"]), _newest(fact.arguments["settings"])
    target = _as(fact.arguments["target"], "g")
    results = by_role(dialog.records, fact.results)
    errors, verdicts = _rows(results[Role.ERROR]), _rows(results[Role.VERDICT])
    after = _rows(results[Role.NEXT_SETTING])
    rows = (
        RowResult(
            row=row,
            setting=shown(settings[row]),
            next=shown(after[row]),
            caught_g=_as(caught[row], "g"),
            off=_as(errors[row], "1") if row in errors else _as(caught[row], "g") / target - 1,
            verdict=shown(verdicts[row]),
        )
        for row in verdicts
    )
    return DemoResult(run=fact.run, target_g=target, rows=tuple(rows))


def _newest(value: object) -> Rows:
    """Of each row the newest of a per-row argument given for every run: it may have been spared in the last."""
    if not isinstance(value, tuple):
        raise TypeError(f"{value!r} is not given for every run")
    return {row: one for run in value for row, one in _rows(run).items()}


def _rows(value: object) -> Rows:
    if not isinstance(value, dict):
        raise TypeError(f"{value!r} is not given per row")
    return value


def _as(value: Value | Rows | tuple[Rows, ...], unit: str) -> float:
    if not isinstance(value, Measure):
        raise TypeError(f"{value!r} is not a measure")
    return value.to(unit).value
