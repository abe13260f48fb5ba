"""What can go wrong on demand, and the book in which a test plans it."""

from __future__ import annotations

from dataclasses import dataclass

from tests.helpers.telegram_server.refusal import Refusal


@dataclass(frozen=True)
class Refused:
    """The method answers a refusal and does nothing."""

    refusal: Refusal


@dataclass(frozen=True)
class Gateway:
    """A page of a gateway (502, 503, 504) instead of an answer; nothing was done."""

    code: int = 502


@dataclass(frozen=True)
class Cut:
    """The line breaks: before the work, or after it (``done``) so that the client cannot know."""

    done: bool = False


@dataclass(frozen=True)
class Silent:
    """No answer for some seconds, though the work was done (or not)."""

    seconds: float
    done: bool = True


@dataclass(frozen=True)
class Half:
    """A file breaks off in the middle of its download."""


@dataclass(frozen=True)
class Repeats:
    """getUpdates gives the last confirmed updates again, as after a confirmation that was lost."""

    count: int


@dataclass(frozen=True)
class Shuffled:
    """getUpdates gives its batch in another order (the order inside each chat is kept or not)."""

    seed: int
    within_chats: bool = False


Fault = Refused | Gateway | Cut | Silent | Half | Repeats | Shuffled
DOWNLOAD = "download"


@dataclass
class Plan:
    """A fault for the next calls of one method, perhaps for one chat only."""

    method: str
    fault: Fault
    times: int
    chat_id: int | None


class Faults:
    """What is planned; each call takes at most one."""

    def __init__(self) -> None:
        self.plans: list[Plan] = []
        self.network_down = False

    def plan(self, method: str, fault: Fault, *, times: int = 1, chat_id: int | None = None) -> None:
        """``method`` is a Bot API method or ``download``; plans of one method are taken in order."""
        self.plans.append(Plan(method, fault, times, chat_id))

    def take(self, method: str, chat_id: object = None) -> Fault | None:
        for plan in self.plans:
            if plan.method == method and plan.chat_id in (None, chat_id):
                plan.times -= 1
                if plan.times == 0:
                    self.plans.remove(plan)
                return plan.fault
        return None
