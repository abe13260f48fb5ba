"""The emergencies of a conversation: when somebody asked whom to call, in what words, and what was handled by then."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from engine.dialog.facts.book_facts import Alarmed
from engine.history.export import Cells, instant
from engine.history.store.journal import StoredTurn
from engine.history.store.turn_facts import facts_of


@dataclass(frozen=True)
class EmergencyAsked:
    """One emergency; ``product`` and ``registration`` as far as they were known."""

    conversation: str
    at: datetime
    heard: str
    product: str | None
    registration: str | None


def alarms(turns: Iterable[StoredTurn]) -> tuple[EmergencyAsked, ...]:
    """The emergencies in the turns of one conversation, oldest first. Raises UnreadableFact."""
    return tuple(
        EmergencyAsked(turn.conversation, fact.at, turn.heard, fact.product, fact.registration)
        for turn in turns
        for fact in facts_of(turn)
        if isinstance(fact, Alarmed)
    )


def alarm_lines(found: Iterable[EmergencyAsked]) -> list[Cells]:
    """One emergency a line."""
    return [
        {
            "planter": one.conversation,
            "at": instant(one.at),
            "heard": one.heard,
            "product": one.product or "",
            "registration": one.registration or "",
        }
        for one in found
    ]
