"""Counts and times in words of daily life: none, a dozen and a half, two days."""

from __future__ import annotations

from engine.entries.match_context import MatchContext
from engine.entries.phrase import Phrases
from engine.entries.row_numbers import numerals
from engine.entries.vocabulary import Vocabulary
from engine.expectation import Asking, Expectation, SlotKind
from engine.quantities import Dimension

HOURS_A_DAY = 24
HOUR = "h"


def counted_out(text: str, expectation: Expectation, vocabulary: Vocabulary) -> str:
    """The text with such words at its beginning as the number that is asked for: a count as digits, days of a time
    that is asked in hours as hours. Anything else stays as it is."""
    slot = expectation.slots[0] if expectation.asking is Asking.SLOT else None
    if slot is None or slot.per_row or slot.kind not in (SlotKind.COUNT, SlotKind.MEASURE):
        return text
    hearing = MatchContext(text, expectation, vocabulary)
    if slot.kind is SlotKind.COUNT:
        low = 0 if slot.hard is None else slot.hard.low
        return _count(hearing, {number: said for number, said in vocabulary.loose.counts.items() if int(number) >= low})
    return _hours(hearing) if Dimension.TIME in slot.dimensions and HOUR in slot.units else text


def _count(hearing: MatchContext, counts: dict[str, Phrases]) -> str:
    """The text with a count that is its first piece, or all of it, in digits."""
    ends = [(match.end, number) for number, said in counts.items() for match in hearing.find(said, 0)]
    whole = [one for one in ends if one[0] == len(hearing.tokens) or hearing.tokens[one[0]].is_break]
    if not whole:
        return hearing.text
    end, number = max(whole)
    return " ".join((number, hearing.said(end, len(hearing.tokens)))).strip()


def _hours(hearing: MatchContext) -> str:
    """The text with its days, where it tells one number of them, as hours."""
    days, hours = hearing.vocabulary.loose.days, hearing.vocabulary.units[HOUR][0].say
    found = [
        (place, after.end, max(one.value for one in numerals(match.captures)))
        for place in range(len(hearing.tokens))
        for match in hearing.matcher.rule("below_hundred", place) + hearing.matcher.rule("written", place)
        for after in hearing.find(days, match.end)
        if numerals(match.captures)
    ]
    if len({end for _, end, _ in found}) != 1:
        return hearing.text
    place, end, number = found[0]
    before, after = hearing.said(0, place), hearing.said(end, len(hearing.tokens))
    return " ".join((before, f"{(number * HOURS_A_DAY).normalize():f}", hours, after)).strip()
