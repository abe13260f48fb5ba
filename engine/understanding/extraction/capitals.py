"""Words of a sentence that stand out as a name: those with a capital inside it, and those that nobody knows."""

from __future__ import annotations

from collections.abc import Callable, Collection

from engine.entries.matching.match_context import MatchContext
from engine.entries.phrases.tokens import fold, has_digit

Knows = Callable[[str], bool]
EDGES = " \"'“”«».,;:!?"
MOST_WORDS = 5
SHORT = 2
"""Words so short stand out by their capital alone."""


def has_capitals(name: str) -> bool:
    """Whether several words all begin with a capital, as the first and last name of a person."""
    words = name.split()
    return len(words) > 1 and all(word[0].isupper() for word in words)


def capitals(hearing: MatchContext, text: str, knows: Knows) -> str | None:
    """Words with a capital inside a sentence, with numbers behind and small words between."""
    if text.isupper():
        return None
    return _run(hearing, text, lambda word, place: _is_capital(hearing, word, place, knows))


def unknown(hearing: MatchContext, text: str, knows: Knows) -> str | None:
    return _run(hearing, text, lambda word, _: _is_unknown(hearing, word, knows))


def _is_capital(hearing: MatchContext, word: str, place: int, knows: Knows) -> bool:
    key = fold(word)
    if not word[:1].isupper() or key in hearing.naming.talk:
        return False
    return place > 0 or _begins_name(hearing) or not (key in hearing.vocabulary.plain_words or knows(key))


def _begins_name(hearing: MatchContext) -> bool:
    """Whether the first word is one that names are made of, with another capital behind it: "North Bottom"."""
    naming, words = hearing.naming, hearing.text.split()
    capitals = len(words) > 1 and words[0].istitle() and words[1].istitle()
    return capitals and fold(words[0]) in {*map(fold, naming.made_of), *naming.kinds}


def _is_unknown(hearing: MatchContext, word: str, knows: Knows) -> bool:
    key = fold(word)
    known = key in hearing.vocabulary.plain_words or key in hearing.naming.talk or knows(key)
    return not known and key.isalpha() and len(key) > SHORT


def _run(hearing: MatchContext, text: str, begins: Callable[[str, int], bool]) -> str | None:
    """The longest run of words that stand out."""
    inside, small = hearing.naming.inside, hearing.naming.inside | hearing.naming.kinds
    runs: list[list[str]] = [[]]
    for place, word in enumerate(text.split()):
        clean = word.strip(EDGES)
        goes_on = bool(runs[-1]) and (has_digit(clean) or fold(clean) in small)
        stands_out = bool(clean) and (begins(not_owning(clean), place) or goes_on)
        if stands_out:
            runs[-1].append(clean)
        if not stands_out or word[-1:] in ",.;:!?":
            runs.append([])
    best = max((_trimmed(run, inside) for run in runs), key=len)
    best = [*best[:-1], *map(not_owning, best[-1:])]
    return " ".join(best[:MOST_WORDS]) or None


def _trimmed(run: list[str], inside: Collection[str]) -> list[str]:
    while run and fold(run[-1]) in inside:
        run = run[:-1]
    return run


def not_owning(word: str) -> str:
    """A word without the "'s" behind it."""
    return word.removesuffix("'s").removesuffix("’s")
