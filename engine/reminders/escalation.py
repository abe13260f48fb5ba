"""Whom to tell when nobody answers, where the reminder itself does not say."""

from __future__ import annotations

from sqlalchemy import Connection, or_, select

from engine.crew.roles import WHOLE_FARM, PersonRole
from engine.history.store.tables import conversation, person

CHANNEL_END = ":"
"""Ends the channel in the name of a chat; a conversation at the machine that keeps the record has none."""


def at_the_machine(talk: str) -> bool:
    """Whether a conversation is one at the machine itself, whose calls nobody sees while no program runs there."""
    return CHANNEL_END not in talk


def foremen(connection: Connection, talk: str) -> tuple[str, ...]:
    """The chats of the foremen of the farm that a conversation belongs to, of its owners where it has no foreman.

    Who takes part in the conversation is not among them. A conversation at the machine itself belongs to the farm of
    the record, where there is just one.
    """
    farm = _farm(connection, talk)
    if farm is None:
        return ()
    elsewhere = person.c.conversation != talk, or_(person.c.talk.is_(None), person.c.talk != talk)
    there = select(person).where(person.c.farm == farm, person.c.role.in_(WHOLE_FARM), *elsewhere)
    found = connection.execute(there.order_by(person.c.joined_at, person.c.conversation)).all()
    first = tuple(row.conversation for row in found if row.role == PersonRole.FOREMAN)
    return first or tuple(row.conversation for row in found)


def _farm(connection: Connection, talk: str) -> str | None:
    own = connection.execute(select(conversation.c.farm).where(conversation.c.id == talk)).scalar()
    if own is not None or not at_the_machine(talk):
        return own
    farms = connection.execute(select(person.c.farm).distinct().limit(2)).scalars().all()
    return farms[0] if len(farms) == 1 else None
