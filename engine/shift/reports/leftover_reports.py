"""What a shift leaves in the hoppers, for the dialog that puts it away."""

from __future__ import annotations

from engine.dialog.schema.script import LEFT_OVER, Watch
from engine.shift.turn import ShiftTurn
from engine.values import Rows


def leave(turn: ShiftTurn) -> None:
    """Work out what is in the hoppers at the end, under the names that the watch gives it."""
    walk, shift, now = turn.walk, turn.shift, turn.now
    step = walk.script.step(walk.dialog.step)
    if not isinstance(step, Watch) or not step.into:
        return
    contents: Rows = dict(turn.plan.contents(shift, now))
    full: Rows = {row: one.mass for row, one in shift.filled.items()}
    reckoned: Rows = {row: turn.plan.use(shift, row, now) for row in shift.rows}
    walk.compute(walk.dialog.step, LEFT_OVER, {"contents": contents, "full": full, "reckoned": reckoned}, step.into)
