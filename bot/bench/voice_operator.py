"""A simulated operator who reads his catches out beside an engine, listens to the answer and mends what is wrong."""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.random import Generator

from engine.assistant import Assistant
from engine.dialog.facts.events import Kept, Withdrawn
from engine.dialog.schema.slot_roles import Role, name_in
from engine.entries.matching.numerals import spell, spell_digits
from engine.expectation import Asking, Expectation
from engine.history.store.journal import StoredTurn
from engine.history.store.turn_facts import facts_of
from engine.messages import Utterance
from engine.quantities import Measure
from engine.simulation.planter import planter

MOST_TRIES = 12
BEGINNING = (
    "set up",
    "eight",
    "thirty inches",
    "zero to thirty by one",
    "no",
    "skip",
    "skip",
    "two pounds an acre",
    "ten pounds an acre",
    "five pounds an acre",
    "five miles an hour",
    "three hundred feet",
    "scale",
    "forty grams",
    "one gram",
    "test run",
    "all at twelve",
)
"""A planter of eight rows with a target near 39 g over a container of 40 g, typed."""
ORDER = ("the first", "the second", "the third")
"""How one of several readings is chosen; of more than these, none."""
ROWS, TARGET_G, TARE_G, NOISE = 8, 39.0, 40.0, 0.02

Ears = Callable[[str, Expectation], Utterance]
"""What the assistant gets of a sentence that is said under an expectation."""


@dataclass
class CatchTally:
    """What it took: ``utterances`` for ``values``; ``wrong`` were kept wrong at some time, ``unread`` of those without
    being read back, ``left`` at the end; ``given_up`` never came through. ``seconds`` each turn took once heard."""

    values: int = 0
    utterances: int = 0
    wrong: int = 0
    unread: int = 0
    left: int = 0
    given_up: int = 0
    seconds: list[float] = field(default_factory=list)

    def add(self, other: CatchTally) -> None:
        for name, count in vars(other).items():
            setattr(self, name, getattr(self, name) + count)


@dataclass
class VoiceOperator:
    """Says the catches of one test run, each until it stands in the record as it was meant."""

    assistant: Assistant
    ears: Ears
    rng: random.Random
    conversation: str
    tried: CatchTally = field(default_factory=CatchTally)
    standing: dict[int, float] = field(default_factory=dict)

    def catch(self) -> CatchTally:
        truth = weighed(np.random.default_rng(self.rng.getrandbits(32)))
        rows = iter(truth)
        for row in rows:
            pair = [row, *(following for _ in range(self.rng.random() < 0.15) for following in [next(rows, 0)])]
            self._give({one: truth[one] for one in pair if one})
        self.tried.values += ROWS
        self.tried.left += sum(self.standing.get(row, value) != value for row, value in truth.items())
        self.tried.given_up += sum(row not in self.standing for row in truth)
        return self.tried

    def _give(self, values: dict[int, float]) -> None:
        for _ in range(MOST_TRIES):
            missing = {row: value for row, value in values.items() if self.standing.get(row) != value}
            if not missing:
                return
            self._listen(self._say(self._sentence(missing)), values)

    def _sentence(self, values: dict[int, float]) -> str:
        parts = [f"row {spell(row, 'en')} {self._spelled(value)}" for row, value in values.items()]
        following = next((slot.next_row for slot in self._expects.slots if slot.role == Role.CATCH_MASS), None)
        if following is not None and list(values) == [following] and self.rng.random() < 0.4:
            return self._spelled(values[following])
        return " ".join(parts)

    def _spelled(self, value: float) -> str:
        return spell_digits(value, "en") if self.rng.random() < 0.2 else spell(value, "en")

    def _listen(self, turn: StoredTurn, meant: dict[int, float]) -> None:
        """Answer questions about what was said, and take back what was kept wrong."""
        for _ in range(MOST_TRIES):
            self._note(turn, meant)
            if any(self.standing.get(row) not in (None, value) for row, value in meant.items()) or self._stray(meant):
                turn = self._say("scratch that")
            elif self._expects.asking is Asking.CONFIRM:
                fits = [_fits(candidate, meant) for candidate in self._expects.candidates]
                turn = self._say(self._answer("yes" if any(fits[:1]) else "no", meant))
            elif self._expects.asking is Asking.CHOOSE:
                fits = [_fits(candidate, meant) for candidate in self._expects.candidates]
                chosen = next((word for word, fit in zip(ORDER, fits, strict=False) if fit), "neither")
                turn = self._say(self._answer(chosen, meant))
            else:
                return

    def _answer(self, word: str, meant: dict[int, float]) -> str:
        """The answer; every second time that it was not understood the catch itself, as somebody would."""
        return self._sentence(meant) if self.assistant.state(self.conversation).misheard % 2 else word

    def _is_catch(self, slot: str) -> bool:
        dialog = self.assistant.state(self.conversation).dialog
        return dialog is not None and name_in(dialog.records, Role.CATCH_MASS) == slot

    def _stray(self, meant: dict[int, float]) -> bool:
        """Whether the last thing kept was for a row that was not meant."""
        return bool(self._kept) and any(row not in meant for row in self._kept)

    def _note(self, turn: StoredTurn, meant: dict[int, float]) -> None:
        self._kept = {}
        for fact in facts_of(turn):
            match fact:
                case Withdrawn(slot=slot, row=int(row)) if self._is_catch(slot):
                    self.standing.pop(row, None)
                case Kept(slot=slot, row=int(row), value=Measure(value=value)) if self._is_catch(slot):
                    self._kept[row] = self.standing[row] = value
        for row, value in self._kept.items():
            if meant.get(row) != value:
                self.tried.wrong += 1
                self.tried.unread += f"{value:g}" not in turn.reply.text.replace(".0 ", " ")

    def _say(self, text: str) -> StoredTurn:
        self.tried.utterances += 1
        heard = self.ears(text, self._expects)
        began = time.perf_counter()
        turn = self.assistant.hear(heard)
        self.tried.seconds.append(time.perf_counter() - began)
        return turn

    @property
    def _expects(self) -> Expectation:
        return self.assistant.expectation(self.conversation)

    _kept: dict[int, float] = field(default_factory=dict)


def _fits(candidate: str, meant: dict[int, float]) -> bool:
    """Whether a candidate as it is read out is what was meant: its numbers are rows and values of it."""
    found = list(_numbers(candidate))
    return len(found) == 2 and meant.get(int(found[0])) == found[1]


def _numbers(text: str) -> Iterator[float]:
    for part in text.replace(",", " ").split():
        try:
            yield float(part)
        except ValueError:
            continue


def weighed(generator: Generator) -> dict[int, float]:
    """What a scale of half grams shows for each row of a simulated planter in its first run, container and all."""
    planted = planter(generator, ROWS, NOISE)
    share = {row: planted.catch(row, planted.start, generator) / planted.target for row in planted.rows}
    return {row: round((TARE_G + TARGET_G * one) * 2) / 2 for row, one in share.items()}


def begun(assistant: Assistant, typed: Callable[[str], Utterance]) -> None:
    """Bring a conversation to the catches of its first test run."""
    for text in BEGINNING:
        assistant.hear(typed(text))
