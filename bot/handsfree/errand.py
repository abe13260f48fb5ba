"""What others want said to the operator: the messages that wait in the outbox for this conversation.

``tick`` is called before each look, so that what rings reminders can put its messages there:
``engine.reminders.watch.Watch.step`` fits.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

from bot.console import CONVERSATION
from bot.handsfree.floor import Line
from engine.errors import WorldError
from engine.messages import Reply
from engine.outbox import Outbox, Outgoing

WORKER = "handsfree"
LEASE = timedelta(minutes=2)
PAUSE_S = 1.0


class Errand:
    """Brings one message at a time, and marks it when it was said: never lost, sometimes repeated."""

    def __init__(self, outbox: Outbox, tick: Callable[[], object] | None = None) -> None:
        self._outbox, self._tick = outbox, tick
        self._next_look = 0.0
        self._held: str | None = None

    def look(self, now: float) -> Line | None:
        """The next message that is due; None where none is, or the last one was not said yet, or the disk failed."""
        if now < self._next_look or self._held is not None:
            return None
        self._next_look = now + PAUSE_S
        try:
            if self._tick is not None:
                self._tick()
            found = self._outbox.claim(WORKER, datetime.now(UTC), LEASE, 1, CONVERSATION)
        except WorldError:
            return None
        if not found:
            return None
        self._held = found[0].key
        return _line(found[0])

    def said(self, key: str) -> None:
        self._held = None
        try:
            self._outbox.mark_sent(key)
        except WorldError:
            return


def _line(found: Outgoing) -> Line:
    text = str(found.body.get("text", ""))
    return Line(Reply(text=text, speech=str(found.body.get("speech") or "")), found.key)
