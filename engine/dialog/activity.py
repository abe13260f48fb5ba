"""What a step that watches hands over to: an activity, which takes reports in any order until it ends.

The dialog room knows this door and no activity behind it. The facts of an activity and its state are subclasses of
those here, found again by their ``kind``; how a fact changes the state stands in ``folds``. So another activity is a
room of its own that implements ``Activity``, and nothing in the dialog room changes.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Protocol, TypeVar

from pydantic import AwareDatetime, BeforeValidator, SerializeAsAny

from engine.dialog.facts.applied import Applied
from engine.dialog.schema.slot_roles import Role
from engine.messages import Asked, Commanded, Message, Report, Reported
from engine.quantities import Measure
from engine.reminders.reminder import Change
from engine.values import Rows, Value

if TYPE_CHECKING:
    from engine.dialog.facts.events import Cancelled
    from engine.dialog.facts.state import ConversationState, DialogState
    from engine.dialog.reply.wording import Wording
    from engine.dialog.schema.script import Script
    from engine.dialog.turns.turn_builder import TurnBuilder


class _OfKind(Message):
    """What is found again by its kind, among those that are ``known``."""

    kind: str
    known: ClassVar[dict[str, type[Message]]] = {}

    @classmethod
    def __pydantic_init_subclass__(cls, **given: Any) -> None:
        super().__pydantic_init_subclass__(**given)
        if isinstance(kind := cls.model_fields["kind"].default, str):
            cls.known[kind] = cls


class ActivityFact(_OfKind):
    """Something that happened in an activity."""

    known: ClassVar[dict[str, type[Message]]] = {}
    """Every kind of fact that some activity writes."""

    def completed(self, _of: Callable[[Role], Value | Rows | None]) -> ActivityFact:
        """A fact of an earlier format with what it lacks, from what its dialog knew, by role."""
        return self


class KeptReport(ActivityFact):
    """A report that was kept: "scratch that" takes it back, with all that followed from it."""

    report: Report
    value: Value | None = None
    said: str = ""
    at: AwareDatetime | None = None
    """When it was said."""


class Load(Message):
    """What went into the hoppers of one lot in an activity; ``weighed`` where all of it was."""

    lot: str | None = None
    mass: Measure
    weighed: bool = True


class ActivityState(_OfKind):
    """Where an activity stands: the fold of its facts."""

    ended: bool = False
    known: ClassVar[dict[str, type[Message]]] = {}
    """The state of every activity."""

    @property
    def learned(self) -> dict[str, float]:
        """Numbers that the next time begins with."""
        return {}

    @property
    def loads(self) -> tuple[Load, ...]:
        """What went into the hoppers by lot, in order; the first is what was there at the beginning."""
        return ()

    @property
    def operator(self) -> str | None:
        """Who did it last, where a name was told."""
        return None

    def product(self, planned: str | None) -> str | None:
        """What is handled in it now, where it began with what was ``planned``; None where that is not known."""
        return planned

    @property
    def treating(self) -> str | None:
        """The field that is treated in it now; None where that has no name, or nothing is treated any more."""
        return None

    def left(self) -> tuple[Applied, ...]:
        """What was applied in it where nothing is applied any more, by the clock on the wall; without amounts."""
        return ()

    def applied(self, _put_back: Measure | None = None) -> tuple[Applied, ...]:
        """What was applied where in it; ``put_back`` is what was weighed as left after it."""
        return ()


Fold = Callable[[Any, Any], ActivityState]
"""The state of an activity, None before it began, and one more fact: the state after it."""
_FOLDS: dict[type[ActivityFact], Fold] = {}
F = TypeVar("F", bound=Fold)


def folds(*kinds: type[ActivityFact]) -> Callable[[F], F]:
    """Declares a function as the fold of these facts."""

    def declared(fold: F) -> F:
        _FOLDS.update(dict.fromkeys(kinds, fold))
        return fold

    return declared


def folded(state: ActivityState | None, fact: ActivityFact) -> ActivityState:
    """The state of an activity after one more of its facts."""
    return _FOLDS[type(fact)](state, fact)


def _as_one_of(known: Mapping[str, type[Message]]) -> Callable[[Any], Any]:
    def read(data: Any) -> Any:
        found = known.get(data.get("kind", "")) if isinstance(data, dict) else None
        return found.model_validate(data) if found else data

    return read


AnyReport = Annotated[SerializeAsAny[KeptReport], BeforeValidator(_as_one_of(ActivityFact.known))]
AnyState = Annotated[SerializeAsAny[ActivityState], BeforeValidator(_as_one_of(ActivityState.known))]


@dataclass(frozen=True)
class Reports:
    """What may be told now: ``kinds`` of reports, ``naming`` the one that waits for a name, ``names`` those that are
    known, by report; ``down`` are rows told as stopped or high; ``latest`` the report that was kept last, where it can
    be told again otherwise."""

    kinds: tuple[Report, ...]
    naming: Report | None = None
    names: Mapping[Report, tuple[str, ...]] = field(default_factory=dict)
    down: tuple[int, ...] = ()
    latest: Reported | None = None


class Activity(Protocol):
    """Takes the reports of a step that watches. Pure: the time comes in on the turn, which is a ``TurnBuilder``."""

    @property
    def name(self) -> str:
        """What dialog files call it."""

    def expects(self, script: Script, state: ConversationState) -> Reports:
        """What may be told now."""

    def take(self, turn: TurnBuilder, reports: Sequence[Reported]) -> None:
        """Take the reports of one utterance: note them, answer each."""

    def meant(self, turn: TurnBuilder, commanded: Commanded) -> Reported | None:
        """The report that a command means here, such as "done" at the end; None where it means what it always does."""

    def answer(self, turn: TurnBuilder, asked: Asked) -> bool:
        """Answer a question from what is known here; False where it is to be answered as anywhere else."""

    def keep(self, turn: TurnBuilder) -> None:
        """Begin where the dialog has just come to the step, and set right at the end of each turn what follows."""

    def prompt(self, dialog: DialogState, wording: Wording, now: datetime) -> str:
        """What stands at the end of every reply: what is waited for."""

    def hint(self, wording: Wording) -> str:
        """What may be said, for help."""

    def status(self, turn: TurnBuilder) -> None:
        """Say how far it is."""

    def leave(self, turn: TurnBuilder, to_return: bool) -> Cancelled:
        """Note what ends with it; the fact with which the dialog is left before its end."""

    def reminders(self, before: ConversationState, after: ConversationState) -> tuple[Change, ...]:
        """What a turn does to the reminders of the conversation."""
