"""That the clock cannot be believed, as a conversation hears it: what it does to its looks and to re-entry."""

from __future__ import annotations

from bot.bell.bell_pen import BellPen
from bot.bell.field_words import where_kept_out
from bot.bell.texts import ReminderKey
from engine.dialog.taking.application_taking import RECORD
from engine.reminders.reminder import ClockKind, ClockNotice, Reminder

_CLOCK = {
    ClockKind.FORWARD: ReminderKey.CLOCK_FORWARD,
    ClockKind.BACK: ReminderKey.CLOCK_BACK,
    ClockKind.STOPPED: ReminderKey.CLOCK_STOPPED,
}
_CLOCK_ALONE = {
    ClockKind.FORWARD: ReminderKey.CLOCK_FORWARD_ALONE,
    ClockKind.BACK: ReminderKey.CLOCK_BACK_ALONE,
    ClockKind.STOPPED: ReminderKey.CLOCK_STOPPED_ALONE,
}


def is_record(reminder: Reminder) -> bool:
    """Whether it is an application record that is asked for, not a look."""
    return RECORD in reminder.body


def clock_told(notice: ClockNotice, pen: BellPen) -> str:
    """What happened to the clock, and what waits by it."""
    looks = [one for one in notice.waiting if not one.once and not is_record(one)]
    return _with_looks(notice, looks, pen) if looks else _alone(notice, pen)


def _with_looks(notice: ClockNotice, looks: list[Reminder], pen: BellPen) -> str:
    change = notice.change
    due = min((one.next_at for one in looks if one.next_at), default=None)
    after = (
        pen.say(ReminderKey.NEXT_LOOK, time=pen.time(due))
        if due and due > change.seen_at
        else pen.say(ReminderKey.NEXT_NOW)
    )
    before, now = pen.time(change.seen_at - change.by), pen.time(change.seen_at)
    key = _CLOCK[change.kind]
    return pen.say(key, length=pen.length(change.by), now=now, next=after, **key.only(before=before))


def _alone(notice: ClockNotice, pen: BellPen) -> str:
    """Where nothing is planted: by this clock each field is kept out of until then."""
    change = notice.change
    said = pen.say(_CLOCK_ALONE[change.kind], length=pen.length(change.by), now=pen.time(change.seen_at))
    fields = [
        pen.say(ReminderKey.KEPT_OUT_BY_CLOCK, where=where_kept_out(one, pen), time=pen.time(one.due_at))
        for one in notice.waiting
        if one.once
    ]
    return " ".join([said, *fields])
