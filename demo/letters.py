"""What goes between the demo and the process that holds the assistant: one JSON object a line, either way."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from pydantic import AwareDatetime, Field, TypeAdapter

from engine.expectation import Asking
from engine.messages import Language, Message
from speech.recognizer_choice import Preference


class Orders(Message):
    """How a worker is to be started: the record it keeps, the language, the ears it hears with, the zone of the clock
    on the wall, and when the evening began."""

    record: str
    language: Language
    ears: Preference
    zone: str
    began: AwareDatetime

    @property
    def place(self) -> Path:
        return Path(self.record)


class DemoUtterance(Message):
    """One thing said at a moment: a voice note where there is one, else the text as typed."""

    kind: Literal["said"] = "said"
    id: str
    at: AwareDatetime
    text: str
    note: str | None = None


class DemoWait(Message):
    """Nothing is said until a moment: what rings meanwhile is wanted."""

    kind: Literal["wait"] = "wait"
    until: AwareDatetime


Sent = Annotated[DemoUtterance | DemoWait, Field(discriminator="kind")]
SENT: TypeAdapter[DemoUtterance | DemoWait] = TypeAdapter(Sent)
"""Reads what is sent to a worker."""


class DemoCall(Message):
    """A reminder that rang: when, what it said, and for the how manieth time."""

    at: AwareDatetime
    text: str
    attempt: int


class DemoCalls(Message):
    """What rang while nothing was said, in order."""

    calls: tuple[DemoCall, ...]


class RowResult(Message):
    """One row of a judged run: where its dial stood and goes next, the catch, how far off (share), the verdict."""

    row: int
    setting: str
    next: str
    caught_g: float
    off: float
    verdict: str


class DemoResult(Message):
    """A judged run; ``target_g`` is what each row should catch."""

    run: int
    target_g: float
    rows: tuple[RowResult, ...]


class DemoStatus(Message):
    """Where the conversation stands: its newest turn, a digest of all that is known, and what is asked."""

    turn: int
    digest: str
    prompt: str
    asking: Asking
    choices: tuple[dict[str, str], ...] = ()
    """What each way of understanding a doubtful answer would keep."""


class DemoDoubt(Message):
    """Rows in doubt, and what is in doubt of them as the operator is told it; ``empty_at`` is when the first hopper
    would have been empty, ``more`` the acres that these rows would have missed until then."""

    rows: tuple[int, ...]
    since: AwareDatetime
    until: AwareDatetime
    area: str
    short: str
    empty_at: AwareDatetime | None
    more: str


class DemoTurn(Message):
    """One turn: what was heard by which ears (none for typed text), how sure and how long; the reply; what was kept;
    the run that it judged, and what it put in doubt."""

    at: AwareDatetime
    heard: str
    ears: str | None
    sure: float
    seconds: float
    reply: str
    kept: dict[str, str]
    result: DemoResult | None
    doubt: DemoDoubt | None
    standing: DemoStatus
