"""Words that sound like exposure, poisoning, fire or a spill: whoever says them hears first whom to call.

Found by words alone, so that it errs on the safe side; sayings that only sound so are passed over.
"""

from __future__ import annotations

from collections.abc import Iterator

from engine.entries.matching.match_context import MatchContext
from engine.entries.phrases.phrase import Phrases

REACH = 12
"""Words within which a being and a harm belong together."""


def sounds_dangerous(hearing: MatchContext) -> bool:
    """Whether a sentence tells a sign of poisoning, a spill, a fire, or a being together with a harm."""
    words = hearing.vocabulary.danger
    innocent = {place for begin, end in _found(hearing, words.innocent) for place in range(begin, end)}
    signs = (begin for phrases in (words.signs, words.spills) for begin, _ in _found(hearing, phrases))
    if any(begin not in innocent for begin in signs):
        return True
    beings = [begin for begin, _ in _found(hearing, words.beings) if begin not in innocent]
    harms = [begin for begin, _ in _found(hearing, words.harms) if begin not in innocent]
    return any(abs(being - harm) <= REACH and being != harm for being in beings for harm in harms)


def _found(hearing: MatchContext, phrases: Phrases) -> Iterator[tuple[int, int]]:
    """Where these phrases begin and end."""
    for place in range(len(hearing.tokens)):
        for match in hearing.find(phrases, place):
            yield place, match.end
