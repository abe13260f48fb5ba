"""Whether the channel is well: the record, what waits on the way in, what waits on the way out."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from bot.telegram.update import PREFIX
from engine.database import Database
from engine.errors import DatabaseError
from engine.queue_status import QueueStatus, standing

STUCK = timedelta(minutes=10)
"""So old may the oldest thing be that waits (common practice, no source)."""
MANY_ATTEMPTS = 20
"""So often may a message fail: about six minutes of trying."""
LOOK_S = 5.0


@dataclass(frozen=True)
class HealthReport:
    """What is told, JSON-ready and without words, names or secrets; ``reasons`` say why it is not well."""

    body: dict[str, Any]
    reasons: tuple[str, ...]


class Health:
    """Looks at the record when asked, one look at a time however many ask."""

    def __init__(self, database: Database) -> None:
        self._database = database
        self._look: asyncio.Task[QueueStatus] | None = None

    async def report(self) -> HealthReport:
        if self._look is None or self._look.done():
            now = datetime.now(UTC)
            self._look = asyncio.create_task(asyncio.to_thread(standing, self._database, now, PREFIX))
        try:
            found = await asyncio.wait_for(asyncio.shield(self._look), LOOK_S)
        except DatabaseError:
            return failed("the database fails")
        except TimeoutError:
            return failed(f"the database did not answer in {LOOK_S:g} s")
        except Exception as error:
            return failed(f"the database fails with {type(error).__name__}")
        return report(found, datetime.now(UTC))


def failed(reason: str) -> HealthReport:
    return HealthReport({"status": "failing", "reasons": [reason], "database": "failing"}, (reason,))


def report(found: QueueStatus, now: datetime) -> HealthReport:
    """The report on a look; ages are in seconds."""
    reasons = _reasons(found, now)
    body = {
        "status": "failing" if reasons else "ok",
        "reasons": list(reasons),
        "database": "ok",
        "inbox": {"waiting": found.received, "oldest_s": _age(found.oldest_received, now)},
        "outbox": {
            "due": found.due,
            "oldest_s": _age(found.oldest_due, now),
            "later": found.later,
            "attempts": found.attempts,
        },
        "last_update": found.last_received.isoformat(timespec="seconds") if found.last_received else None,
    }
    return HealthReport(body, reasons)


def _reasons(found: QueueStatus, now: datetime) -> tuple[str, ...]:
    said = f"for more than {STUCK.total_seconds() / 60:g} minutes"
    wrong = (
        (_is_stuck(found.oldest_received, now), f"an update waits {said}"),
        (_is_stuck(found.oldest_due, now), f"a message waits {said}"),
        (found.attempts >= MANY_ATTEMPTS, f"a message failed {found.attempts} times"),
    )
    return tuple(reason for is_so, reason in wrong if is_so)


def _is_stuck(since: datetime | None, now: datetime) -> bool:
    return since is not None and now - since > STUCK


def _age(since: datetime | None, now: datetime) -> float | None:
    return None if since is None else round(max((now - since).total_seconds(), 0.0), 1)
