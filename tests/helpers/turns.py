"""Small turns for tests of the journal."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from engine.history.store.journal import NewTurn
from engine.messages import Reply, Utterance
from engine.queues.outbox import Outgoing
from engine.queues.outbox_message import TextMessage

START = datetime(2026, 4, 21, 22, 15, tzinfo=UTC)


def utterance(name: str, text: str = "row one forty nine", conversation: str = "c1", minutes: float = 0) -> Utterance:
    moment = START + timedelta(minutes=minutes)
    return Utterance(id=name, conversation=conversation, text=text, language="en", said_at=moment)


def new_turn(
    seq: int,
    *facts: dict[str, object],
    conversation: str = "c1",
    name: str | None = None,
    sends: int = 0,
    minutes: float = 0,
    text: str = "row one forty nine",
    scripts: dict[str, tuple[str, str]] | None = None,
) -> NewTurn:
    said = utterance(name or f"{conversation}-{seq}", text=text, conversation=conversation, minutes=minutes)
    outgoing = tuple(
        Outgoing(
            key=f"{said.id}/{number}",
            conversation=conversation,
            message=TextMessage(text=f"{number}"),
            due_at=said.said_at,
        )
        for number in range(sends)
    )
    return NewTurn(conversation, seq, said, Reply(text=f"heard {text}"), facts, scripts or {}, outgoing)
