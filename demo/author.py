"""Finds out what the operator says: plays his part against the assistant, typed, in memory, by a clock of its own."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from demo.script_lines import ANSWERS, DemoLine, DemoPart, kept
from engine.assistant import Assistant
from engine.database import open_database
from engine.dialog.facts.state import DialogState
from engine.expectation import Asking
from engine.history.store.turn_facts import facts_of
from engine.messages import Utterance
from engine.reminders.schedule import Schedule

BEGAN = datetime(2026, 4, 20, 21, 15)
"""When the evening begins by the clock on the wall, wherever it is played."""
TALK = "author"
EACH = 40
"""Seconds from one line to the next."""


class Author:
    """One evening in the making. ``at``: the seconds of it that have gone by."""

    def __init__(self) -> None:
        database = open_database(":memory:")
        self._assistant = Assistant(database)
        self._schedule = Schedule(database)
        self._count = 0
        self.at = 0

    @property
    def dialog(self) -> DialogState | None:
        return self._assistant.state(TALK).dialog

    @property
    def open_dialog(self) -> DialogState:
        if self.dialog is None:
            raise RuntimeError("the evening ended too early")
        return self.dialog

    @property
    def asked(self) -> str | None:
        """What is asked for, by its role; None where that is no value."""
        slots = self._assistant.expectation(TALK).slots
        return slots[0].role if slots else None

    @property
    def is_asked(self) -> bool:
        """Whether a value is asked for."""
        return self._assistant.expectation(TALK).asking is Asking.SLOT

    def seconds(self, moment: datetime) -> int:
        """How far into the evening a moment is."""
        return round((moment - _moment(0)).total_seconds())

    @property
    def due(self) -> int:
        """When the next look is asked for."""
        moment = self._schedule.next_due()
        if moment is None:
            raise RuntimeError("no look is asked for")
        return self.seconds(moment)

    def said(self, *lines: DemoLine, part: DemoPart, at: int | None = None) -> Iterator[DemoLine]:
        """Say these lines, the first one ``at``, and give each with its time."""
        self.at = self.at if at is None else at
        for line in lines:
            self._say(line.en)
            while self._assistant.expectation(TALK).asking is Asking.CONFIRM:
                self._say(ANSWERS["yes"].en)
            yield replace(line, part=part, at=self.at)
            self.at += EACH

    def reported(self, *lines: DemoLine, part: DemoPart, at: int | None = None) -> Iterator[DemoLine]:
        """The same, each line with what the assistant put into the record for it."""
        self.at = self.at if at is None else at
        for line in lines:
            before = self.dialog
            keeps = kept(facts_of(self._assistant.hear(self._utterance(line.en))), before)
            yield replace(line, keeps=keeps, part=part, at=self.at)
            self.at += EACH

    def _say(self, text: str) -> None:
        self._assistant.hear(self._utterance(text))

    def _utterance(self, text: str) -> Utterance:
        self._count += 1
        return Utterance(
            id=f"{TALK}:{self._count}", conversation=TALK, text=text, language="en", said_at=_moment(self.at)
        )


def _moment(at: int) -> datetime:
    return BEGAN.replace(tzinfo=UTC) + timedelta(seconds=at)
