"""Counts and times in words of daily life: none, a dozen and a half, two days."""

from __future__ import annotations

from decimal import Decimal

from engine.entries.matching.match_context import MatchContext
from engine.entries.matching.row_numbers import numerals
from engine.entries.phrases.phrase import Phrases
from engine.entries.phrases.vocabulary import Vocabulary
from engine.expectation import Asking, Expectation, SlotKind
from engine.quantities import Dimension

HOURS_A_DAY = 24
HOUR = "h"
HALF = Decimal("0.5")


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
    later = [slot, *expectation.ahead]
    return _hours(hearing) if any(Dimension.TIME in one.dimensions and HOUR in one.units for one in later) else text


def _count(hearing: MatchContext, counts: dict[str, Phrases]) -> str:
    """The text with a count that is its first piece, or all of it, in digits."""
    ends = [(end, number) for number, said in counts.items() for end in hearing.ends(said, 0)]
    whole = [one for one in ends if one[0] == len(hearing.tokens) or hearing.tokens[one[0]].is_break]
    if not whole:
        return hearing.text
    end, number = max(whole)
    return " ".join((number, hearing.said(end, len(hearing.tokens)))).strip()


def _hours(hearing: MatchContext) -> str:
    """The text with its days, where it tells one number of them, as hours."""
    days, hours = hearing.loose.days, hearing.vocabulary.units[HOUR][0].say
    longest: dict[int, tuple[int, Decimal, int]] = {}
    for place in range(len(hearing.tokens)):
        told = [(after, number) for end, number in _numbers(hearing, place) for after in hearing.ends(days, end)]
        found = [(end, number, _half_more(hearing, end)) for end, number in told]
        alone = [(end, Decimal(1), _half_more(hearing, end)) for end in hearing.ends(days, place)]
        if found := [*found, *(one for one in alone if one[2])]:
            longest[place] = max(found)
    return _written(hearing, longest, hours)


def _written(hearing: MatchContext, told: dict[int, tuple[int, Decimal, int]], hours: str) -> str:
    """The text with each number of days, by where it begins, as hours; of two that overlap the first one."""
    pieces: list[str] = []
    done = 0
    for place, (end, number, half) in sorted(told.items()):
        if place < done:
            continue
        all_told = (number + HALF) * HOURS_A_DAY if half else number * HOURS_A_DAY
        pieces += [hearing.said(done, place), f"{all_told.normalize():f} {hours}"]
        done = half or end
    return " ".join(filter(None, (*pieces, hearing.said(done, len(hearing.tokens))))) if pieces else hearing.text


def _numbers(hearing: MatchContext, place: int) -> list[tuple[int, Decimal]]:
    """The longest number that begins here, with where it ends; an article counts as one."""
    rules = ("below_hundred", "written", "number")
    matches = ((match.end, numerals(match.captures)) for rule in rules for match in hearing.matcher.rule(rule, place))
    plain = ((end, said) for end, said in matches if said and not any(one.unsaid for one in said))
    found = [(end, max(one.value for one in said)) for end, said in plain]
    if not found and hearing.tokens[place].key in hearing.loose.single:
        return [(place + 1, Decimal(1))]
    return found


def _half_more(hearing: MatchContext, end: int) -> int:
    """Where a half that follows the days ends: "a day and a half"; 0 where none does."""
    return max((match.end for match in hearing.matcher.rule("half", end)), default=0)
