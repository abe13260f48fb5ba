"""Re-entry: until when to keep out of what was treated, as far as labels were told, and the bell when that is over."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from engine.dialog.activity import ActivityState
from engine.dialog.facts.applied import Applied
from engine.dialog.facts.book import Book
from engine.dialog.facts.register import folded_name
from engine.dialog.facts.role_values import as_measure
from engine.dialog.facts.state import ConversationState
from engine.dialog.schema.slot_roles import Role
from engine.reminders.local_time import LocalTime
from engine.reminders.reminder import CallOff, Change, Remind

if TYPE_CHECKING:
    from engine.dialog.turns.turn_builder import TurnBuilder

REENTRY, SINCE = "reentry", "since"
"""In the body of the reminder: the field, empty where it has no name, and the first moment of its treatment. The name
of the reminder begins with the first."""


@dataclass(frozen=True)
class KeptOut:
    """A field that was treated, None where it has no name, from ``since`` on, and ``until`` when to keep out of it."""

    field: str | None
    since: datetime
    until: datetime

    @property
    def key(self) -> str:
        """Tells it from others: one field is one, whatever it got."""
        return field_key(self.field, self.since)


def field_key(field: str | None, since: datetime) -> str:
    return folded_name(field) or since.isoformat()


def kept_out_until(book: Book, one: Applied) -> datetime | None:
    """When the re-entry interval of what was treated ends; None where the label's was not told, or is nothing."""
    length = _interval(book, one.product)
    return None if length is None else one.until + length


def _interval(book: Book, product: str | None) -> timedelta | None:
    interval = as_measure(book.things.known(Role.PRODUCT, product).get(Role.REENTRY))
    return timedelta(hours=interval.to("h").value) if interval and interval.value > 0 else None


def keeping_out(state: ConversationState, *, farm: bool = False) -> dict[str, KeptOut]:
    """What was treated here, or on the whole ``farm``, and is treated no more, with the last moment to keep out of
    each; of a field that another planter treated as well, with that of the later."""
    activity, book = _activity(state), state.book
    found: dict[str, KeptOut] = {}
    for one in _ends(book, (*book.applied, *(activity.left() if activity else ()))):
        found[one.key] = _later(found.get(one.key), one)
    for one in _ends(book, tuple(one for other in book.neighbours.values() for one in other.applied)):
        if farm or one.key in found:
            found[one.key] = _later(found.get(one.key), one)
    found.pop(folded_name(activity.treating if activity else None) or "", None)
    return found


def _ends(book: Book, applied: tuple[Applied, ...]) -> Iterator[KeptOut]:
    lengths = {name: _interval(book, name) for name in {one.product for one in applied}}
    for one in applied:
        length = lengths[one.product]
        if length is not None:
            yield KeptOut(one.field, one.since, one.until + length)


def _later(known: KeptOut | None, new: KeptOut) -> KeptOut:
    return known if known is not None and known.until > new.until else new


def _activity(state: ConversationState) -> ActivityState | None:
    return state.dialog.activity if state.dialog else None


# ---------------------------------------------------------------- the bell


def changes(before: ConversationState, after: ConversationState, builder: TurnBuilder) -> tuple[Change, ...]:
    """What a turn does to the bells of fields: one for each field that is kept out of, rung when its interval is over;
    moved with what is put right, called off where it is not wanted any more or the field is treated again."""
    if _rests_on(before) == _rests_on(after):
        return ()
    was = {key: one for key, one in keeping_out(before).items() if one.until > builder.now}
    now = {key: one for key, one in keeping_out(after).items() if one.until > builder.now or key in was}
    off = [key for key in {**was, **_in_hand(after)} if key not in now and key not in _in_hand(before)]
    moved = [one for key, one in now.items() if key not in was or was[key].until != one.until]
    return (*(CallOff(_name(key)) for key in off), *(change for one in moved for change in _set(one, builder.zone)))


def _rests_on(state: ConversationState) -> tuple[object, ...]:
    """What the bells rest on, to be compared in a moment: the book in its parts, and what the activity has left."""
    activity, book = _activity(state), state.book
    going_on = (activity.left(), activity.treating) if activity else ((), None)
    return (id(book.applied), id(book.things), id(book.neighbours), *going_on)


def _in_hand(state: ConversationState) -> dict[str, None]:
    activity = _activity(state)
    key = folded_name(activity.treating if activity else None)
    return {key: None} if key else {}


def _set(one: KeptOut, zone: str) -> tuple[Change, ...]:
    """What was said of an earlier treatment and is not read yet does not hold any more."""
    body: dict[str, object] = {REENTRY: one.field or "", SINCE: one.since.isoformat()}
    return CallOff(_name(one.key)), Remind(
        _name(one.key), LocalTime.of(one.until, zone), elapsed=True, body=body, once=True
    )


def _name(key: str) -> str:
    return f"{REENTRY} {key}"
