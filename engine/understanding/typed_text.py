"""Typed text: as it is read, with digits of any script as plain ones and without marks that only steer how it is laid
out or abbreviate a word, and as it is kept: what was typed, no word in it that the program put there."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

from engine.entries.matching.name import names_before, plain_name
from engine.entries.phrases.tokens import fold
from engine.entries.phrases.vocabulary import Vocabulary
from engine.expectation import Expectation, ExpectedSlot, SlotKind
from engine.messages import Either, Entry, Given, Utterance
from engine.understanding.extraction.told_names import CODES
from engine.understanding.scanning.spelling import SHORTEST, Spelled, slipped
from engine.understanding.weighing.evidence import doubtful

LAYOUT = frozenset("\u061c\u200b\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2060\u2066\u2067\u2068\u2069\ufeff")
"""Marks of direction (Unicode Standard Annex 9) and spaces without width, which come along with pasted text."""
_LETTERS = re.compile(r"[^\W\d_]+")
_INITIAL = re.compile(r"(?<![\w.])([A-Z])\.(?=\s+[A-Z][^\W\d_])")


def plain_utterance(utterance: Utterance) -> Utterance:
    """The same where nothing has to be changed."""
    plain = plainly(utterance.text)
    return utterance if plain == utterance.text else utterance.model_copy(update={"text": plain})


def plainly(text: str) -> str:
    """Each decimal digit as 0 to 9, forms of full width as usual ones, no marks of layout."""
    if text.isascii():
        return text
    return "".join(_plain(mark) for mark in text if mark not in LAYOUT)


def _plain(mark: str) -> str:
    if mark.isdecimal():
        return str(unicodedata.decimal(mark))
    wide = unicodedata.decomposition(mark).startswith("<wide>")
    return unicodedata.normalize("NFKC", mark) if wide else mark


@lru_cache(maxsize=8)
def _pattern(vocabulary: Vocabulary) -> re.Pattern[str]:
    """A word that is abbreviated so, with a capital, or before a number."""
    words = sorted(vocabulary.naming.abbreviated, key=len, reverse=True)
    capital = "|".join(re.escape(form) for word in words for form in (word.capitalize(), word.upper()))
    small = "|".join(map(re.escape, words))
    return re.compile(rf"(?<!\w)(?:({capital})\.(?=[\s,;]|$)|({small})\.(?=\s*\d))")


def without_dots(text: str, vocabulary: Vocabulary) -> str:
    """The text without the dots behind abbreviations and initials."""
    plain = _INITIAL.sub(r"\1", text)
    return _pattern(vocabulary).sub(lambda match: match[1] or match[2], plain)


def as_typed(entry: Entry, typed: str, spelled: Spelled, expectation: Expectation, vocabulary: Vocabulary) -> Entry:
    """The entry with words that were put right for reading as they were typed, with the dots of abbreviations; asked
    about where its text still is not what was typed, unless it is a name that was told before."""
    if not isinstance(entry, Given) or not isinstance(entry.value, str):
        return entry
    slot = expectation.slot(entry.slot)
    if slot is None or slot.kind is not SlotKind.TEXT or entry.value in names_before(entry, expectation):
        return entry
    if slot.role not in CODES and (dotted := _with_dots(entry.value, typed, vocabulary)) != entry.value:
        return entry.model_copy(update={"value": dotted})
    if _stands(entry.value, typed, slot):
        return entry
    value = entry.value
    for meant, said in spelled.changes:
        value = re.sub(rf"(?<!\w){re.escape(meant)}(?!\w)", said, value, count=1)
    if _stands(value, typed, slot):
        return entry.model_copy(update={"value": value})
    return doubtful(entry)


def _stands(value: str, typed: str, slot: ExpectedSlot) -> bool:
    """Whether a text was typed; of a code, whose digits may be said in words, its letters."""
    said = plain_name(typed)
    if slot.role in CODES:
        return all(letters in said for letters in _LETTERS.findall(fold(value)))
    return plain_name(value) in said


def one_slip_away(entry: Entry, expectation: Expectation) -> Entry:
    """The name as it was typed or the one it is nearly, to be chosen between; any other entry as it is."""
    if not isinstance(entry, Given) or not isinstance(entry.value, str):
        return entry
    names = names_before(entry, expectation)
    meant = next((name for name in names if _is_nearly(entry.value, name)), None)
    if meant is None or entry.value in names:
        return entry
    plain = entry.model_copy(update={"doubt": None})
    return Either(readings=((plain.model_copy(update={"value": meant}),), (plain,)))


def _is_nearly(name: str, other: str) -> bool:
    """Whether just one word differs, by one letter; numbers are never slips."""
    ours, theirs = fold(name).split(), fold(other).split()
    unlike = [pair for pair in zip(ours, theirs, strict=False) if pair[0] != pair[1]]
    if len(ours) != len(theirs) or len(unlike) != 1:
        return False
    one, two = unlike[0]
    return one.isalpha() and two.isalpha() and min(len(one), len(two)) >= SHORTEST and slipped(one, two)


def _with_dots(value: str, typed: str, vocabulary: Vocabulary) -> str:
    """A text that was taken from one without dots as it was typed."""
    words = value.split()
    found = re.search(r"(?<!\w)" + r"\.?\s+".join(map(re.escape, words)) + r"(?!\w)", typed) if words else None
    if found is None:
        return value
    ends = fold(words[-1]) in map(fold, vocabulary.naming.abbreviated) and typed[found.end() :].startswith(".")
    return found[0] + ("." if ends else "")
