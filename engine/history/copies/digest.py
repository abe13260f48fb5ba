"""What two records must have in common to be the same: their turns, and where these leave each conversation."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable

from sqlalchemy import Connection, select

from engine.dialog.facts.events import Fact
from engine.dialog.facts.fold import apply
from engine.dialog.facts.state import ConversationState
from engine.errors import UnreadableFact
from engine.history.copies.archive import ConversationDigest
from engine.history.store import tables
from engine.history.store.columns import instant_written, without_nul
from engine.history.store.journal import StoredTurn, read_turns
from engine.history.store.turn_facts import facts_of


def conversations(connection: Connection) -> tuple[str, ...]:
    """Every conversation, in the order of their names."""
    names = select(tables.conversation.c.id).order_by(tables.conversation.c.id)
    return tuple(connection.execute(names).scalars())


def digests(connection: Connection) -> dict[str, ConversationDigest]:
    """The turns of every conversation, counted and summed up."""
    return {name: digest(read_turns(connection, name)) for name in conversations(connection)}


def digest(turns: Iterable[StoredTurn]) -> ConversationDigest:
    """Turns with their facts as one checksum, the same on every database."""
    found, count = hashlib.sha256(), 0
    for turn in turns:
        plain = {
            **vars(turn),
            "conversation": "",
            "heard": without_nul(turn.heard),
            "said_at": instant_written(turn.said_at),
            "reply": turn.reply.model_dump(mode="json"),
        }
        found.update(json.dumps(plain, sort_keys=True).encode() + b"\n")
        count += 1
    return ConversationDigest(turns=count, sha256=found.hexdigest())


def states(connection: Connection) -> dict[str, ConversationState]:
    """Where every conversation stands that has turns: the fold of its facts, up to the first that cannot be read."""
    found = {name: state_of(read_turns(connection, name)) for name in conversations(connection)}
    return {name: state for name, state in found.items() if state is not None}


def state_of(turns: Iterable[StoredTurn]) -> ConversationState | None:
    """Where the turns of a conversation leave it; None before the first one."""
    state = None
    for turn in turns:
        state = state or beginning(turn.language)
        try:
            state = after(state, facts_of(turn))
        except UnreadableFact:
            return state
    return state


def beginning(language: str) -> ConversationState:
    """Where a conversation stands before its first turn."""
    return ConversationState.model_validate({"language": language})


def after(state: ConversationState, facts: Iterable[Fact]) -> ConversationState:
    """The state after more facts."""
    for fact in facts:
        state = apply(state, fact)
    return state
