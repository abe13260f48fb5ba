"""Locks of a server's record: the record as a whole, one conversation, and any other name. SQLite has one for all."""

from __future__ import annotations

from sqlalchemy import Connection

_RECORD = "hashtext('rowhand'), hashtext(coalesce(current_schema(), ''))"
ALONE = f"SELECT pg_advisory_xact_lock({_RECORD})"
BESIDE = f"SELECT pg_advisory_xact_lock_shared({_RECORD})"
_CONVERSATION = "SELECT pg_advisory_xact_lock(hashtextextended(coalesce(current_schema(), '') || '/' || %s, 0))"


def in_hand(connection: Connection, conversation: str) -> bool:
    """Take a conversation for the rest of a transaction that writes beside others, where nobody else has it now."""
    return connection.dialect.name != "postgresql" or bool(
        connection.exec_driver_sql(_CONVERSATION.replace("advisory", "try_advisory"), (conversation,)).scalar()
    )


def take_name(connection: Connection, name: str) -> None:
    """Wait for a name that others take too, for the rest of a transaction that writes beside others."""
    lock(connection, _CONVERSATION, name)


def lock(connection: Connection, what: str, *names: str) -> None:
    """Take a lock for the rest of a transaction; SQLite took its one lock when that began."""
    if connection.dialect.name == "postgresql":
        connection.exec_driver_sql(what, names)
