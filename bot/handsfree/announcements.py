"""What others want said to the operator: the messages that wait in the outbox for this conversation.

``tick`` is called before each look, so that what rings reminders can put its messages there:
``engine.reminders.watch.Watch.step`` fits.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

from bot.handsfree.turn_taking import QueuedSpeech
from bot.settings import CONVERSATION
from engine.errors import WorldError
from engine.queues.outbox import Outbox
from engine.queues.outbox_message import attempt_of, reply_of
from engine.reminders.schedule import Schedule

WORKER = "handsfree"
LEASE = timedelta(minutes=2)
PAUSE_S = 1.0


class Announcements:
    """Brings one message at a time, and marks it when it was said: never lost, sometimes repeated."""

    def __init__(self, outbox: Outbox, tick: Callable[[], object] | None = None) -> None:
        self._outbox, self._tick = outbox, tick
        self._schedule = Schedule(outbox.database)
        self._next_look = 0.0
        self._held: str | None = None

    def look(self, now: float) -> QueuedSpeech | None:
        """The next message that is due; None where none is, or the last one was not said yet, or the disk failed."""
        if now < self._next_look:
            return None
        self._next_look = now + PAUSE_S
        try:
            if self._tick is not None:
                self._tick()
            if self._held is not None:
                return None
            found = self._outbox.claim(WORKER, datetime.now(UTC), LEASE, 1, CONVERSATION)
        except WorldError:
            return None
        if not found:
            return None
        self._held, message = found[0].key, found[0].message
        return QueuedSpeech(reply_of(message), self._held, attempt_of(message))

    def wanted(self, key: str) -> bool:
        """Whether it is still to be said: a reminder that was answered meanwhile is not."""
        try:
            return self._schedule.asks(key)
        except WorldError:
            return True

    def said(self, key: str) -> None:
        """It was said, or is not wanted any more."""
        self._held = None
        try:
            self._outbox.mark_sent(key)
        except WorldError:
            return
