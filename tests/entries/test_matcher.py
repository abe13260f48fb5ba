"""A rule is left untried only where it would not fit."""

from __future__ import annotations

from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.data.languages import LANGUAGES
from engine.entries.matching.matcher import Matcher, rule_beginnings
from engine.entries.phrases.pattern import Word, walk
from engine.entries.phrases.phrase import placed
from engine.entries.phrases.tokens import tokenize
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.messages import Language


class _Untried(Matcher):
    """Tries every rule at every place."""

    def _beginnings(self) -> dict[str, frozenset[str] | None]:
        return {}


@cache
def words(language: Language) -> list[str]:
    """The words of the numbers, the rules and the clock, and some that belong to none."""
    vocabulary = load_vocabulary(language)
    said = [one for part in (vocabulary.rules, vocabulary.numbers.words) for _, one in placed(part)]
    found = {node.text for one in said for node in walk(one.node) if isinstance(node, Word)}
    return sorted({*found, "7", "40", "1/2", "3.5", "hopper", "x"})


@settings(deadline=None)
@given(st.data(), st.sampled_from(LANGUAGES))
def test_a_rule_fits_as_it_does_where_all_are_tried(data: st.DataObject, language: Language) -> None:
    vocabulary = load_vocabulary(language)
    text = " ".join(data.draw(st.lists(st.sampled_from(words(language)), min_size=1, max_size=6)))
    tokens = tokenize(text)
    quick, slow = Matcher(tokens, vocabulary), _Untried(tokens, vocabulary)
    for name in (*vocabulary.rules, *vocabulary.numbers.words):
        for start in range(len(tokens) + 1):
            assert quick.rule(name, start) == slow.rule(name, start), (text, name, start)


@pytest.mark.parametrize("language", LANGUAGES)
def test_most_rules_are_known_by_their_beginning(language: Language) -> None:
    vocabulary = load_vocabulary(language)
    begins = rule_beginnings(vocabulary, frozenset({"written", "written_fraction"}))
    known = [name for name in vocabulary.numbers.words if begins[name]]
    assert known == [*vocabulary.numbers.words]
    hooked = rule_beginnings(vocabulary, frozenset({"written", "written_fraction", "row"}))
    assert hooked["row"] is None and begins["row_number"] == hooked["row_number"]
