"""Words that drop out of what is said, the few phrases in which they mean something, and those run together."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import lru_cache

from engine.data.forms import load_forms
from engine.entries.phrases.pattern import forms
from engine.entries.phrases.phrase import placed
from engine.entries.phrases.tokens import Keys, Token, fold
from engine.entries.phrases.vocabulary import Vocabulary


@lru_cache(maxsize=16)
def kept_words(vocabulary: Vocabulary) -> frozenset[Keys]:
    """The reports in plain words with a filler among them, such as "not now": they count where they are said alone."""
    plain = (one for _, one in placed(vocabulary.reports) if not one.rules)
    return frozenset(said for one in plain for said in forms(one.node) if vocabulary.fillers & set(said))


def parted(tokens: Iterable[Token], vocabulary: Vocabulary) -> Iterator[Token]:
    """The tokens, where "five's high" is "five is high"."""
    run_on = load_forms(vocabulary.language).run_on
    numbers = _number_words(vocabulary) if run_on else frozenset()
    for token in tokens:
        end = next((one for one in run_on if token.key.endswith(one) and token.key.removesuffix(one) in numbers), None)
        if end is None:
            yield token
            continue
        cut = token.end - len(end)
        yield Token(token.text[: -len(end)], token.key.removesuffix(end), token.start, cut)
        yield Token(run_on[end], run_on[end], cut, token.end)


@lru_cache(maxsize=16)
def _number_words(vocabulary: Vocabulary) -> frozenset[str]:
    numbers = (one for said in vocabulary.numbers.words.values() for _, one in placed(said))
    rows = (*vocabulary.loose.nouns,)
    return frozenset(fold(word) for one in numbers for said in forms(one.node) for word in said) | {*map(fold, rows)}
