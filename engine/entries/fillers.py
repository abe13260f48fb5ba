"""Words that drop out of what is said, and the few phrases in which they mean something."""

from __future__ import annotations

from functools import lru_cache

from engine.entries.pattern import forms
from engine.entries.tokens import Keys
from engine.entries.vocabulary import Vocabulary, placed, rules_of


@lru_cache(maxsize=16)
def kept_words(vocabulary: Vocabulary) -> frozenset[Keys]:
    """The reports in plain words with a filler among them, such as "not now": they count where they are said alone."""
    plain = (one for _, one in placed(vocabulary.reports) if not rules_of(one))
    return frozenset(said for one in plain for said in forms(one.node) if vocabulary.silent & set(said))
