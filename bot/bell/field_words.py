"""What a conversation hears of its fields and its clock: that a re-entry interval is over, and that the clock cannot be
believed."""

from __future__ import annotations

from datetime import datetime

from bot.bell.bell_pen import BellPen
from bot.bell.texts import ReminderKey
from engine.dialog.taking.application_taking import RECORD
from engine.dialog.taking.reentry_interval import REENTRY, SINCE, KeptOut, field_key
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


def kept_out_key(reminder: Reminder) -> str:
    """Which field the bell is of."""
    return field_key(_field(reminder), _since(reminder))


def where_kept_out(reminder: Reminder, pen: BellPen) -> str:
    """The name of the field, else the day on which it was treated."""
    return _field(reminder) or pen.say(ReminderKey.FIELD_OF_DAY, day=pen.day(_since(reminder)))


def entry_told(reminder: Reminder, kept_out: KeptOut | None, pen: BellPen, who: str | None = None) -> str:
    """That the interval is over, or that it runs on where another planter treated the field as well; ``kept_out`` is
    how that stands by now, ``who`` treated it, for others, to whom a field without a name says nothing."""
    where = where_kept_out(reminder, pen)
    if who is not None and _field(reminder) is None:
        where = pen.say(ReminderKey.FIELD_BY, where=where, who=who)
    if kept_out is not None and kept_out.until > reminder.wall.instant:
        return pen.say(ReminderKey.REENTRY_RUNS, where=where, time=pen.time(kept_out.until))
    return pen.say(ReminderKey.REENTRY, where=where, time=pen.time(reminder.due_at))


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


def _field(reminder: Reminder) -> str | None:
    return str(reminder.body[REENTRY]) or None


def _since(reminder: Reminder) -> datetime:
    return datetime.fromisoformat(str(reminder.body[SINCE]))
