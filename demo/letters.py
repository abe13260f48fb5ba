"""What goes between the demo and the process that holds the assistant: one JSON object a line, either way."""

from __future__ import annotations

from pathlib import Path

from engine.expectation import Asking
from engine.messages import Language, Message
from speech.recognizer_choice import Preference


class Orders(Message):
    """How a worker is to be started: the record it keeps, the language, and the ears it hears with."""

    record: str
    language: Language
    ears: Preference

    @property
    def place(self) -> Path:
        return Path(self.record)


class DemoUtterance(Message):
    """One thing said: a voice note where there is one, else the text as typed."""

    id: str
    text: str
    note: str | None = None


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


class DemoTurn(Message):
    """One turn: what was heard by which ears (none for typed text), how sure and how long; the reply; what was kept."""

    heard: str
    ears: str | None
    sure: float
    seconds: float
    reply: str
    kept: dict[str, str]
    result: DemoResult | None
    standing: DemoStatus
