"""A question about something already said, to be answered before it counts."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum

from pydantic import AwareDatetime

from engine.messages import DoubtReason, Given, Message, Reported
from engine.values import Value


class QuestionKind(StrEnum):
    """What a question is about: a doubtful value, a value that replaces another, one of several readings,
    a check's warning, a report heard unsurely or that can hardly be, one of several ways to take a report, leaving a
    dialog, leaving it for another, or ending it without some rows."""

    DOUBT = "doubt"
    REPLACE = "replace"
    CHOICE = "choice"
    CHECK = "check"
    REPORT = "report"
    WAY = "way"
    CANCEL = "cancel"
    LEAVE = "leave"
    STOP = "stop"


class ValueReading(Message):
    """One way to understand what was said: these values, in this run."""

    givens: tuple[Given, ...]
    run: int


class ReportWay(Message):
    """One way to take a report, by the name that texts and vocabulary have for it."""

    name: str
    reports: tuple[Reported, ...]


class Question(Message):
    """``readings`` are what a yes, or a choice, would keep; there are several only to choose from.

    ``old`` is the value that would be replaced; ``check`` and ``outcome`` name the warning to be confirmed and
    ``shown`` the figures in it; ``reports`` are what a yes would take, said ``at``, ``instead`` what a no would take,
    and ``ways`` those to choose from; ``key`` is the text that asks for them, with its ``figures``; ``dialog`` is the
    one to open after leaving, ``rows`` are those to be done without.
    """

    about: QuestionKind
    readings: tuple[ValueReading, ...] = ()
    reason: DoubtReason | None = None
    old: Value | None = None
    check: int | None = None
    outcome: str | None = None
    shown: dict[str, Value] = {}
    reports: tuple[Reported, ...] = ()
    instead: tuple[Reported, ...] = ()
    ways: tuple[ReportWay, ...] = ()
    key: str | None = None
    figures: dict[str, str] = {}
    at: AwareDatetime | None = None
    dialog: str | None = None
    rows: tuple[int, ...] = ()


def said_again(question: Question | None, givens: Sequence[Given]) -> bool:
    """Whether doubtful values were simply repeated: twice the same is sure. What was only held possible is not repeated
    by being heard: what is misheard once is misheard again."""
    readings = question.readings if question is not None else ()
    likeliest = question is not None and question.about is QuestionKind.DOUBT
    told = [one for reading in readings[: 1 if likeliest else None] for one in reading.givens]
    before = [(one.slot, one.row, one.value) for one in told]
    barely = any(given.doubt is DoubtReason.BARELY_HEARD for given in givens)
    return not barely and all((given.slot, given.row, given.value) in before for given in givens)
