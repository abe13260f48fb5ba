"""What is kept as a text is what was typed: no word in it that the program put there."""

from __future__ import annotations

import re

from engine.entries.matching.name import names_before
from engine.entries.phrases.tokens import fold
from engine.entries.phrases.vocabulary import Vocabulary
from engine.expectation import Expectation, ExpectedSlot, SlotKind
from engine.messages import Entry, Given
from engine.understanding.extraction.corrections import CODES
from engine.understanding.extraction.inferring import doubtful
from engine.understanding.scanning.abbreviations import with_dots
from engine.understanding.scanning.spelling import Spelled

_LETTERS = re.compile(r"[^\W\d_]+")


def as_typed(entry: Entry, typed: str, spelled: Spelled, expectation: Expectation, vocabulary: Vocabulary) -> Entry:
    """The entry with words that were put right for reading as they were typed, with the dots of abbreviations; asked
    about where its text still is not what was typed, unless it is a name that was told before."""
    if not isinstance(entry, Given) or not isinstance(entry.value, str):
        return entry
    slot = _slot(entry, expectation)
    if slot is None or slot.kind is not SlotKind.TEXT or entry.value in names_before(entry, expectation):
        return entry
    if slot.role not in CODES and (dotted := with_dots(entry.value, typed, vocabulary)) != entry.value:
        return entry.model_copy(update={"value": dotted})
    if _stands(entry.value, typed, slot):
        return entry
    value = entry.value
    for meant, said in spelled.changes:
        value = re.sub(rf"(?<!\w){re.escape(meant)}(?!\w)", said, value, count=1)
    if _stands(value, typed, slot):
        return entry.model_copy(update={"value": value})
    return doubtful(entry)


def _slot(entry: Given, expectation: Expectation) -> ExpectedSlot | None:
    slots = (*expectation.slots, *expectation.known, *expectation.ahead)
    return next((one for one in slots if one.name == entry.slot), None)


def _stands(value: str, typed: str, slot: ExpectedSlot) -> bool:
    """Whether a text was typed; of a code, whose digits may be said in words, its letters."""
    said = _plain(typed)
    if slot.role in CODES:
        return all(letters in said for letters in _LETTERS.findall(fold(value)))
    return _plain(value) in said


def _plain(text: str) -> str:
    return " ".join(fold(text).split())
