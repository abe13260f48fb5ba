"""That the re-entry interval of a field is over, as its operator and the foremen hear it."""

from __future__ import annotations

from datetime import datetime

from bot.bell.bell_pen import BellPen
from bot.bell.texts import ReminderKey
from engine.dialog.taking.reentry_interval import REENTRY, SINCE, KeptOut, field_key
from engine.reminders.reminder import Reminder


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


def _field(reminder: Reminder) -> str | None:
    return str(reminder.body[REENTRY]) or None


def _since(reminder: Reminder) -> datetime:
    return datetime.fromisoformat(str(reminder.body[SINCE]))
