"""Names: how those that were given before are said and spelled, and what is a name that was never told, by voice.

Such a one is a few words that names are made of, or digits one by one, and is always asked back before it is kept:
"north forty" is North forty. Letters are not let through, since they are heard too badly (speech/training/README.md
has the figures): such a name is typed.
"""

from __future__ import annotations

from collections.abc import Iterable

from engine.entries.matching.numerals import spell
from engine.entries.phrases.pattern import Node, Repeat, Rule, Sequence, maybe, phrase
from engine.entries.phrases.tokens import fold
from engine.entries.phrases.vocabulary import Vocabulary
from engine.expectation import Expectation
from engine.messages import DoubtReason, Entry, Given, Language, Report, Reported

MOST_WORDS = 3
"""A longer name is typed: each word more that may follow lets more other talk pass for one (own decision)."""


def sayings(names: Iterable[str], language: Language) -> list[Node]:
    """A pattern for each name: its words, or its digits one by one."""
    return [phrase(said) for name in names if (said := _said(name, language))]


def _said(name: str, language: Language) -> str:
    if name.isascii() and name.isdigit():
        return " ".join(spell(int(digit), language) for digit in name)
    return name.lower()


def known(text: str, names: Iterable[str]) -> str | None:
    """The name that a text is, as it was given before; None where it is none of them."""
    wanted = plain_name(text)
    return next((name for name in names if plain_name(name) == wanted), None)


def as_before(entry: Entry, expectation: Expectation) -> Entry:
    """The entry with its name spelled as it was the first time: "north field" is North field."""
    if not isinstance(entry, Given | Reported) or not isinstance(entry.value, str):
        return entry
    name = known(entry.value, names_before(entry, expectation))
    return entry if name is None else entry.model_copy(update={"value": name})


def names_before(entry: Given | Reported, expectation: Expectation) -> tuple[str, ...]:
    """The names that were given before for the same slot, or with the same report."""
    if isinstance(entry, Reported):
        return expectation.names.get(entry.report, ())
    slots = (*expectation.slots, *expectation.known)
    return next((slot.names for slot in slots if slot.name == entry.slot), ())


def named_alone(text: str, report: Report, expectation: Expectation, vocabulary: Vocabulary) -> Reported | None:
    """A name said alone, after what it belongs to was told; one that is heard for the first time is asked."""
    if (name := known(text, expectation.names.get(report, ()))) is not None:
        return Reported(report=report, value=name, said=text)
    name = said_name(text, vocabulary)
    return Reported(report=report, value=name, said=text, doubt=DoubtReason.LOW_CONFIDENCE) if name else None


def plain_name(name: str) -> str:
    """How a name is compared."""
    return " ".join(fold(name).split())


def words(vocabulary: Vocabulary) -> list[Node]:
    """The words that names are made of."""
    return [phrase(word) for word in vocabulary.naming.made_of]


def patterns(word: Node) -> list[Node]:
    """Names as they may be said."""
    return [Sequence((word, *[maybe(word)] * (MOST_WORDS - 1))), Sequence((Rule("digit"), Repeat(Rule("digit"))))]


def said_name(text: str, vocabulary: Vocabulary) -> str | None:
    """The name that words are which names are made of, as it is written; None for any other words."""
    first, *others = text.lower().split() or [""]
    made_of = set(vocabulary.naming.made_of)
    if first not in made_of or not set(others) <= made_of or len(others) >= MOST_WORDS:
        return None
    return " ".join((first.capitalize(), *others))


def as_told(entry: Entry, expectation: Expectation, vocabulary: Vocabulary) -> Entry:
    """A name that was heard for the first time as it is written, to be asked; any other entry as it is."""
    asked = expectation.slots[0] if expectation.asks_name else None
    if not isinstance(entry, Given) or asked is None or entry.slot != asked.name or not isinstance(entry.value, str):
        return entry
    if known(entry.value, asked.names) is not None:
        return entry
    name = said_name(entry.value, vocabulary) or entry.value
    return entry.model_copy(update={"value": name, "doubt": DoubtReason.INFERRED})
