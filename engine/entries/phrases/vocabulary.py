"""The words of a language, as data: ``dialogs/<language>/vocabulary.yaml`` under a strict schema."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Annotated, Any, Self

from pydantic import Field, model_validator

from engine.data.definitions import Definition, PlacedError, dialogs_directory, read_definition
from engine.entries.phrases.free_words import Danger, Loose
from engine.entries.phrases.number_words import Dials, Numbers, Part, TimePhrases
from engine.entries.phrases.pattern import Choice, Node, Rule, openings, phrase, walk
from engine.entries.phrases.phrase import Phrase, PhraseIndex, Phrases, SomePhrases, placed, rules_of, spoken
from engine.entries.phrases.switching import switching
from engine.entries.phrases.tokens import fold
from engine.entries.phrases.unit_words import prove_words
from engine.messages import Command, Commanded, Language, Report, Topic
from engine.quantities import UNITS

FILE = "vocabulary.yaml"


class RowWords(Part):
    one: SomePhrases
    typed: Phrases
    several: SomePhrases
    listed: SomePhrases
    all: SomePhrases
    rest: SomePhrases
    loose: SomePhrases
    counted: Phrases


class NamePhrases(Part):
    """How a name is given: words that ``leads`` to it, that say there is none (``unknown``, alone) or to skip it
    (``skipped``, anywhere), and words of ``talk`` that make a text doubtful as a name. Small words may stand
    ``inside`` a name; ``tails`` trail behind it, and words ``against`` begin what it is told instead of. Of
    ``made_of`` names are often made, so that one may be heard that nobody told before. ``places`` lead to where
    something stands; words of a ``sentence`` stand in no name and in no description; ``dashes`` are how the mark
    between digits is said, with small words ``between``; what a letter is ``likened`` to tells it ("C as in
    Charlie"), and words say that a digit is ``repeated`` so often. ``choices`` stand in lists, though in no name.
    Words are ``abbreviated`` with a dot that ends no clause, ``titles`` stand before a person's name; ``whiles`` at
    the end say only until when, ``waits`` that the answer comes later, ``quits`` that all of it is given up, and
    ``questions`` begin one where a name is asked for.
    """

    leads: Phrases
    unknown: Phrases
    skipped: Phrases
    talk: tuple[str, ...]
    inside: tuple[str, ...]
    articles: tuple[str, ...]
    against: tuple[str, ...]
    tails: tuple[str, ...]
    kinds: tuple[str, ...]
    generic: tuple[str, ...]
    does: tuple[str, ...]
    made_of: tuple[str, ...]
    places: Phrases
    sentence: tuple[str, ...]
    dashes: tuple[str, ...]
    between: tuple[str, ...]
    likened: Phrases
    choices: tuple[str, ...]
    repeated: dict[Annotated[str, Field(pattern=r"^[2-4]$")], tuple[str, ...]]
    abbreviated: tuple[str, ...]
    titles: tuple[str, ...]
    whiles: tuple[str, ...]
    waits: Phrases
    quits: Phrases
    questions: Phrases


class ValuePhrases(Part):
    """The orders in which a row, a slot's name and a value may be said; ``apart`` with a comma between them."""

    rows: Phrases
    apart: Phrases
    corrected: Phrases
    named: Phrases
    renamed: Phrases
    bare: Phrases
    replaced: Phrases
    again: Phrases


class AnswerPhrases(Part):
    yes: Phrases
    no: Phrases
    neither: Phrases
    chosen: tuple[Phrases, ...]


Pair = Annotated[tuple[str, ...], Field(min_length=2, max_length=2)]


class Vocabulary(Part):
    """All words of one language. Two vocabularies are equal when they are the same object."""

    language: str
    fillers: tuple[str, ...]
    joins: Phrases
    numbers: Numbers
    amounts: Phrases
    levels: Phrases
    rows: RowWords
    given: ValuePhrases
    link: Phrases
    past: Phrases
    lead: Phrases
    typed_link: tuple[str, ...]
    commands: dict[Command, Phrases]
    languages: dict[str, Phrases]
    topics: dict[Topic, Phrases]
    reports: dict[Report, Phrases]
    naming: NamePhrases
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
    times: TimePhrases
    answers: AnswerPhrases
    dials: Dials
    danger: Danger
    loose: Loose
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
    def silent(self) -> frozenset[str]:
        """The fillers as they are compared."""
        return frozenset(fold(filler) for filler in self.fillers)

    @cached_property
    def talk(self) -> frozenset[str]:
        """The words of talk as they are compared."""
        return frozenset(fold(word) for word in self.naming.talk)

    @cached_property
    def sentence_words(self) -> frozenset[str]:
        """The words that make a name or a description a sentence, as they are compared."""
        return frozenset(fold(word) for word in self.naming.sentence)

    @cached_property
    def plain_words(self) -> frozenset[str]:
        """Every word that stands in a phrase or a unit, as it is compared."""
        said = (*placed(self), *placed(self.units))
        words = {part.key for _, one in said for part in walk(one.node) if not isinstance(part, Rule)}
        return frozenset(words)

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
        about_rows = (one for _, one in placed((self.commands, self.topics)) if "row" in rules_of(one))
        return frozenset(part.key for one in about_rows for part in walk(one.node) if not isinstance(part, Rule))

    @cached_property
    def units_opening(self) -> Mapping[str, tuple[tuple[str, Node], ...]]:
        """For the first token of a unit, each unit that begins so and all that may be said or typed for it."""
        found: dict[str, tuple[tuple[str, Node], ...]] = {}
        for symbol, phrases in self.units.items():
            node = Choice((spoken(phrases), *_written_units(symbol)))
            for key in openings(node) or ():
                found[key] = (*found.get(key, ()), (symbol, node))
        return found

    def _check_rules(self) -> None:
        known = {*self.numbers.words, *self.rules, *_READ_IN_CODE}
        for place, one in placed(self):
            if unknown := sorted(rules_of(one) - known):
                raise PlacedError(place, f"<{unknown[0]}> is not defined")
        named = (*self.numbers.sizes, *self.numbers.decimals, self.numbers.spelling.below_thousand, *_USED_IN_CODE)
        if missing := sorted(set(named) - known):
            raise PlacedError(("numbers",), f"<{missing[0]}> is not defined")

    def _check_fillers(self) -> None:
        if lost := sorted(self.silent & set(self.units_opening)):
            raise PlacedError(("fillers",), f"{lost[0]!r} is a filler and a unit")
        for place, one in placed(self):
            for part in () if place[0] == "reports" and not rules_of(one) else walk(one.node):
                if not isinstance(part, Rule) and part.key in self.silent:
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


def _written_units(symbol: str) -> tuple[Node, ...]:
    spellings = tuple(UNITS[symbol].spellings()) if symbol != "1" else ()
    return tuple(phrase(text) for text in spellings)


@lru_cache(maxsize=16)
def load_vocabulary(language: Language, directory: Path | None = None) -> Vocabulary:
    """The vocabulary of a language; DefinitionError says what in its file, or in the words for units, is wrong."""
    prove_words(language)
    definition = vocabulary_definition(language, directory or dialogs_directory())
    vocabulary = definition.into(Vocabulary)
    if vocabulary.language != language:
        raise definition.error(("language",), f"is {vocabulary.language}", f"write {language}, the name of the folder")
    languages = switching(language, vocabulary.languages, directory or dialogs_directory())
    return vocabulary.model_copy(update={"languages": languages})


def vocabulary_definition(language: Language, directory: Path) -> Definition:
    """The vocabulary of a language as it is written, in a folder of dialogs."""
    return read_definition(directory / language / FILE, f"{language}/{FILE}")
