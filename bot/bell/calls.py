"""The rings of a conversation at this machine, for a channel that shows them while it waits for words."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from engine.errors import WorldError
from engine.queues.outbox import Outbox
from engine.queues.outbox_message import OutboxMessage
from engine.reminders.schedule import Schedule

LEASE = timedelta(minutes=2)


@dataclass(frozen=True)
class Calls:
    """``step`` rings what is due on the record; ``worker`` names who shows it."""

    outbox: Outbox
    conversation: str
    worker: str
    step: Callable[[], object]

    def due(self) -> Iterator[OutboxMessage]:
        """What is to be shown now, each marked once it was: never lost, sometimes repeated. Nothing where the disk
        fails: it is tried again at the next call."""
        try:
            self.step()
            for one in self.outbox.claim(self.worker, datetime.now(UTC), LEASE, 1, self.conversation):
                if Schedule(self.outbox.database).asks(one.key):
                    yield one.message
                self.outbox.mark_sent(one.key)
        except WorldError:
            return
