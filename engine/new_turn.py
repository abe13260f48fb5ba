"""A turn as it is kept: its facts with their format, the scripts they rest on, and the messages that it sends."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from engine.dialog.facts.book_facts import Documented
from engine.dialog.facts.events import Attached, Fact, Finished, Started
from engine.dialog.facts.neighbours import renamings
from engine.dialog.interpreter import Turn
from engine.dialog.schema.slot_roles import Phase, Role
from engine.facts import write_fact
from engine.history.store.journal import NewTurn
from engine.history.store.scan import Scan
from engine.library import Library
from engine.messages import Reply, Utterance
from engine.queues.outbox import Outgoing
from engine.queues.outbox_message import TextMessage


def new_turn(library: Library, utterance: Utterance, seq: int, turn: Turn, deliver: Sequence[str]) -> NewTurn:
    """What is appended of a turn; the first of those it is delivered to spoke."""
    planter = turn.state.book.of(Role.PLANTER)
    set_up = any(isinstance(fact, Finished) and fact.phase is Phase.SET_UP for fact in turn.facts)
    started = {fact.script: fact.dialog for fact in turn.facts if isinstance(fact, Started)}
    return NewTurn(
        conversation=utterance.conversation,
        seq=seq,
        utterance=utterance,
        reply=turn.reply,
        facts=tuple(write_fact(fact) for fact in turn.facts),
        scripts={digest: (name, library.sources[digest]) for digest, name in started.items()},
        outgoing=tuple(_outgoing(utterance, turn.reply, seq, to, to == deliver[0]) for to in deliver),
        reminders=turn.reminders,
        planter=planter if set_up and isinstance(planter, str) else None,
        planters_renamed=tuple(renamings(turn.facts, Role.PLANTER)),
    )


def is_kept(facts: Iterable[Fact], scan: Scan) -> bool:
    """Whether a turn kept a document."""
    return any(isinstance(fact, Documented | Attached) and fact.document == scan.document for fact in facts)


def _outgoing(utterance: Utterance, reply: Reply, seq: int, to: str, spoke: bool) -> Outgoing:
    return Outgoing(
        key=f"reply:{utterance.id}" if spoke else f"reply:{utterance.id}:{to}",
        conversation=to,
        message=TextMessage(text=reply.text, speech=reply.speech, buttons=reply.buttons, seq=seq, silent=not spoke),
        due_at=utterance.said_at,
    )
