"""How often to look."""

from __future__ import annotations

from engine.messages import Reported
from engine.shift.turn import ShiftTurn


def chosen(turn: ShiftTurn, told: Reported) -> None:
    turn.note(told)
