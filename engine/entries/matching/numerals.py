"""Numbers in words, both ways: all that a phrase may mean, and the words for a number."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from functools import lru_cache
from itertools import product
from typing import assert_never

from engine.entries.matching.matcher import Matcher
from engine.entries.matching.numeral import Numeral, combine
from engine.entries.phrases.pattern import Choice, Node, Repeat, Rule, Sequence, Word
from engine.entries.phrases.tokens import MOST_TOKENS, tokenize
from engine.entries.phrases.vocabulary import Vocabulary, load_vocabulary
from engine.messages import Language

LARGEST_SPELLED = 999_999
MOST_PLACES = 6


def readings(text: str, vocabulary: Vocabulary) -> tuple[Numeral, ...]:
    """Every number that a whole phrase may mean; none where it is not a number."""
    tokens = tokenize(text[: MOST_TOKENS * 20], vocabulary.fillers)[:MOST_TOKENS]
    found = Matcher(tokens, vocabulary).rule("number", 0)
    numerals = [match.captures[0].value for match in found if match.end == len(tokens)]
    return tuple(dict.fromkeys(numeral for numeral in numerals if isinstance(numeral, Numeral)))


def spell(number: float | Decimal, language: Language) -> str:
    """The words for a number from 0 to 999 999 with up to six decimals; ValueError outside."""
    vocabulary = load_vocabulary(language)
    whole, decimals = _parts(number)
    words = _whole(int(whole), vocabulary)
    return f"{words} {_point(vocabulary)} {_digits(decimals, vocabulary)}" if decimals else words


def spell_digits(number: float | Decimal, language: Language) -> str:
    """A number digit by digit, as it is read back: four nine point five."""
    vocabulary = load_vocabulary(language)
    whole, decimals = _parts(number)
    words = _digits(whole, vocabulary)
    return f"{words} {_point(vocabulary)} {_digits(decimals, vocabulary)}" if decimals else words


def _parts(number: float | Decimal) -> tuple[str, str]:
    exact = Decimal(str(number))
    if not (exact.is_finite() and 0 <= exact <= LARGEST_SPELLED):
        raise ValueError(f"{number} is not between 0 and {LARGEST_SPELLED}")
    whole, _, decimals = f"{round(exact, MOST_PLACES):f}".partition(".")
    return whole, decimals.rstrip("0")


def _point(vocabulary: Vocabulary) -> str:
    return _first(vocabulary.numbers.point[0].node, vocabulary)


def _digits(digits: str, vocabulary: Vocabulary) -> str:
    return " ".join(_below_thousand(vocabulary)[int(digit)] for digit in digits)


def _whole(number: int, vocabulary: Vocabulary) -> str:
    thousands, rest = divmod(number, 1000)
    below = _below_thousand(vocabulary)
    if not thousands:
        return below[rest]
    spelling = vocabulary.numbers.spelling
    first = (
        spelling.one_thousand if thousands == 1 else f"{before_noun(below[thousands], vocabulary)} {spelling.thousand}"
    )
    return f"{first} {below[rest]}" if rest else first


def before_noun(words: str, vocabulary: Vocabulary) -> str:
    """Words of a number as they are said before a noun: veintiún, not veintiuno."""
    for ending, shorter in vocabulary.numbers.spelling.before_noun.items():
        if words == ending or words.endswith(f" {ending}"):
            return words.removesuffix(ending) + shorter
    return words


@lru_cache(maxsize=8)
def _below_thousand(vocabulary: Vocabulary) -> dict[int, str]:
    """The first way to say each number below 1000."""
    found: dict[int, str] = {}
    for words, numeral in _ways(Rule(vocabulary.numbers.spelling.below_thousand), vocabulary):
        found.setdefault(int(numeral[0].digits), words)
    return found


def _ways(node: Node, vocabulary: Vocabulary) -> Iterator[tuple[str, tuple[Numeral, ...]]]:
    """Every way to say a pattern of numbers, with the numbers in it; only for rules that are few."""
    match node:
        case Word(text):
            yield text, ()
        case Rule(name):
            yield from _ways_of_rule(name, vocabulary)
        case Sequence(parts):
            for ways in product(*(tuple(_ways(part, vocabulary)) for part in parts)):
                yield " ".join(words for words, _ in ways if words), sum((found for _, found in ways), ())
        case Choice(options):
            for option in options:
                yield from _ways(option, vocabulary)
        case Repeat(part):
            yield from _ways(part, vocabulary)
        case _:
            assert_never(node)


@lru_cache(maxsize=128)
def _ways_of_rule(name: str, vocabulary: Vocabulary) -> tuple[tuple[str, tuple[Numeral, ...]], ...]:
    if table := vocabulary.numbers.words.get(name):
        return tuple((_first(said[0].node, vocabulary), (Numeral(digits),)) for digits, said in table.items())
    return tuple(
        (words, (made,))
        for phrase in vocabulary.rules[name]
        for words, found in _ways(phrase.node, vocabulary)
        for made in (combine(phrase.means, found))
    )


def _first(node: Node, vocabulary: Vocabulary) -> str:
    """The first way to say a pattern."""
    return next(words for words, _ in _ways(node, vocabulary))
