"""When a text may be read with words left out, and what is then asked about instead of kept."""

from __future__ import annotations

from enum import StrEnum

from engine.entries.hearing import Hearing
from engine.messages import Asked, DoubtReason, Entry, Given, Reported, Unclear, UnclearReason

NEUTRAL, UNKNOWN = 10, 1_000
"""What it costs to leave out a word that says nothing, or one that nobody knows: less, and more, than a reading."""
MOST_LOOSE = 40
"""A longer text is not guessed at (own decision)."""
_VAGUE = frozenset({UnclearReason.UNKNOWN_WORDS, UnclearReason.NOT_A_CHOICE, UnclearReason.NO_VALUE})


class Leeway(StrEnum):
    """Which words a reading may leave out: none, those that say nothing, or unknown ones as well."""

    NONE = "none"
    NEUTRAL = "neutral"
    UNKNOWN = "unknown"


def left_out_at(hearing: Hearing, place: int, leeway: Leeway) -> int | None:
    """What it costs to leave out the word at a place; None where it has to mean something.

    A number is never left out, nor an unknown word right behind one: it may be its unit.
    """
    if leeway is Leeway.NONE or _is_number(hearing, place):
        return None
    if hearing.tokens[place].key in hearing.vocabulary.dropped:
        return NEUTRAL
    behind_number = place > 0 and _is_number(hearing, place - 1)
    return UNKNOWN if leeway is Leeway.UNKNOWN and not behind_number else None


def _is_number(hearing: Hearing, place: int) -> bool:
    return hearing.tokens[place].is_number or any(True for _ in hearing.matcher.rule("number", place))


def loosely(hearing: Hearing, entries: tuple[Entry, ...]) -> bool:
    """Whether the strict reading found nothing, and no word turns a meaning round, makes it unreal, or asks."""
    found_nothing = all(isinstance(entry, Unclear) and entry.reason in _VAGUE for entry in entries)
    turned = any(token.key in hearing.vocabulary.turning for token in hearing.tokens)
    return found_nothing and not turned and len(hearing.tokens) <= MOST_LOOSE


def asked_about(entries: tuple[Entry, ...]) -> tuple[Entry, ...]:
    """Values and reports with a doubt, questions as they are; nothing where anything else is among them, or a slot got
    two values."""
    if not entries or not all(isinstance(entry, Given | Reported | Asked) for entry in entries):
        return ()
    places = [(entry.slot, entry.row) for entry in entries if isinstance(entry, Given)]
    if len(set(places)) < len(places):
        return ()
    return tuple(
        entry.model_copy(update={"doubt": DoubtReason.INFERRED})
        if isinstance(entry, Given | Reported) and entry.doubt is None
        else entry
        for entry in entries
    )
