"""The facts of stored turns, read where it is known which turn they stand in."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from engine.dialog.facts.events import Fact, Finished
from engine.errors import UnreadableFact
from engine.facts import read_fact
from engine.history.store.journal import StoredTurn


def facts_of(turn: StoredTurn) -> tuple[Fact, ...]:
    """What a turn kept. Raises UnreadableFact with its place where that is not understood."""
    try:
        return tuple(dated(read_fact(body), turn.said_at) for body in turn.facts)
    except UnreadableFact as error:
        raise error.at(turn.conversation, turn.seq) from error


def dated(fact: Fact, said_at: datetime) -> Fact:
    """An end that was written without its time ended when its turn was said."""
    if isinstance(fact, Finished) and fact.at is None:
        return fact.model_copy(update={"at": said_at})
    return fact


def readable(turns: Iterable[StoredTurn]) -> tuple[tuple[StoredTurn, ...], UnreadableFact | None]:
    """The turns before the first that cannot be read, and what is wrong with that one."""
    found: list[StoredTurn] = []
    for turn in turns:
        try:
            facts_of(turn)
        except UnreadableFact as error:
            return tuple(found), error
        found.append(turn)
    return tuple(found), None
