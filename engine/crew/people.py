"""Who belongs to which farm, and how they join: by a code that works once and not for long.

A record without any invitation is open: it belongs to whoever runs it. From the first invitation on only members are
answered. A member is known by their chat, and takes part in one conversation at a time: the one with a planter of the
farm, which others may share. What a member can reach stands in ``farm`` beside this, what they may do in ``roles``.
"""

from __future__ import annotations

import hashlib
import secrets
import unicodedata
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Any

from sqlalchemy import Connection, Row, delete, insert, select, update

from engine.crew.roles import ALONE, MAY, Act, PersonRole
from engine.database import Database, insert_new
from engine.history.store.tables import attempt, conversation, invitation, person
from engine.history.store.triggers import NAMELESS
from engine.queues.outbox import give_up

CODE_BYTES = 16
TRIES, TRIES_WITHIN = 5, timedelta(hours=1)
LONGEST_NAME = 40


@dataclass(frozen=True)
class Member:
    """A person, known by the chat with them; ``conversation`` is the one they take part in.

    ``farm`` is None on an open record, where everybody is alone.
    """

    chat: str
    farm: str | None
    role: PersonRole
    conversation: str
    name: str | None = None

    @property
    def acts(self) -> frozenset[Act]:
        """All that they may do beside the conversation itself."""
        return ALONE if self.farm is None else MAY[self.role]

    def may(self, act: Act) -> bool:
        return act in self.acts


class BarReason(StrEnum):
    """Why a code lets nobody in."""

    UNKNOWN = "unknown"
    USED = "used"
    EXPIRED = "expired"
    TOO_MANY = "too many"
    ELSEWHERE = "elsewhere"


@dataclass(frozen=True)
class Barred:
    """Somebody who was not let in: after ``TOO_MANY`` tries ``until`` when, ``ELSEWHERE`` as a member of a ``farm``."""

    why: BarReason
    until: datetime | None = None
    farm: str | None = None


@dataclass(frozen=True)
class People:
    """All members and invitations of a record."""

    database: Database

    def closed(self) -> bool:
        """Whether only members are answered."""
        with self.database.read() as connection:
            return _closed(connection)

    def invite(
        self, farm: str, role: PersonRole, expires_at: datetime, into: str | None = None, by: str | None = None
    ) -> str:
        """A new code of 128 random bits; the record keeps only its hash.

        ``into`` is a conversation of the farm that the person will share, where it is not to be their own; ``by`` is
        the chat of who invites.
        """
        code = secrets.token_urlsafe(CODE_BYTES)
        row = {"code": _hashed(code), "farm": farm, "role": role, "expires_at": expires_at, "joins": into}
        row["invited_by"] = by
        with self.database.begin() as connection:
            connection.execute(insert(invitation).values(row))
        return code

    def member(self, chat: str) -> Member | None:
        with self.database.read() as connection:
            return _member(connection, chat)

    def seat(self, chat: str) -> Member | None:
        """Who somebody is here: a member, or on an open record whoever they are, alone; None for a stranger."""
        with self.database.read() as connection:
            found = _member(connection, chat)
            return found or (None if _closed(connection) else Member(chat, None, PersonRole.OWNER, chat))

    def sharing(self, talk: str) -> tuple[str, ...]:
        """The chats that take part in a conversation, those that joined first in front."""
        there = select(person.c.conversation).where(person.c.talk == talk).order_by(person.c.joined_at)
        with self.database.read() as connection:
            return tuple(connection.execute(there).scalars())

    def join(self, chat: str, code: str, now: datetime, name: str | None = None) -> Member | None:
        """Use a code up; None where it lets nobody in."""
        found = self.admit(chat, code, now, name)
        return found if isinstance(found, Member) else None

    def admit(self, chat: str, code: str, now: datetime, name: str | None = None) -> Member | Barred:
        """Use a code up; why not where it is unknown, used, too old, or was tried too often from here.

        Joining twice with the same code from the same chat is the same as once. A member of another farm has to leave
        that one first, which is no try in vain.
        """
        with self.database.begin() as connection:
            tries = _tries(connection, chat, now)
            if len(tries) >= TRIES:
                return Barred(BarReason.TOO_MANY, until=tries[-TRIES] + TRIES_WITHIN)
            barred = _used(connection, chat, _hashed(code), now, name)
            if barred is not None and barred.why is not BarReason.ELSEWHERE:
                connection.execute(insert(attempt).values(conversation=chat, tried_at=now))
            return barred or _known(connection, chat)

    def inviter(self, chat: str) -> Member | None:
        """Who invited a member, as far as that is known and they are still there."""
        mine = select(invitation.c.invited_by).where(invitation.c.used_by == chat).order_by(invitation.c.used_at.desc())
        with self.database.read() as connection:
            found, me = connection.execute(mine).scalar(), _member(connection, chat)
            one = _member(connection, found) if found else None
            return one if one and me and one.farm == me.farm else None

    def leave(self, chat: str) -> None:
        """Not a member any more, and nothing that waits is sent there; what was kept stays."""
        with self.database.begin() as connection:
            connection.execute(delete(person).where(person.c.conversation == chat))
            give_up(connection, chat, "left")


def plain_name(name: str) -> str:
    """A name without signs that nobody sees, that turn the direction of what stands behind it, or that break a line."""
    seen = "".join(" " if unicodedata.category(sign) in ("Zl", "Zp") else sign for sign in name)
    shown = "".join(sign for sign in seen if unicodedata.category(sign) not in ("Cc", "Cf", "Cs", "Co", "Cn"))
    return " ".join(shown.split())[:LONGEST_NAME]


def _hashed(code: str) -> str:
    return hashlib.sha256(code.encode()).hexdigest()


def _closed(connection: Connection) -> bool:
    return connection.execute(select(invitation.c.code).limit(1)).first() is not None


def _member(connection: Connection, chat: str) -> Member | None:
    row = connection.execute(select(person).where(person.c.conversation == chat)).first()
    return member_of(row) if row else None


def member_of(row: Row[Any]) -> Member:
    """Who a row of the table of people is."""
    return Member(row.conversation, row.farm, PersonRole(row.role), row.talk or row.conversation, row.name)


def _known(connection: Connection, chat: str) -> Member:
    member = _member(connection, chat)
    assert member is not None
    return member


def _tries(connection: Connection, chat: str, now: datetime) -> list[datetime]:
    """When codes failed here of late; older attempts are forgotten."""
    connection.execute(delete(attempt).where(attempt.c.tried_at <= now - TRIES_WITHIN))
    mine = select(attempt.c.tried_at).where(attempt.c.conversation == chat).order_by(attempt.c.tried_at)
    return list(connection.execute(mine).scalars())


def _used(connection: Connection, chat: str, code: str, now: datetime, name: str | None) -> Barred | None:
    """Let this chat in by the code, now or before; why not where it does not."""
    row = connection.execute(select(invitation).where(invitation.c.code == code)).first()
    me = _member(connection, chat)
    if row is None:
        return Barred(BarReason.UNKNOWN)
    if (row.used_by or chat) != chat or (row.used_by is not None and me is None):
        return Barred(BarReason.USED)
    if row.used_by is None and row.expires_at <= now:
        return Barred(BarReason.EXPIRED)
    if me and me.farm != row.farm:
        return Barred(BarReason.ELSEWHERE, farm=me.farm)
    if row.used_by is not None:
        return None
    talk = row.joins or _own(connection, chat, row.farm, now)
    connection.execute(update(invitation).where(invitation.c.code == code).values(used_by=chat, used_at=now))
    connection.execute(delete(person).where(person.c.conversation == chat))
    new = {"conversation": chat, "farm": row.farm, "role": row.role, "joined_at": now, "talk": talk}
    connection.execute(insert(person).values(**new, name=plain_name(name or "") or None))
    return None


def _own(connection: Connection, chat: str, farm: str, now: datetime) -> str:
    """The conversation of a new member: that of the chat, unless another farm has it already."""
    elsewhere = select(invitation.c.farm).where(invitation.c.used_by == chat, invitation.c.farm != farm).limit(1)
    before = connection.execute(select(conversation).where(conversation.c.id == chat)).first()
    taken = before.farm not in (None, farm) if before else False
    foreign = before is not None and before.farm is None and connection.execute(elsewhere).first() is not None
    if taken or foreign:
        return begin(connection, chat, farm, now)
    insert_new(connection, conversation, [{"id": chat, "farm": farm, "created": now}])
    connection.execute(update(conversation).where(conversation.c.id == chat).values(farm=farm))
    return chat


def begin(connection: Connection, chat: str, farm: str, now: datetime, planter: str | None = None) -> str:
    """A new conversation of a farm, inside somebody's transaction, called after nobody."""
    talk = nameless(chat)
    connection.execute(insert(conversation).values(id=talk, farm=farm, created=now, planter=planter))
    return talk


def nameless(chat: str) -> str:
    """A new name for a conversation in the same channel as the chat, which tells nothing of it."""
    return f"{chat.partition(':')[0]}{NAMELESS}{secrets.token_hex(8)}"
