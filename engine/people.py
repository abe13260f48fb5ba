"""Who belongs to which farm, and how they join: by a code that works once and not for long.

A record without any invitation is open: it belongs to whoever runs it. From the first invitation on only members are
answered. Every look from one conversation at another goes through ``People.of_farm``, which knows one farm only.
"""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from sqlalchemy import Connection, delete, func, insert, select, update

from engine.database import Database, insert_new
from engine.history.tables import attempt, invitation, person

CODE_BYTES = 16
TRIES, TRIES_WITHIN = 5, timedelta(hours=1)


class Role(StrEnum):
    OWNER = "owner"
    FOREMAN = "foreman"
    OPERATOR = "operator"


@dataclass(frozen=True)
class Member:
    """A person, known by the conversation with them."""

    conversation: str
    farm: str
    role: Role


@dataclass(frozen=True)
class People:
    """All members and invitations of a record."""

    database: Database

    def closed(self) -> bool:
        """Whether only members are answered."""
        with self.database.read() as connection:
            return connection.execute(select(invitation.c.code).limit(1)).first() is not None

    def invite(self, farm: str, role: Role, expires_at: datetime) -> str:
        """A new code of 128 random bits; the record keeps only its hash."""
        code = secrets.token_urlsafe(CODE_BYTES)
        row = {"code": _hashed(code), "farm": farm, "role": role, "expires_at": expires_at}
        with self.database.begin() as connection:
            connection.execute(insert(invitation).values(row))
        return code

    def member(self, conversation: str) -> Member | None:
        with self.database.read() as connection:
            return _member(connection, conversation)

    def of_farm(self, conversation: str, *roles: Role) -> tuple[str, ...]:
        """The other conversations of the same farm whose people have one of the roles; none for a stranger."""
        with self.database.read() as connection:
            me = _member(connection, conversation)
            if me is None:
                return ()
            wanted = person.c.farm == me.farm, person.c.role.in_(roles), person.c.conversation != conversation
            return tuple(connection.execute(select(person.c.conversation).where(*wanted)).scalars())

    def join(self, conversation: str, code: str, now: datetime) -> Member | None:
        """Use a code up; None where it is unknown, used, too old, or was tried too often from here.

        Joining twice with the same code from the same conversation is the same as once. A member of another farm has
        to leave that one first.
        """
        with self.database.begin() as connection:
            if _tries(connection, conversation, now) >= TRIES:
                return None
            if not _used(connection, conversation, _hashed(code), now):
                connection.execute(insert(attempt).values(conversation=conversation, tried_at=now))
                return None
            return _member(connection, conversation)

    def leave(self, conversation: str) -> None:
        """Not a member any more; what was kept stays."""
        with self.database.begin() as connection:
            connection.execute(delete(person).where(person.c.conversation == conversation))


def _hashed(code: str) -> str:
    return hashlib.sha256(code.encode()).hexdigest()


def _member(connection: Connection, conversation: str) -> Member | None:
    row = connection.execute(select(person).where(person.c.conversation == conversation)).first()
    return Member(row.conversation, row.farm, Role(row.role)) if row else None


def _tries(connection: Connection, conversation: str, now: datetime) -> int:
    """How many codes failed here of late; older attempts are forgotten."""
    connection.execute(delete(attempt).where(attempt.c.tried_at <= now - TRIES_WITHIN))
    mine = select(func.count()).where(attempt.c.conversation == conversation)
    return connection.execute(mine).scalar() or 0


def _used(connection: Connection, conversation: str, code: str, now: datetime) -> bool:
    """Whether the code let this conversation in, now or before."""
    row = connection.execute(select(invitation).where(invitation.c.code == code)).first()
    me = _member(connection, conversation)
    if row is None or (row.used_by or conversation) != conversation or (me and me.farm != row.farm):
        return False
    if row.used_by is None:
        if row.expires_at <= now:
            return False
        connection.execute(
            update(invitation).where(invitation.c.code == code).values(used_by=conversation, used_at=now)
        )
        connection.execute(delete(person).where(person.c.conversation == conversation))
        insert_new(
            connection,
            person,
            [{"conversation": conversation, "farm": row.farm, "role": row.role, "joined_at": now}],
        )
    return True
