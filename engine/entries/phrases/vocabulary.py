"""The words of a language, as data: ``dialogs/<language>/vocabulary.yaml`` under a strict schema."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Annotated, Any, Self

from pydantic import Field, model_validator

from engine.data.definitions import Definition, PlacedError, dialogs_directory, read_definition
from engine.data.forms import forms_of
from engine.entries.phrases import sections
from engine.entries.phrases.pattern import Choice, Node, Word, openings, phrase, walk
from engine.entries.phrases.phrase import Phrase, PhraseIndex, Phrases, placed, spoken
from engine.entries.phrases.unit_words import prove_words
from engine.messages import Command, Commanded, Language, Report, Topic
from engine.quantities import UNITS

FILE = "vocabulary.yaml"
Pair = Annotated[tuple[str, ...], Field(min_length=2, max_length=2)]


class Vocabulary(sections.Part):
    """All words of one language. Two vocabularies are equal when they are the same object."""

    language: str
    fillers: sections.Folded
    joins: Phrases
    numbers: sections.Numbers
    amounts: Phrases
    levels: Phrases
    rows: sections.RowWords
    given: sections.ValuePhrases
    link: Phrases
    past: Phrases
    lead: Phrases
    typed_link: tuple[str, ...]
    commands: dict[Command, Phrases]
    languages: dict[str, Phrases]
    topics: dict[Topic, Phrases]
    reports: dict[Report, Phrases]
    naming: sections.NamePhrases
    left_out: Phrases
    taken_in: Phrases
    repaired: Phrases
    not_repaired: Phrases
    each: Phrases
    together: Phrases
    to_mark: Phrases
    on_top: Phrases
    topped: Phrases
    refills_only: Phrases
    once_between: Phrases
    ways: dict[str, Phrases]
    was_out: Phrases
    lent: Phrases
    stood: Phrases
    times: sections.TimePhrases
    answers: sections.AnswerPhrases
    dials: sections.Dials
    danger: sections.Danger
    loose: sections.FreeWords
    sound_alikes: tuple[Pair, ...]

    __hash__ = object.__hash__

    def __eq__(self, other: object) -> bool:
        return self is other

    @model_validator(mode="after")
    def _is_complete(self) -> Self:
        _cover("commands", self.commands, tuple(one for one in Command if one is not Command.LANGUAGE))
        _cover("topics", self.topics, tuple(Topic))
        _cover("reports", self.reports, tuple(Report))
        self._check_rules()
        self._check_fillers()
        return self

    @cached_property
    def units(self) -> Mapping[str, Phrases]:
        """What may be said for each unit, from the table of units."""
        words = {symbol: unit.words.of(self.language) for symbol, unit in UNITS.items()}
        return {symbol: tuple(Phrase(say=one) for one in said) for symbol, said in words.items()}

    @cached_property
    def orders(self) -> Mapping[str, tuple[Commanded, Phrases]]:
        """What may be said for each command, by a name of it."""
        switching = {code: Commanded(command=Command.LANGUAGE, language=code) for code in self.languages}
        return {
            **{str(command): (Commanded(command=command), phrases) for command, phrases in self.commands.items()},
            **{f"language_{code}": (one, self.languages[code]) for code, one in switching.items()},
        }

    @cached_property
    def orders_by_key(self) -> PhraseIndex[str]:
        return PhraseIndex({name: phrases for name, (_, phrases) in self.orders.items()})

    @cached_property
    def topics_by_key(self) -> PhraseIndex[Topic]:
        return PhraseIndex(self.topics)

    @cached_property
    def reports_by_key(self) -> PhraseIndex[Report]:
        return PhraseIndex(self.reports)

    @cached_property
    def rules_by_key(self) -> PhraseIndex[str]:
        return PhraseIndex(self.rules)

    @cached_property
    def number_words_by_key(self) -> Mapping[str, PhraseIndex[str]]:
        return {name: PhraseIndex(table) for name, table in self.numbers.words.items()}

    @cached_property
    def plain_words(self) -> frozenset[str]:
        """Every word that stands in a phrase or a unit, as it is compared."""
        return frozenset(word for _, one in (*placed(self), *placed(self.units)) for word in one.words)

    @cached_property
    def small_words(self) -> frozenset[str]:
        """Words that only lead to what is told: "is", "the"."""
        return frozenset((*self.loose.copulas, *self.loose.determiners, *self.naming.articles))

    @cached_property
    def rules(self) -> Mapping[str, Phrases]:
        """Every rule that the file defines by name."""
        numbers = self.numbers
        rules = {**numbers.rules, "half": numbers.half, "point": numbers.point, "row_number": numbers.row}
        rules |= {"link": self.link, "past": self.past, "lead": self.lead, "row": self.rows.one}
        rules |= {"clock": self.times.clock}
        several = {"rows_from_to": self.rows.several, "rows_listed": self.rows.listed}
        return rules | several | {"rows_all": self.rows.all, "rows_rest": self.rows.rest}

    @cached_property
    def before_row(self) -> frozenset[str]:
        """The words, as they are compared, after which a row belongs to a command or a question."""
        return frozenset(
            word for _, one in placed((self.commands, self.topics)) if "row" in one.rules for word in one.words
        )

    @cached_property
    def units_opening(self) -> Mapping[str, tuple[tuple[str, Node], ...]]:
        """For the first token of a unit, each unit that begins so and all that may be said or typed for it."""
        found: dict[str, tuple[tuple[str, Node], ...]] = {}
        for symbol, phrases in self.units.items():
            written = map(phrase, UNITS[symbol].spellings()) if symbol != "1" else ()
            node = Choice((spoken(phrases), *written))
            for key in openings(node) or ():
                found[key] = (*found.get(key, ()), (symbol, node))
        return found

    def _check_rules(self) -> None:
        known = {*self.numbers.words, *self.rules, *_READ_IN_CODE}
        for place, one in placed(self):
            if unknown := sorted(one.rules - known):
                raise PlacedError(place, f"<{unknown[0]}> is not defined")
        named = (*self.numbers.sizes, *self.numbers.decimals, self.numbers.spelling.below_thousand, *_USED_IN_CODE)
        if missing := sorted(set(named) - known):
            raise PlacedError(("numbers",), f"<{missing[0]}> is not defined")

    def _check_fillers(self) -> None:
        if lost := sorted(self.fillers & set(self.units_opening)):
            raise PlacedError(("fillers",), f"{lost[0]!r} is a filler and a unit")
        for place, one in placed(self):
            for part in () if place[0] == "reports" and not one.rules else walk(one.node):
                if isinstance(part, Word) and part.key in self.fillers:
                    raise PlacedError(place, f"{one.say!r} can never be read: {part.text!r} is a filler")


_USED_IN_CODE = (
    *("whole", "places", "number", "fraction", "unsaid", "level", "digit"),
    *("clock_hour", "clock_named", "clock_past", "clock_before", "clock_minute"),
)
_READ_IN_CODE = frozenset(
    {"written", "written_fraction", "measured_in", "rows", "typed_row", "value", "name", "area", "letter"}
    | {"some", "weight", "share", "pace", "dose", "span", "each", "lot_number", "called"}
    | {"together", "to_mark", "on_top", "topped", "refills_only", "once_between"}
    | {"hour", "minute", "past_hour", "to_hour", "half_day", "typed_clock", "length"}
)


def _cover(what: str, found: Mapping[Any, Any], wanted: Any) -> None:
    for key in wanted:
        if key not in found:
            raise PlacedError((what,), f"{what}: {key} has no words")
    for key in found:
        if key not in wanted:
            raise PlacedError((what, key), f"{what}: {key} is unknown")


def _switching(language: Language, written: Mapping[str, Phrases], directory: Path) -> dict[str, Phrases]:
    """What may be said, in one ``language``, to go on in each of a folder of dialogs: as the vocabulary has it, and
    what each language calls itself. Those of languages that are not there drop out, so that a vocabulary need not
    change with the languages beside it."""
    return {
        code: (*written.get(code, ()), *(Phrase(say=name, heard=False) for name in forms.called if code != language))
        for code, forms in forms_of(directory).items()
    }


@lru_cache(maxsize=16)
def load_vocabulary(language: Language, directory: Path | None = None) -> Vocabulary:
    """The vocabulary of a language; DefinitionError says what in its file, or in the words for units, is wrong."""
    prove_words(language)
    directory = directory or dialogs_directory()
    definition = vocabulary_definition(language, directory)
    vocabulary = definition.into(Vocabulary)
    if vocabulary.language != language:
        raise definition.error(("language",), f"is {vocabulary.language}", f"write {language}, the name of the folder")
    return vocabulary.model_copy(update={"languages": _switching(language, vocabulary.languages, directory)})


def vocabulary_definition(language: Language, directory: Path) -> Definition:
    """The vocabulary of a language as it is written, in a folder of dialogs."""
    return read_definition(directory / language / FILE, f"{language}/{FILE}")
