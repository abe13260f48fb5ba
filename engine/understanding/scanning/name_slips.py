"""A name that is one slip of the finger away from one that was given before: it may be the same thing."""

from __future__ import annotations

from engine.entries.matching.name import names_before
from engine.entries.phrases.tokens import fold
from engine.expectation import Expectation
from engine.messages import Either, Entry, Given
from engine.understanding.scanning.spelling import SHORTEST, slipped


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
