"""What a shift leaves in the hoppers, for the dialog that puts it away."""

from __future__ import annotations

from engine.dialog.script import LEFT_OVER, Watch
from engine.dialog.shift.log import Log
from engine.values import Rows


def leave(log: Log) -> None:
    """Work out what is in the hoppers at the end, under the names that the watch gives it."""
    walk, shift, planted = log.walk, log.shift, log.shift.mark.planted
    step = walk.script.step(walk.dialog.step)
    if not isinstance(step, Watch) or not step.into:
        return
    contents: Rows = {row: log.plan.content(shift, row, planted) for row in shift.hoppers}
    full: Rows = {row: one.mass for row, one in shift.filled.items()}
    reckoned: Rows = {row: log.plan.use(shift, one, planted) for row, one in shift.hoppers.items()}
    walk.compute(walk.dialog.step, LEFT_OVER, {"contents": contents, "full": full, "reckoned": reckoned}, step.into)
