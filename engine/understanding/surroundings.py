"""What stands around a name in its sentence: words that lead to it or trail behind, or words left over, by which its
bounds are in doubt."""

from __future__ import annotations

from itertools import pairwise

from engine.entries.matching.match_context import MatchContext
from engine.entries.phrases.tokens import fold
from engine.expectation import ExpectedSlot
from engine.understanding.extraction.capitals import EDGES
from engine.understanding.extraction.told_names import CLAUSE_END, PERSON, QUOTES, starts, without_tail

FEW_DIGITS = 3
"""A number of a registration or a licence has hardly fewer digits."""
MOST_LEFT = 1
"""So many words before a name that nothing leads to may be a greeting."""


def in_doubt(name: str, hearing: MatchContext, slot: ExpectedSlot) -> bool:
    """Whether words are left over beside a name in its clause, "but" goes on behind it, or it is one word of a person's
    behind an article."""
    before, found, after = hearing.text.partition(name)
    if not found:
        return False
    rest = fold(after).strip(EDGES).split()
    if rest and rest[0] in hearing.vocabulary.loose.weak_except:
        return True
    if slot.role == PERSON:
        words, first = fold(before).split(), fold(name.split(maxsplit=1)[0])
        small = _small(hearing) | hearing.vocabulary.sentence_words
        called = len(name.split()) == 1 or name == name.lower()
        return first in small or (called and bool(words) and words[-1] in small)
    return _left_before(before, hearing) or _left_behind(after, hearing)


def _small(hearing: MatchContext) -> set[str]:
    naming = hearing.vocabulary.naming
    return {fold(word) for word in (*naming.inside, *naming.articles)}


def _left_before(before: str, hearing: MatchContext) -> bool:
    """Whether more words stand before a name in its clause than a greeting, and none of them leads to it."""
    if before[-1:] in QUOTES:
        return False
    clause = CLAUSE_END.split(before)[-1]
    said = [word.strip(EDGES) for word in fold(clause).split()]
    said = [word for word in said if word and word not in _small(hearing) | hearing.vocabulary.silent]
    between = (hearing.text[hearing.tokens[end].start : len(before)] for end in starts(hearing))
    led = clause.rstrip().endswith(":") or any(set(fold(words).split()) <= _small(hearing) for words in between)
    return len(said) > MOST_LEFT and not led


def _left_behind(after: str, hearing: MatchContext) -> bool:
    """Whether words follow a name in its clause that trail behind no name."""
    naming, clause = hearing.vocabulary.naming, CLAUSE_END.split(after)[0]
    first, _, rest = clause.strip().partition(" ")
    clause = rest if fold(first.strip(EDGES)) in {*naming.generic, *naming.kinds} else clause
    if not clause.strip(EDGES) or after[:1] in ",;.!?":
        return False
    return bool(without_tail(f"x {clause.strip(EDGES)}", hearing).strip(EDGES) != "x")


def hardly_a_code(name: str, hearing: MatchContext) -> bool:
    """Whether a number of a registration or a licence has hardly a digit, or is said not to be it."""
    no, pairs = hearing.vocabulary.loose.not_words, pairwise(hearing.tokens)
    denied = any(one.key in no and two.is_number and two.text == name for one, two in pairs)
    return sum(map(str.isdigit, name)) < FEW_DIGITS or denied
