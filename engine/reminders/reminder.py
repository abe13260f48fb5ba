"""What a reminder is, what can be done to it, and what it says when it rings."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from enum import StrEnum

from engine.queues.outbox_message import Audience as Audience
from engine.queues.outbox_message import OutboxMessage
from engine.reminders.local_time import LocalTime


class Stage(StrEnum):
    """Where a reminder is: not due yet, asked, asked in vain and the foreman told, answered, said once where nothing is
    to be answered, or called off."""

    WAITING = "waiting"
    ASKED = "asked"
    TOLD = "told"
    ANSWERED = "answered"
    SAID = "said"
    CALLED_OFF = "called_off"


OPEN = (Stage.WAITING, Stage.ASKED, Stage.TOLD)
"""The stages in which an answer is still wanted, or something is still to be said."""
_ONCE = "once"


# ---------------------------------------------------------------- changes that a turn makes


@dataclass(frozen=True)
class Remind:
    """Ask at ``wall``; an open reminder of the same name in the conversation is called off.

    ``elapsed`` means after a length of time, not at an hour: it moves along when the clock is set. ``body`` is
    JSON-ready and comes back when it rings. ``foreman`` is the conversation to tell when nobody answers. ``once``:
    there is nothing to answer, so it is said one time, to the foremen as well.
    """

    name: str
    wall: LocalTime
    elapsed: bool = False
    body: dict[str, object] = field(default_factory=dict)
    foreman: str | None = None
    once: bool = False

    @property
    def kept_body(self) -> dict[str, object]:
        """What its row keeps of it as JSON."""
        return {**self.body, _ONCE: True} if self.once else self.body


@dataclass(frozen=True)
class Snooze:
    """Ask again at ``until``, from the first try."""

    name: str
    until: datetime


@dataclass(frozen=True)
class Answer:
    """Somebody looked; nothing more is asked."""

    name: str


@dataclass(frozen=True)
class CallOff:
    """Not wanted any more; ``name`` None means every open one."""

    name: str | None = None


Change = Remind | Snooze | Answer | CallOff


# ---------------------------------------------------------------- what is read and said


@dataclass(frozen=True)
class Reminder:
    """One reminder as it stands. ``due_at`` moves with a snooze; ``wall`` is how it was set."""

    id: int
    conversation: str
    name: str
    wall: LocalTime
    due_at: datetime
    next_at: datetime | None
    stage: Stage
    asked: int
    rung: int
    body: dict[str, object]
    foreman: str | None = None

    @property
    def once(self) -> bool:
        """Whether it is said one time, with nothing to answer."""
        return is_once(self.body)


def is_once(body: Mapping[str, object]) -> bool:
    """Whether a reminder with this body is said one time, with nothing to answer."""
    return body.get(_ONCE) is True


@dataclass(frozen=True)
class ReminderItem:
    """One reminder in a message: which try this is, from 1, and how late it comes."""

    reminder: Reminder
    attempt: int
    late: timedelta


@dataclass(frozen=True)
class Ring:
    """One message for one conversation: all that is due there now, oldest first.

    ``missed``: something in it comes later than the grace, because the program was away.
    ``loudness`` counts from 1 and grows with every try that nobody answered. ``instead_of`` are the messages that
    asked the same before, which nobody needs to read any more. ``unshown``: a foreman is told because the last call
    waits at the machine, where nothing runs that shows it.
    """

    conversation: str
    audience: Audience
    at: datetime
    items: tuple[ReminderItem, ...]
    missed: bool
    instead_of: tuple[str, ...] = ()
    unshown: bool = False

    @property
    def loudness(self) -> int:
        return max(item.attempt for item in self.items)


@dataclass(frozen=True)
class Relief:
    """A message for a foreman who was told that nobody answers: somebody did, at ``at``, and asked is no more."""

    conversation: str
    at: datetime
    reminder: Reminder


class ClockKind(StrEnum):
    """How a clock went wrong."""

    FORWARD = "forward"
    BACK = "back"
    STOPPED = "stopped"


@dataclass(frozen=True)
class ClockChange:
    """The clock that people set moved ``by`` more (or less) than the time that really passed."""

    kind: ClockKind
    by: timedelta
    seen_at: datetime


@dataclass(frozen=True)
class ClockNotice:
    """A message for a conversation with open reminders: its clock cannot be believed."""

    conversation: str
    change: ClockChange
    waiting: tuple[Reminder, ...]


Compose = Callable[[Ring | Relief | ClockNotice], OutboxMessage]
"""Words what rings."""
