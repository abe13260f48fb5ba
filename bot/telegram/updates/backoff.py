"""Trying again: how long to wait after each failure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from telegram.error import RetryAfter

FIRST_S, GROWTH, LONGEST_S = 0.5, 1.5, 30.0


@dataclass
class Backoff:
    """Waits that grow by half with every failure, up to half a minute; a success starts anew."""

    failures: int = 0

    def next(self, error: Exception | None = None) -> float:
        """Seconds to wait after one more failure; as long as the server asks where it does."""
        self.failures += 1
        return max(wait(self.failures), asked(error))

    def reset(self) -> None:
        self.failures = 0


def wait(failures: int) -> float:
    """Seconds after so many failures in a row."""
    return float(min(FIRST_S * GROWTH ** min(failures - 1, 20), LONGEST_S))


def asked(error: Exception | None) -> float:
    """Seconds that the server asks for, 0 where it does not."""
    if not isinstance(error, RetryAfter):
        return 0.0
    after = error.retry_after
    return after.total_seconds() if isinstance(after, timedelta) else float(after)
