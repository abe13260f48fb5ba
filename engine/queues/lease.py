"""Who has something in hand: a worker by its name, for as long as it says again and again that it lives.

What a worker has in hand is a lease that runs out, so that another one goes on where it died. On its own computer it is
known at once to be dead, by its process. Computers that share a record have to agree on the time to within seconds.
"""

from __future__ import annotations

import os
import secrets
import socket
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import delete, select, update

from engine.database import Database
from engine.history.store.tables import hold, outbox
from engine.queues.outbox import DeliveryState

LEASE = timedelta(seconds=15)
RENEWED = timedelta(seconds=4)
"""So often a worker says that it lives (own decision): three times are missed before another one takes over."""


def worker_name() -> str:
    """A name for a worker of this process, which no other one has or had."""
    return f"{socket.gethostname()}/{os.getpid()}/{secrets.token_hex(4)}"


def is_dead(worker: str, me: str) -> bool:
    """Whether a worker is known to be dead: it is not me, and its process on my computer is gone or is mine now."""
    (host, *process), (here, mine, _) = worker.split("/"), me.split("/")
    if worker == me or host != here or len(process) != 2 or not process[0].isdecimal():
        return False
    return process[0] == mine or not _runs(int(process[0]))


def _runs(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True


@dataclass(frozen=True)
class Leases:
    """What the worker ``me`` has in hand of a record."""

    database: Database
    me: str

    def renew(self, now: datetime) -> None:
        """Keep all of it for another while."""
        sending = update(outbox).where(outbox.c.worker == self.me, outbox.c.state == DeliveryState.PENDING)
        with self.database.beside() as connection:
            connection.execute(update(hold).where(hold.c.worker == self.me).values(until=now + LEASE))
            connection.execute(sending.values(leased_until=now + LEASE))

    def free_the_dead(self) -> None:
        """Let go of what workers had in hand that are known to be dead."""
        sending = select(outbox.c.worker).where(outbox.c.state == DeliveryState.PENDING, outbox.c.worker.is_not(None))
        with self.database.read() as connection:
            names = {*connection.execute(sending).scalars(), *connection.execute(select(hold.c.worker)).scalars()}
        if dead := [name for name in names if is_dead(name, self.me)]:
            self._free(dead)

    def let_go(self) -> None:
        """Let go of all of it."""
        self._free([self.me])

    def _free(self, workers: list[str]) -> None:
        sent = update(outbox).where(outbox.c.worker.in_(workers), outbox.c.state == DeliveryState.PENDING)
        with self.database.beside() as connection:
            connection.execute(delete(hold).where(hold.c.worker.in_(workers)))
            connection.execute(sent.values(worker=None, leased_until=None))
