"""Typed text as it was meant: words as people write them, and slips of one letter in numbers and units."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from functools import lru_cache

from engine.entries.matching.numerals import spell
from engine.entries.phrases.tokens import Token, fold, tokenize
from engine.entries.phrases.vocabulary import Vocabulary

MOST_MARKS, THOUSANDS = 2, 3
NEARLY = 2
"""A number so many slips away may have been meant as well."""
LONG = 7
"""Words so long are told from others with two letters wrong."""
SHORTEST = 4
"""Shorter words are not mended: too many others are one letter away."""


@dataclass(frozen=True)
class Spelled:
    """A text with its words mended; ``guessed`` where a number was, so that it is asked about. ``changes`` are what
    each word was made of and what stood there."""

    text: str
    guessed: bool = False
    changes: tuple[tuple[str, str], ...] = ()


def mended(
    text: str,
    vocabulary: Vocabulary,
    knows: Callable[[str], bool],
    rows: int = 0,
    reporting: bool = False,
    answers: frozenset[str] = frozenset(),
) -> Spelled:
    """The text with known spellings and single slips in numbers, units and words for rows put right; a word that
    ``knows`` is none. A row's number of ``rows`` loses its ending: "2's full", and where reports may be told "2s full".
    ``answers`` are words of what is asked, which are mended as well.
    """
    text = _without_owners(text, vocabulary, rows, reporting)
    said = {fold(word): meant for word, meant in vocabulary.loose.spelled.items()}
    pieces: list[str] = []
    place, guessed, changes = 0, False, []
    tokens = tokenize(text)
    for token, after in zip(tokens, (*tokens[1:], None), strict=False):
        upper = token.text.isupper()
        if len(token.key) == 1:
            is_sign = upper or _abbreviates_row(token.key, after, vocabulary)
        else:
            is_sign = upper and not text.isupper() and _before_number(text[token.end :])
        meant = (None if is_sign else said.get(token.key)) or _parted(token.text, vocabulary)
        meant = meant or _run_together(token.key, vocabulary)
        named = token.text.istitle() and (token.start > 0 or (after is not None and after.text.istitle()))
        plain = token.key.isalpha() and len(token.key) >= SHORTEST and not named
        if meant is None and plain and token.key not in vocabulary.fillers and not knows(token.key):
            meant = _nearest(token.key, vocabulary, answers)
            guessed = guessed or (meant is not None and _is_like_others(token.key, meant, vocabulary))
        if meant is not None:
            pieces += [text[place : token.start], meant]
            changes.append((meant, token.text))
            place = token.end
    return Spelled("".join((*pieces, text[place:])), guessed, tuple(changes))


def _without_owners(text: str, vocabulary: Vocabulary, rows: int, reporting: bool) -> str:
    marked = [one for one in vocabulary.loose.owners if reporting or not one.isalpha()]
    if not marked:
        return text
    endings = "|".join(re.escape(one).replace("'", "['’]") for one in marked)

    def bare(match: re.Match[str]) -> str:
        return match[1] if 0 < int(match[1]) <= rows else match[0]

    return re.sub(rf"(?<![\w.,])(\d{{1,2}})(?:{endings})(?=\s+[^\W\d])", bare, text)


@lru_cache(maxsize=16)
def _short(vocabulary: Vocabulary) -> tuple[re.Pattern[str], dict[str, str]]:
    said = {word.lower(): meant for word, meant in vocabulary.loose.short.items()}
    words = "|".join(re.escape(word) for word in sorted(said, key=len, reverse=True))
    return re.compile(rf"(?:(?<=\S)\s*,)?\s*(?<!\w)({words})(?!\w)", re.IGNORECASE), said


def written_out(text: str, vocabulary: Vocabulary) -> str:
    """The text with what is written for other words put right, and without words of courtesy."""
    pattern, said = _short(vocabulary)

    def meant(match: re.Match[str]) -> str:
        word = said[match[1].lower()]
        return match[0].replace(match[1], word) if word else ""

    return (pattern.sub(meant, text) if said else text).strip(" ,") or text


def _parted(text: str, vocabulary: Vocabulary) -> str | None:
    """A list of numbers typed without spaces, "64,66,65"; a number without the mark at its thousands, "2,600"."""
    parts = text.split(",")
    thousands = len(parts) > 1 and all(len(part) == THOUSANDS for part in parts[1:]) and all(map(str.isdigit, parts))
    if thousands and "," in vocabulary.numbers.thousands_marks and not parts[0].startswith("0"):
        return "".join(parts)
    listed = len(parts) > MOST_MARKS and all(part.isdigit() for part in parts)
    return ", ".join(parts) if listed and any(len(part) != THOUSANDS for part in parts[1:]) else None


def _abbreviates_row(letter: str, after: Token | None, vocabulary: Vocabulary) -> bool:
    """Whether a letter before a number may stand for a row: "r 5"."""
    return after is not None and after.is_number and any(noun.startswith(letter) for noun in vocabulary.loose.nouns)


def _before_number(rest: str) -> bool:
    """Whether what follows begins with digits, so that capitals before it may be the letters of a code."""
    return re.match(r"\s*-?\d", rest) is not None


def is_misspelt(word: str, vocabulary: Vocabulary) -> bool:
    """Whether a word is one slip away from a number, a unit or a word for rows."""
    return len(word) >= SHORTEST and word.isalpha() and _nearest(word, vocabulary, frozenset()) is not None


@lru_cache(maxsize=4096)
def _run_together(word: str, vocabulary: Vocabulary) -> str | None:
    """The number whose words were typed without the gap between them: "sixtynine", "cuarentaycinco"."""
    return _joined_numbers(vocabulary).get(word) if word.isalpha() else None


@lru_cache(maxsize=8)
def _joined_numbers(vocabulary: Vocabulary) -> dict[str, str]:
    """Numbers of several words below a thousand, by those words without gaps."""
    said = [spell(number, vocabulary.language) for number in range(1000)]
    return {fold(words).replace(" ", "").replace("-", ""): words for words in said if " " in words or "-" in words}


@lru_cache(maxsize=4096)
def _nearest(word: str, vocabulary: Vocabulary, answers: frozenset[str]) -> str | None:
    """The one number or unit within one slip of a word that is none itself."""
    if word in vocabulary.plain_words:
        return None
    units = _units(vocabulary)
    words = (*_numbers(vocabulary), *units, *_rows(vocabulary), *answers)
    near = sorted({one for one in words if len(one) >= SHORTEST and slipped(word, one)})
    alike = len({units.get(one, one) for one in near}) == 1
    return near[0] if alike else None


@lru_cache(maxsize=4096)
def _is_like_others(word: str, meant: str, vocabulary: Vocabulary) -> bool:
    """Whether a misspelt number is hardly farther from another number, so that it is asked about."""
    numbers = _numbers(vocabulary)
    others = (one for one in numbers - {meant} if one[0] == word[0])
    return meant in numbers and any(_apart(word, one) <= NEARLY for one in others)


def _apart(word: str, other: str) -> int:
    """Letters to change, add or leave out between two words (Levenshtein 1966)."""
    before = list(range(len(other) + 1))
    for place, letter in enumerate(word, 1):
        row = [place]
        for number, sign in enumerate(other, 1):
            row.append(min(before[number] + 1, row[-1] + 1, before[number - 1] + (letter != sign)))
        before = row
    return before[-1]


@lru_cache(maxsize=8)
def _numbers(vocabulary: Vocabulary) -> frozenset[str]:
    return frozenset(fold(word) for number in range(1000) for word in spell(number, vocabulary.language).split())


@lru_cache(maxsize=8)
def _units(vocabulary: Vocabulary) -> dict[str, str]:
    """The words of units, with the unit that each is of."""
    return {word: symbol for symbol, phrases in vocabulary.units.items() for one in phrases for word in one.words}


@lru_cache(maxsize=8)
def _rows(vocabulary: Vocabulary) -> frozenset[str]:
    phrases = (*vocabulary.loose.every, *vocabulary.loose.rest, *vocabulary.rows.counted)
    return frozenset(word for one in phrases for word in one.words)


def slipped(word: str, meant: str) -> bool:
    """Whether one letter is wrong, too many, missing, or changed places with the next; the first one stands."""
    if word == meant or word[0] != meant[0]:
        return False
    same = sum(one != two for one, two in zip(word, meant, strict=False))
    return meant in set(_slips(word)) or word in set(_slips(meant)) or (len(word) == len(meant) and same == 1)


def nearest_of(word: str, meant: Collection[str]) -> str | None:
    """The one of these words that a word is one slip away from; of a long one two letters may be wrong."""
    long = [one for one in meant if min(len(word), len(one)) >= LONG and one[:THOUSANDS] == word[:THOUSANDS]]
    near = {one for one in meant if len(word) >= SHORTEST and slipped(word, one)}
    near |= {one for one in long if _apart(word, one) <= NEARLY}
    ranked = sorted((_apart(word, one), abs(len(word) - len(one)), one) for one in near)
    return ranked[0][2] if ranked and [one[:2] for one in ranked].count(ranked[0][:2]) == 1 else None


def _slips(word: str) -> Iterator[str]:
    """The word with a letter less, or with two letters changed round."""
    for place in range(1, len(word)):
        yield word[:place] + word[place + 1 :]
        yield word[: place - 1] + word[place] + word[place - 1] + word[place + 1 :]
