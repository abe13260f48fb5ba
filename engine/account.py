"""What this program is called in a channel, remembered so that it is asked for once."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import delete, insert, select

from engine.database import Database
from engine.history.store.tables import account


@dataclass(frozen=True)
class Accounts:
    """The names of all accounts of a record, by channel and number: ``telegram:4711``."""

    database: Database

    def name(self, channel: str) -> str | None:
        with self.database.read() as connection:
            return connection.execute(select(account.c.name).where(account.c.channel == channel)).scalar()

    def remember(self, channel: str, name: str) -> None:
        with self.database.begin() as connection:
            connection.execute(delete(account).where(account.c.channel == channel))
            connection.execute(insert(account).values(channel=channel, name=name))
