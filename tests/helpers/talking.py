"""Conversations with the real assistant on a database of the test."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from engine.assistant import Assistant
from engine.conversation_defaults import ConversationDefaults
from engine.database import open_database
from engine.entries.acceptance import load_acceptance
from engine.expectation import Asking, Expectation
from engine.history.store.journal import Journal, StoredTurn
from engine.library import Library, load_library
from engine.messages import HeardWord, Language, System, Utterance
from engine.values import Setting
from tests.helpers.retelling import retell

START = datetime(2026, 4, 21, 22, 15, tzinfo=UTC)
BEGINNINGS = Path(__file__).parent.parent / "conversations" / "beginnings.yml"


@cache
def library() -> Library:
    return load_library()


@cache
def beginnings() -> dict[str, list[str]]:
    """Utterances that bring a conversation to a place, by name."""
    found: dict[str, list[str]] = yaml.safe_load(BEGINNINGS.read_text(encoding="utf-8"))
    return found


class Conversation:
    """One conversation; ``restart`` opens its database anew, as after a crash."""

    def __init__(self, database: Path, language: Language = "en", system: System = System.US) -> None:
        self._database = database
        self._rules = ConversationDefaults(
            language=language, system=system, numbers={"emergency": "1", "poison": "2", "spill": "3"}
        )
        self._begins = language, system
        self._told: list[tuple[str, str | None, datetime]] = []
        self._waited = timedelta()
        self.assistant = self._open()

    def _open(self) -> Assistant:
        self._record = open_database(str(self._database))
        return Assistant(self._record, self._rules, library())

    def restart(self) -> None:
        self.assistant = self._open()

    def wait(self, minutes: float) -> None:
        """Say nothing for so long, beside the minute between two utterances."""
        self._waited += timedelta(minutes=minutes)

    def utterance(self, text: str, heard: str | None = None) -> Utterance:
        """Typed text, or words that were heard "well", or so "badly" that a value is asked."""
        number, moment = len(self._told) + 1, self._moment(len(self._told) + 1)
        self._told.append((text, heard, moment))
        language = self.assistant.state("c").language
        said = Utterance(id=f"u{number}", conversation="c", text=text, language=language, said_at=moment)
        if heard is None:
            return said
        limits = load_acceptance()
        sure = {"well": 1.0, "badly": (limits.value_heard + limits.value_kept) / 2}[heard]
        words = tuple(HeardWord(text=word, confidence=sure) for word in text.split())
        return said.model_copy(update={"spoken": True, "words": words})

    def say(self, text: str, heard: str | None = None) -> StoredTurn:
        return self.assistant.hear(self.utterance(text, heard))

    def say_all(self, texts: Sequence[str]) -> StoredTurn:
        """Typed texts, one after the other; the last turn."""
        first = len(self._told) + 1
        after = [*self._told, *((text, None, self._moment(number)) for number, text in enumerate(texts, first))]
        retell(self._record, (self._begins, tuple(after)), lambda: [self.say(text) for text in texts])
        self._told = after
        return Journal(self._record).turns("c", len(after) - 1)[-1]

    def _moment(self, number: int) -> datetime:
        return START + timedelta(minutes=number) + self._waited

    @property
    def expects(self) -> Expectation:
        return self.assistant.expectation("c")

    @property
    def asks(self) -> str | None:
        """The slot asked for, or "confirm", or "choose"; None where nothing is."""
        expects = self.expects
        if expects.asking in (Asking.CONFIRM, Asking.CHOOSE):
            return expects.asking.value
        return expects.slots[0].name if expects.asking is Asking.SLOT else None

    def settings(self) -> dict[int, Setting]:
        """Where the dials stand in this run."""
        dialog = self.assistant.state("c").dialog
        rows = dialog.rows["dial_setting"] if dialog else {}
        return {row: value for row, value in rows.items() if isinstance(value, Setting)}


def caught(settings: Mapping[int, Setting], planter: Mapping[str, Any]) -> str:
    """What an operator says after a run of a planter whose rows give so many grams a notch."""
    grams = {row: planter["tare"] + planter["grams"][row] * one.position for row, one in settings.items()}
    rows = ", ".join(f"{planter['row']} {row} {weight:.0f} {planter['unit']}" for row, weight in grams.items())
    return f"{planter['time']}, {rows}"


QUIET = frozenset({"told", "moved", "computed", "wondered", "taken", "heard", "cautioned"})


def told_facts(turn: StoredTurn) -> list[dict[str, object]]:
    """The facts of a turn that an operator would name, shortened to kind, slot, row, value and the like."""
    return [_short(fact) for fact in turn.facts if fact["kind"] not in QUIET]


def _short(fact: Mapping[str, Any]) -> dict[str, object]:
    kept = ("kind", "slot", "row", "run", "reason", "dialog", "language", "system")
    short = {name: fact[name] for name in kept if fact.get(name) is not None}
    return short | ({"value": _plain(fact["value"])} if fact.get("value") is not None else {})


def _plain(value: object) -> object:
    match value:
        case {"value": float(number), "unit": unit}:
            return f"{number:g} {unit}"
        case {"label": label}:
            return f"at {label}"
        case {"marks": [_, *_] as marks}:
            return " ".join(map(str, marks))
        case {"low": low, "high": high, "step": step}:
            return f"{low:g} to {high:g} by {step:g}"
        case _:
            return value
