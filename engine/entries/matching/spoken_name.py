"""A name that was never told before, by voice: a few words that names are made of, or digits one by one.

It is always asked back before it is kept: "north forty" is North forty. Letters are not let through, since they are
heard too badly (speech/training/README.md has the figures): such a name is typed.
"""

from __future__ import annotations

from engine.entries.matching.name import known
from engine.entries.phrases.pattern import Choice, Node, Repeat, Rule, Sequence, phrase
from engine.entries.phrases.vocabulary import Vocabulary
from engine.expectation import Expectation
from engine.messages import DoubtReason, Entry, Given, Reported

MOST_WORDS = 3
"""A longer name is typed: each word more that may follow lets more other talk pass for one (own decision)."""


def words(vocabulary: Vocabulary) -> list[Node]:
    """The words that names are made of."""
    return [phrase(word) for word in vocabulary.naming.made_of]


def patterns(word: Node) -> list[Node]:
    """Names as they may be said."""
    maybe = Choice((word, Sequence(())))
    return [Sequence((word, *[maybe] * (MOST_WORDS - 1))), Sequence((Rule("digit"), Repeat(Rule("digit"))))]


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


def named_first(text: str, expectation: Expectation, vocabulary: Vocabulary) -> Reported | None:
    """A name said alone for the first time, after what it belongs to was told: to be asked."""
    name = said_name(text, vocabulary)
    if name is None or expectation.naming is None:
        return None
    return Reported(report=expectation.naming, value=name, said=text, doubt=DoubtReason.LOW_CONFIDENCE)
