"""What Rowhand prints as something to say is understood when it is typed back in its place."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

import pytest

from engine.data.definitions import dialogs_directory
from engine.data.forms import load_forms
from engine.dialog.reply.wording import Wording
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.expectation import Asking, Expectation, SlotKind
from engine.messages import Given, Language, Reported, System, Unclear, UnclearReason, Utterance
from engine.quantities import UNITS, Measure
from engine.understanding.reader import understand
from tests.helpers.talking import Conversation, beginnings

WALKS: dict[Language, tuple[tuple[str, ...], ...]] = {
    "en": (("ready check", "eight"), ("prepared", "catching", "caught"), ("tubes", "test run", "all at twelve"),
           ("prepared", "catching", "finished", "planting", "end of shift", "done", "put away", "100 lb", "yes", "yes",
            "12", "north shed", "Otto")),
    "es": (("revisión", "ocho"), ("preparada", "pesando", "pesada"), ("doce",),
           ("etiqueta", "cuatro libras por acre", "cinco millas por hora", "trescientos pies", "tubo"),
           ("preparada", "pesando", "terminada", "sembrando", "fin de turno", "listo", "guardar", "100 lb", "sí", "sí",
            "12", "bodega norte", "salta")),
}  # fmt: skip
"""Conversations by the names of their beginnings, or line by line: together they come by every question."""
QUOTED = re.compile(r"“([^”]+)”")
SAMPLES = {"row": "3", "example": "40 lb", "before": "1:40", "now": "1:50"}
ECHOES = frozenset({"sure_name", "withdrawn_report", "shift_far_off", "out_said"})
"""Texts that repeat what the operator said."""
NAMED = {"en": "the applicator is", "es": "el aplicador es"}
"""Something goes on behind these words."""


class Place:
    """Where a conversation stands: what is expected there, and what was printed."""

    def __init__(self, expected: Expectation, printed: str, says: tuple[str, ...]) -> None:
        self.expected, self.printed, self.says = expected, printed, says

    @property
    def slot(self) -> str:
        return self.expected.slots[0].name if self.expected.slots else str(self.expected.asking)

    @property
    def asks_name(self) -> bool:
        """Whether any words are understood there."""
        return self.expected.asking is Asking.SLOT and self.expected.slots[0].kind is SlotKind.TEXT

    def read(self, text: str) -> tuple[object, ...]:
        language = self.expected.language
        said = Utterance(
            id="u", conversation="c", text=text, language=language, said_at=datetime(2026, 4, 28, tzinfo=UTC)
        )
        return understand(said, self.expected, load_vocabulary(language)).entries

    def understands(self, text: str) -> bool:
        entries = self.read(text)
        return bool(entries) and not any(isinstance(one, Unclear) for one in entries)


@pytest.fixture(scope="module", params=["en", pytest.param("es", marks=pytest.mark.campaign)])
def language(request: pytest.FixtureRequest) -> Language:
    found: Language = request.param
    return found


@pytest.fixture(scope="module")
def places(language: Language, tmp_path_factory: pytest.TempPathFactory) -> list[Place]:
    return [*walked(language, tmp_path_factory.mktemp(language))]


def walked(language: Language, folder: Path) -> Iterator[Place]:
    asks_help = load_vocabulary(language).commands["help"][0].say  # type: ignore[index]
    for number, walk in enumerate(WALKS[language]):
        talk = Conversation(folder / f"{number}.db", language)
        for line in (part for name in walk for part in beginnings().get(name, [name])):
            reply = talk.say(line).reply
            helped = talk.say(asks_help).reply
            says = tuple(button.says for button in (*reply.buttons, *helped.buttons))
            yield Place(talk.assistant.expectation("c"), f"{reply.text}\n{helped.text}", says)


def test_the_walks_come_by_most_questions(places: list[Place]) -> None:
    assert len({place.slot for place in places}) > 25


def test_what_is_quoted_and_what_stands_on_buttons(places: list[Place]) -> None:
    lost = {
        (place.slot, text)
        for place in places
        for text in (*QUOTED.findall(place.printed), *place.says)
        if not place.understands(text) and not any(other.understands(text) for other in later(places, place))
    }
    assert lost == set()


def later(found: list[Place], place: Place) -> list[Place]:
    """The places after one: what is to be said "then" is said there."""
    return found[found.index(place) + 1 :][:3] if place.expected.asking is Asking.SLOT else []


@cache
def texts(language: Language) -> tuple[tuple[str, str], ...]:
    """Everything that any text of a language quotes, by the key of the text."""
    found = []
    for path in (path for path in (dialogs_directory() / language).rglob("*.yaml") if path.stem != "vocabulary"):
        for line in path.read_text(encoding="utf-8").splitlines():
            key, _, text = line.strip().partition(": ")
            found += [(key, quoted) for quoted in QUOTED.findall(text) if key not in ECHOES]
    return tuple(found)


def test_every_quotation_in_every_text(places: list[Place], language: Language) -> None:
    lost = set()
    for key, quoted in texts(language):
        text = re.sub(r"\{(\w+)\}", lambda found: SAMPLES.get(found[1], found[0]), quoted)
        if "{" in text or text == NAMED[language]:
            continue
        if not any(place.understands(text) for place in places if not place.asks_name):
            lost.add((key, text))
    assert lost == set()


def test_every_option_by_its_label(places: list[Place], language: Language) -> None:
    lost = {
        (place.slot, option.label)
        for place in places
        if place.expected.asking is Asking.SLOT
        for option in place.expected.slots[0].options
        if not place.understands(option.label)
    }
    assert lost == set()


def test_every_unit_as_it_is_shown(places: list[Place], language: Language) -> None:
    lost = set()
    for place in places:
        asked = place.expected.slots[0] if place.expected.slots else None
        if asked is None or place.expected.asking is not Asking.SLOT:
            continue
        for unit in asked.units:
            text = Wording(language, System.US).amount(Measure(value=5, unit=unit))
            (found,) = place.read(text)
            far = isinstance(found, Unclear) and found.reason is UnclearReason.OUT_OF_RANGE
            if not far and not (
                isinstance(found, Given) and isinstance(found.value, Measure) and found.value.unit == unit
            ):
                lost.add((place.slot, text))
    assert lost == set()
    assert {unit for place in places for slot in place.expected.slots for unit in slot.units} <= set(UNITS)


@pytest.mark.parametrize("system", System)
def test_every_hour_of_the_day(places: list[Place], language: Language, system: System) -> None:
    watching = next(place for place in places if place.expected.asking is Asking.REPORT)
    clock, lead = load_forms(language).clock, {"en": "row 5 stopped at ", "es": "surco 5 parado desde "}[language]
    for hour in range(24):
        text = lead + clock.in_sentence(hour, 5, system)
        entries = watching.read(text)
        assert [type(one) for one in entries] == [Reported], text
        assert all(isinstance(one, Reported) and one.when is not None for one in entries), text
