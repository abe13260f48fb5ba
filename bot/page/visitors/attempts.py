"""Wrong pairing codes, counted for each address and in all, and for how long nobody is let try again."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from datetime import datetime, timedelta

WITHIN = timedelta(minutes=10)
FROM_ONE, IN_ALL = 5, 20
"""So many wrong codes are taken in that time: of a hundred million codes the chance is one in five million (own
decision)."""


@dataclass
class WrongCodes:
    """The wrong codes of the last ten minutes."""

    _times: deque[tuple[datetime, str]] = field(default_factory=deque)

    def wait(self, address: str, now: datetime) -> timedelta:
        """How long this address must wait before a code of it is looked at; nothing where it need not."""
        while self._times and now - self._times[0][0] >= WITHIN:
            self._times.popleft()
        mine = [at for at, whose in self._times if whose == address]
        until = [mine[-FROM_ONE] + WITHIN] if len(mine) >= FROM_ONE else []
        until += [self._times[-IN_ALL][0] + WITHIN] if len(self._times) >= IN_ALL else []
        return max((one - now for one in until), default=timedelta())

    def wrong(self, address: str, now: datetime) -> None:
        self._times.append((now, address))

    def right(self, address: str) -> None:
        """What was counted before it was looked at was no wrong one."""
        for place in range(len(self._times) - 1, -1, -1):
            if self._times[place][1] == address:
                del self._times[place]
                return
