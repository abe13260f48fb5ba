"""The dialogs of a conversation, one after another: each with its facts as they came, and how it ended."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum

from engine.dialog.facts.events import Cancelled, Fact, Finished, Started
from engine.dialog.facts.fold import apply
from engine.dialog.facts.state import ConversationState, DialogState
from engine.dialog.schema.slot_roles import Phase
from engine.history.store.journal import StoredTurn
from engine.history.store.turn_facts import facts_of
from engine.messages import System


class Ending(StrEnum):
    """``open``: still under way, or given up without a word."""

    FINISHED = "finished"
    CANCELLED = "cancelled"
    OPEN = "open"


@dataclass(frozen=True)
class FactStep:
    """One fact, the turn it was told in, and where the dialog stood after it."""

    turn: StoredTurn
    fact: Fact
    state: DialogState


@dataclass(frozen=True)
class Segment:
    """One dialog from its start to its end; ``state`` is how it stood last, ``last`` the turn that ended it.

    ``system`` are the units that were wanted in it last.
    """

    steps: tuple[FactStep, ...]
    last: StoredTurn
    ending: Ending
    system: System

    @property
    def first(self) -> StoredTurn:
        return self.steps[0].turn

    @property
    def state(self) -> DialogState:
        return self.steps[-1].state


def segments(turns: Iterable[StoredTurn], phase: Phase) -> Iterator[Segment]:
    """The dialogs of this phase in the turns of one conversation, given from its first turn on, oldest first."""
    return (found for found in _all(turns) if found.state.phase is phase)


def _all(turns: Iterable[StoredTurn]) -> Iterator[Segment]:
    state: ConversationState | None = None
    steps: list[FactStep] = []
    for turn in turns:
        for fact in facts_of(turn):
            state = apply(state or ConversationState.model_validate({"language": turn.language}), fact)
            if steps and isinstance(fact, Started | Finished | Cancelled):
                yield Segment(tuple(steps), turn, _ending(fact), state.system)
                steps = []
            if state.dialog and (steps or isinstance(fact, Started)):
                steps.append(FactStep(turn, fact, state.dialog))
        last = turn
    if steps and state:
        yield Segment(tuple(steps), last, Ending.OPEN, state.system)


def _ending(fact: Fact) -> Ending:
    return Ending.FINISHED if isinstance(fact, Finished) else Ending.CANCELLED
