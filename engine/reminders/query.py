"""What is asked of the table of reminders."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import (
    Case,
    ColumnElement,
    CompoundSelect,
    Row,
    Select,
    Update,
    and_,
    case,
    exists,
    func,
    or_,
    select,
    union_all,
    update,
)

from engine.history.store import tables
from engine.queues import outbox
from engine.queues.outbox import DeliveryState
from engine.reminders.local_time import LocalTime
from engine.reminders.reminder import OPEN, Audience, ClockChange, Reminder, Stage

AT_ONCE = 50
reminder = tables.reminder


def next_due() -> Select[Any]:
    """The earliest moment at which something rings."""
    return select(func.min(reminder.c.next_at))


def newest() -> Select[Any]:
    """The number of the reminder that was set last."""
    return select(func.max(reminder.c.id))


def conversations_due(now: datetime, most: int) -> Select[Any]:
    """The conversations in which something is due, those that have waited longest."""
    return (
        select(reminder.c.conversation)
        .where(reminder.c.next_at <= now)
        .group_by(reminder.c.conversation)
        .order_by(func.min(reminder.c.next_at))
        .limit(most)
    )


def due(now: datetime, conversations: Sequence[str]) -> Select[Any]:
    """All that is due in these conversations, one after another."""
    ready = and_(reminder.c.next_at <= now, reminder.c.conversation.in_(conversations))
    order = reminder.c.conversation, reminder.c.next_at, reminder.c.id
    return select(reminder).where(ready).order_by(*order).with_for_update(skip_locked=True)


def not_left_yet(conversation: str) -> Select[Any]:
    """Reminders of a conversation whose last message can still be changed, with the time it was written."""
    return _unheard(conversation, *outbox.waits())


def on_its_way(conversation: str) -> Select[Any]:
    """Reminders of a conversation whose last message a worker holds and has not brought out yet."""
    return _unheard(conversation, tables.outbox.c.state == DeliveryState.PENDING, tables.outbox.c.worker.is_not(None))


def unshown(conversation: str, now: datetime) -> Select[Any]:
    """Reminders of a conversation whose last message is with no worker that lives, with the time it was written."""
    free = or_(tables.outbox.c.worker.is_(None), tables.outbox.c.leased_until <= now)
    return _unheard(conversation, tables.outbox.c.state == DeliveryState.PENDING, free)


def _unheard(conversation: str, *pending: ColumnElement[bool]) -> Select[Any]:
    """Those whose last message, or what it was passed on as, is ``pending`` everywhere."""
    last_ring = and_(tables.ring.c.message == reminder.c.message, tables.ring.c.reminder == reminder.c.id)
    asked = and_(reminder.c.conversation == conversation, reminder.c.state == Stage.ASKED)
    out = exists().where(_shown(reminder.c.message), *pending)
    heard = exists().where(_copies(reminder.c.message), tables.outbox.c.state == DeliveryState.SENT)
    found = select(reminder, tables.ring.c.rung_at).select_from(reminder.join(tables.ring, last_ring))
    return found.where(asked, out, ~heard).order_by(reminder.c.id).with_for_update()


def still_open(conversation: str | None = None) -> Select[Any]:
    """Open reminders of one conversation or of all, each conversation's next to ring first."""
    found = select(reminder).where(reminder.c.state.in_(OPEN))
    found = found if conversation is None else found.where(reminder.c.conversation == conversation)
    return found.order_by(reminder.c.conversation, reminder.c.next_at, reminder.c.id)


def elapsed() -> Select[Any]:
    """Those that ring after a length of time and still will."""
    return select(reminder).where(reminder.c.elapsed, reminder.c.next_at.is_not(None))


def skipped(change: ClockChange) -> Update:
    """What falls due in the time that a clock jumped over."""
    due = reminder.c.next_at > change.seen_at - change.by, reminder.c.next_at <= change.seen_at
    return update(reminder).where(*due)


def told_of(kind: str, seen_at: datetime, within: timedelta) -> Select[Any]:
    """A notice that the clock went wrong in this way at about this moment."""
    out = tables.outbox.c
    such = out.key.between("clock/", "clock0"), out.key.contains(f"/{kind}/", autoescape=True)
    return select(out.id).where(*such, out.due_at.between(seen_at - within, seen_at + within)).limit(1)


def rung_by(message: str) -> Select[Any]:
    """The stages of the reminders that a message rang for."""
    return select(reminder.c.state).join(tables.ring).where(tables.ring.c.message == message)


def messages_of(rings: Iterable[tuple[int, int]]) -> Select[Any]:
    """The messages in which these reminders rang, each with the number of the ring."""
    ring = tables.ring.c
    wanted = [and_(ring.reminder == reminder, ring.number == number) for reminder, number in rings]
    return select(ring.message).where(or_(*wanted)).distinct().order_by(ring.message)


def messages(conversation: str, name: str | None) -> CompoundSelect[Any]:
    """The last messages of open reminders and of those that were said once: to who is asked, and to foremen who were
    told."""
    called = _open(conversation, name, (*OPEN, Stage.SAID))
    asked = select(reminder.c.message).where(*called, reminder.c.message.is_not(None))
    last = tables.ring.c.number == reminder.c.rung, tables.ring.c.audience == Audience.FOREMAN
    passed = select(tables.ring.c.message).join(reminder).where(*_open(conversation, name), *last)
    return union_all(asked, passed)


def asking(conversation: str) -> Select[Any]:
    """The last calls of a conversation that nobody answered or put off yet, the oldest first."""
    unanswered = reminder.c.conversation == conversation, reminder.c.state.in_((Stage.ASKED, Stage.TOLD))
    calls = select(reminder.c.message).where(*unanswered, reminder.c.message.is_not(None))
    return calls.group_by(reminder.c.message).order_by(func.min(reminder.c.id))


def told(conversation: str, name: str | None) -> Select[Any]:
    """The open reminders of which foremen were told."""
    return select(reminder.c.id).where(*_open(conversation, name), reminder.c.state == Stage.TOLD)


def _open(conversation: str, name: str | None, stages: Sequence[Stage] = OPEN) -> tuple[ColumnElement[bool], ...]:
    mine = reminder.c.conversation == conversation, reminder.c.state.in_(stages)
    return mine if name is None else (*mine, reminder.c.name == name)


def withdrawn() -> Case[str]:
    """Where a message is that is not sent any more: of unknown fate where it may have come through."""
    return case((tables.outbox.c.why == outbox.PERHAPS, DeliveryState.UNKNOWN), else_=DeliveryState.FAILED)


def reliefs() -> Select[Any]:
    """The reminders that were answered after foremen were told, with the moment of the answer."""
    relief = tables.relief.c
    found = select(reminder, relief.answered_at, relief.id.label("relief")).select_from(reminder.join(tables.relief))
    return found.order_by(relief.id).limit(AT_ONCE).with_for_update(skip_locked=True)


def told_by(number: int) -> Select[Any]:
    """The last messages by which foremen were told of a reminder, one in the chat of each."""
    ring = tables.ring.c
    mine = ring.reminder == number, ring.audience == Audience.FOREMAN
    message = select(ring.message).where(*mine).order_by(ring.number.desc()).limit(1).scalar_subquery()
    return select(tables.outbox).where(_shown(message))


def unsent(message: str) -> Update:
    """A message and what was made of it for others or as voice, as far as no worker has taken it."""
    return update(tables.outbox).where(or_(_shown(message), _shown(f"{message}/voice")), *outbox.waits())


def waiting_copies(message: str) -> Update:
    """A message and its copies for others, as far as no worker has taken them."""
    return update(tables.outbox).where(_shown(message), *outbox.waits())


def _shown(message: ColumnElement[str] | str) -> ColumnElement[bool]:
    """A message, or what it was passed on as."""
    return or_(tables.outbox.c.key == message, _copies(message))


def _copies(message: ColumnElement[str] | str) -> ColumnElement[bool]:
    return and_(tables.outbox.c.key >= message + ":", tables.outbox.c.key < message + ";")


def these(ids: Iterable[int]) -> Update:
    return update(reminder).where(reminder.c.id.in_(list(ids)))


def reminder_of(row: Row[Any]) -> Reminder:
    return Reminder(
        id=row.id,
        conversation=row.conversation,
        name=row.name,
        wall=LocalTime(datetime.fromisoformat(row.local), row.zone, row.second),
        due_at=row.due_at,
        next_at=row.next_at,
        stage=Stage(row.state),
        asked=row.asked,
        rung=row.rung,
        body=row.body,
        foreman=row.foreman,
    )
