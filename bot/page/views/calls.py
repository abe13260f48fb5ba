"""Calls on the page: what rings in the conversation of this machine, shown until somebody answers it anywhere.

The record says which calls still ask, so a phone that comes back shows them again and one that is answered in another
channel is quiet. A message counts as brought out once a phone says that it showed it; without a phone in reach nothing
is taken from the outbox.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from bot.page.views.messages import RingingCall
from engine.queues.outbox import Outbox
from engine.queues.outbox_message import OutboxMessage, attempt_of, reply_of
from engine.reminders.schedule import Schedule

WORKER = "page"
LEASE = timedelta(minutes=2)


class PageCalls:
    """The calls of one conversation."""

    def __init__(self, outbox: Outbox, conversation: str) -> None:
        self._outbox, self._conversation = outbox, conversation
        self._schedule = Schedule(outbox.database)
        self._held: dict[str, OutboxMessage] = {}

    def take(self) -> bool:
        """Lease what waits to be shown, for a phone that is in reach; whether there is anything new."""
        found = self._outbox.claim(WORKER, datetime.now(UTC), LEASE, 1, self._conversation)
        for one in found:
            if self._schedule.asks(one.key):
                self._held[one.key] = one.message
            else:
                self._outbox.mark_sent(one.key)
        return bool(found)

    def shown(self, key: str) -> None:
        """A phone showed it; a message that asks nothing has been read by that."""
        if key in self._held:
            self._outbox.mark_sent(key)
            del self._held[key]

    def ringing(self, conversation: str | None = None) -> tuple[RingingCall, ...]:
        """What asks now, in this conversation or another one, and what is to be shown once."""
        asking = self._schedule.asking(conversation or self._conversation)
        found = {key: one.outgoing.message for key in asking if (one := self._outbox.find(key))}
        held = {} if conversation else {key: one for key, one in self._held.items() if self._schedule.asks(key)}
        return tuple(_call(key, message, key in found) for key, message in {**held, **found}.items())

    def asks(self, key: str) -> bool:
        """Whether nobody answered yet what this call asks."""
        return key in self._schedule.asking(self._conversation)

    def release(self) -> None:
        """Give back what no phone showed: others may bring it out."""
        self._held.clear()
        self._outbox.release(WORKER)


def _call(key: str, message: OutboxMessage, asks: bool) -> RingingCall:
    reply = reply_of(message)
    return RingingCall(
        key=key,
        asks=asks,
        text=reply.text,
        speech=reply.speech or reply.text,
        attempt=attempt_of(message),
        buttons=reply.buttons,
    )
