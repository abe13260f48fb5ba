"""Brings conversations to the places of a suite, in memory: each is played once, and every case begins there anew."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from functools import cached_property

from bot.bench.suite import Context, Suite
from engine.conversation_defaults import ConversationDefaults
from engine.data.languages import Language
from engine.dialog.facts.state import ConversationState
from engine.dialog.interpreter import Interpreter, Turn
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.entries.strict_reader import read
from engine.errors import InputError
from engine.expectation import Asking, Expectation
from engine.library import load_library
from engine.messages import Reading, Utterance
from engine.understanding.reader import understand

EVENING = datetime(2026, 4, 28, 19, 0, tzinfo=UTC)
MOST_LINES = 400


@dataclass(frozen=True)
class SuitePlace:
    """A conversation somewhere in a job, and the time there; ``asked`` is the last reply."""

    state: ConversationState
    at: datetime
    asked: str = ""


@dataclass(frozen=True)
class Exchange:
    """One utterance with what came of it."""

    reading: Reading
    turn: Turn


@dataclass
class SuiteStage:
    """Plays the contexts of one suite in one language; ``strictly`` by known patterns alone."""

    suite: Suite
    language: Language
    strictly: bool = False
    _places: dict[str, SuitePlace] = field(default_factory=dict)

    @cached_property
    def interpreter(self) -> Interpreter:
        return ConversationDefaults(language=self.language).interpreter(load_library())

    def expectation(self, place: SuitePlace) -> Expectation:
        return self.interpreter.expectation(place.state)

    def say(self, place: SuitePlace, text: str) -> Exchange:
        """What comes of a text there; the place itself stays as it is."""
        expected = self.expectation(place)
        utterance = Utterance(
            id="utterance", conversation="suite", text=text, language=expected.language, said_at=place.at
        )
        reading = (read if self.strictly else understand)(
            utterance, expected, load_vocabulary(expected.language), ConversationDefaults().acceptance
        )
        return Exchange(reading, self.interpreter.take(place.state, reading, place.at))

    def place(self, name: str) -> SuitePlace:
        """The place of a context; InputError where its lines do not lead there."""
        if name not in self._places:
            self._places[name] = self._played(name)
        return self._places[name]

    def _played(self, name: str) -> SuitePlace:
        if name not in self.suite.contexts:
            raise InputError(f"no context is called {name}")
        context = self.suite.contexts[name]
        begun = ConversationState(language=self.language)
        place = self.place(context.base) if context.base else SuitePlace(begun, EVENING)
        for dialog in context.through:
            place = self._answered(self._opened(place, dialog), context, None)
        if context.open:
            place = self._opened(place, context.open)
        if context.open or context.at:
            place = self._answered(place, context, context.at)
        if context.later is not None:
            place = replace(place, at=EVENING + timedelta(minutes=context.later))
        for line in context.say:
            place = self._on(place, line)
        return place

    def _opened(self, place: SuitePlace, dialog: str) -> SuitePlace:
        return self._on(place, self.suite.opens.get(dialog, dialog))

    def _on(self, place: SuitePlace, line: str) -> SuitePlace:
        turn = self.say(place, line).turn
        return SuitePlace(turn.state, place.at + timedelta(seconds=1), turn.reply.text)

    def _answered(self, place: SuitePlace, context: Context, at: str | None) -> SuitePlace:
        """Answers what is asked up to the slot named, or to the end of the dialog."""
        for _ in range(MOST_LINES):
            dialog, expected = place.state.dialog, self.expectation(place)
            if dialog is None or (expected.asking is Asking.REPORT and at in (None, "watching")):
                return place
            slot = expected.slots[0].name if expected.slots else ""
            if at is not None and slot == at and expected.asking is Asking.SLOT:
                return place
            answers = {**self.suite.answers, **context.answers}
            asked = "confirm" if expected.asking in (Asking.CONFIRM, Asking.CHOOSE) else slot
            place = self._on(place, answers.get(asked, answers["otherwise"]))
        raise InputError(f"{context.open}: {at or 'its end'} is never reached; the last reply was {place.asked!r}")
