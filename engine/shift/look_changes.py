"""What a turn does to the reminders of its conversation: the difference between the look wanted before and after it."""

from __future__ import annotations

from datetime import datetime

from engine.dialog.facts.state import ConversationState
from engine.reminders.local_time import LocalTime
from engine.reminders.reminder import Answer, CallOff, Change, Remind, Snooze
from engine.shift.record.shift_facts import LookSet
from engine.shift.record.shift_state import ShiftState

LOOK = "look"
"""The name of the reminder of a shift."""


def changes(before: ConversationState, after: ConversationState, zone: str) -> tuple[Change, ...]:
    """The changes that bring the reminders from one state to the next; none where the same look is wanted in both."""
    was, now = _shift(before), _shift(after)
    old, new = _wanted(was), _wanted(now)
    if old == new:
        return ()
    if old and now and now.snoozed == new and new is not None:
        return (Snooze(LOOK, new),)
    settled: tuple[Change, ...] = (_settled(old, now),) if old else ()
    return (*settled, _remind(now, now.look, new, zone)) if now and now.look and new else settled


def wanted_look(state: ConversationState) -> datetime | None:
    """When a conversation that stands so is to be asked for a look; None where it wants none."""
    return _wanted(_shift(state))


def _shift(state: ConversationState) -> ShiftState | None:
    found = state.dialog.activity if state.dialog else None
    return found if isinstance(found, ShiftState) else None


def _wanted(shift: ShiftState | None) -> datetime | None:
    """When the operator is to be asked; None where no look is wanted."""
    if shift is None or shift.look is None or not shift.runs:
        return None
    due = shift.snoozed or shift.look.due
    return shift.wall(due) if due else None


def _settled(due: datetime, now: ShiftState | None) -> Change:
    """Somebody looked after it rang, or it is not wanted any more."""
    return Answer(LOOK) if now is not None and now.wall(now.looked) >= due else CallOff(LOOK)


def _remind(shift: ShiftState, look: LookSet, due: datetime, zone: str) -> Remind:
    """The look with its moments as the clock on the wall shows them."""
    shown = look.model_copy(update={"at": shift.wall(look.at), "due": shift.wall(look.due) if look.due else None})
    body: dict[str, object] = shown.model_dump(mode="json", exclude={"kind"})
    return Remind(LOOK, LocalTime.of(due, zone), elapsed=True, body=body)
