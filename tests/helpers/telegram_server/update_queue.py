"""Updates that wait for the bot: in order, until confirmed or too old."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from tests.helpers.telegram_server.clock import Bell, Clock

DAY = 24 * 3600.0
CALLBACK_LIFE = 150.0
SILENT_KINDS = frozenset({"chat_member", "message_reaction", "message_reaction_count"})
FIRST_ID = 700_000_001


@dataclass(frozen=True)
class Waiting:
    """One update, the webhook queue it is delivered in, and when it dies."""

    update: dict[str, Any]
    queue: int
    expires: float

    @property
    def update_id(self) -> int:
        number: int = self.update["update_id"]
        return number


class UpdateQueue:
    """The server's side of getUpdates and of the webhook: nothing leaves before it is confirmed."""

    def __init__(self, clock: Clock, bell: Bell, check: Callable[[dict[str, Any]], None]) -> None:
        self.clock, self.bell, self.check = clock, bell, check
        self.waiting: dict[int, Waiting] = {}
        self.queues: dict[int, dict[int, Waiting]] = {}
        self.confirmed: list[Waiting] = []
        self.expired: list[Waiting] = []
        self.refused: list[str] = []
        self.allowed: frozenset[str] = frozenset()
        self._next = FIRST_ID

    def add(self, kind: str, content: dict[str, Any], *, queue: int, expires: float) -> int:
        """Queue an update and return its number; a kind that the bot did not ask for is dropped and is 0."""
        if not self.wants(kind):
            self.refused.append(kind)
            return 0
        number, self._next = self._next, self._next + 1
        update = {"update_id": number, kind: content}
        self.check(update)
        self.waiting[number] = self.queues.setdefault(queue, {})[number] = Waiting(update, queue, expires)
        self.bell.ring()
        return number

    def wants(self, kind: str) -> bool:
        return kind in self.allowed if self.allowed else kind not in SILENT_KINDS

    def allow(self, kinds: Sequence[str] | None) -> None:
        """Left out keeps the last choice; an empty list is the usual kinds again."""
        if kinds is not None:
            self.allowed = frozenset(kinds)

    def confirm(self, offset: int) -> None:
        """Forget what lies before the offset; a negative one keeps only that many from the end."""
        if offset < 0:
            numbers = list(self.living())
            offset = numbers[offset] if len(numbers) >= -offset else 0
        for number in [number for number in self.waiting if number < offset]:
            self.done(number)

    def done(self, number: int) -> None:
        """The bot has this one."""
        if number in self.waiting:
            self.confirmed.append(self._take(number))

    def drop(self) -> None:
        """drop_pending_updates: they are lost."""
        self.waiting.clear()
        self.queues.clear()

    def living(self) -> dict[int, Waiting]:
        """What waits still, in order, after the dead are gone."""
        dead = [number for number, one in self.waiting.items() if one.expires <= self.clock.now()]
        self.expired.extend(self._take(number) for number in dead)
        return self.waiting

    def first(self, queue: int) -> Waiting | None:
        """The oldest living update of one webhook queue."""
        for number, one in list(self.queues.get(queue, {}).items()):
            if one.expires > self.clock.now():
                return one
            self.expired.append(self._take(number))
        return None

    def _take(self, number: int) -> Waiting:
        one = self.waiting.pop(number)
        queue = self.queues[one.queue]
        del queue[number]
        if not queue:
            del self.queues[one.queue]
        return one

    def batch(self, limit: int) -> list[Waiting]:
        return list(self.living().values())[:limit]
