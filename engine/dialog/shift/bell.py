"""What a turn does to the reminders of its conversation: the difference between the look wanted before and after it."""

from __future__ import annotations

from datetime import datetime

from engine.dialog.shift.fact import LookSet
from engine.dialog.shift.state import Shift
from engine.dialog.shift.vigil import Vigil
from engine.dialog.state import ConversationState
from engine.reminders.reminder import Answer, CallOff, Change, Remind, Snooze
from engine.reminders.wall import Wall

LOOK = "look"
"""The name of the reminder of a shift."""


def changes(before: ConversationState, after: ConversationState, vigil: Vigil) -> tuple[Change, ...]:
    """The changes that bring the reminders from one state to the next; none where no look is wanted in either."""
    was, now = _shift(before), _shift(after)
    old, new = _due(was), _due(now)
    if was and now and now.snoozed and now.snoozed != was.snoozed:
        return (Snooze(LOOK, now.snoozed),)
    if old == new or (was and now and now.snoozed):
        return ()
    settled: tuple[Change, ...] = (_settled(was, now),) if was and old else ()
    return (*settled, _remind(now.look, vigil)) if now and now.look and new else settled


def _shift(state: ConversationState) -> Shift | None:
    return state.dialog.shift if state.dialog else None


def _due(shift: Shift | None) -> datetime | None:
    return shift.look.due if shift and shift.look else None


def _settled(was: Shift, now: Shift | None) -> Change:
    """Somebody looked after it rang, or it is not wanted any more."""
    due = _due(was)
    looked = now is not None and due is not None and now.looked.at >= due
    return Answer(LOOK) if looked else CallOff(LOOK)


def _remind(look: LookSet, vigil: Vigil) -> Remind:
    assert look.due is not None
    body: dict[str, object] = look.model_dump(mode="json", exclude={"kind"})
    return Remind(LOOK, Wall.of(look.due, vigil.zone), elapsed=True, body=body)
