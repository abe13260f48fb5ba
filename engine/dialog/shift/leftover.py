"""What a shift leaves in the hoppers, for the dialog that puts it away."""

from __future__ import annotations

import engine.calculations.library  # noqa: F401
from engine.calculations.catalogue import Argument, formulas
from engine.dialog.events import Computed
from engine.dialog.script import LEFT_OVER, Watch
from engine.dialog.shift.log import Log
from engine.values import Rows


def leave(log: Log) -> None:
    """Work out what is in the hoppers at the end, under the names that the watch gives it."""
    dialog, shift = log.walk.dialog, log.shift
    step = log.walk.script.steps[log.walk.script.places[dialog.step]]
    if not isinstance(step, Watch) or not step.into:
        return
    planted = shift.mark.planted
    contents: Rows = {row: log.plan.content(shift, row, planted) for row in shift.hoppers}
    full: Rows = {row: one.mass for row, one in shift.filled.items()}
    reckoned: Rows = {row: log.plan.use(shift, one, planted) for row, one in shift.hoppers.items()}
    rows: dict[str, Rows] = {"contents": contents, "full": full, "reckoned": reckoned}
    arguments: dict[str, Argument] = {**rows}
    found = formulas()[LEFT_OVER].evaluate(arguments)
    log.walk.add(
        Computed(
            step=dialog.step,
            run=dialog.run,
            formula=LEFT_OVER,
            arguments={**rows},
            results={name: found.results[result] for result, name in step.into.items()},
            outcome=found.outcome,
        )
    )
