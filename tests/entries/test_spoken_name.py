"""Names that are heard for the first time: proposed, never kept unasked."""

from __future__ import annotations

import pytest

from engine.entries.acceptance import load_acceptance
from engine.entries.grammar import grammar
from engine.entries.matching.name import said_name
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.entries.strict_reader import read
from engine.expectation import Asking, Expectation, ExpectedSlot, SlotKind
from engine.messages import LANGUAGES, DoubtReason, Given, Language, Unclear, UnclearReason
from speech.decoding.grammar import automaton
from tests.helpers.entries import utterance

SAID = {"en": ("north forty", "North forty"), "es": ("potrero norte", "Potrero norte")}


def expecting(language: Language, *names: str) -> Expectation:
    field = ExpectedSlot(name="field", kind=SlotKind.TEXT, names=names)
    return Expectation(language=language, asking=Asking.SLOT, slots=(field,), elsewhere=("g", "ft"))


def heard(text: str, language: Language, *names: str, sure: float = 1.0) -> object:
    said = utterance(text, language, sure=sure)
    (entry,) = read(said, expecting(language, *names), load_vocabulary(language), load_acceptance()).entries
    return entry


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_first_name_may_be_said_and_is_asked(language: Language) -> None:
    text, written = SAID[language]
    may_be_said = automaton(grammar(expecting(language), load_vocabulary(language)))
    assert may_be_said.accepts(text.split())
    entry = heard(text, language)
    assert isinstance(entry, Given)
    assert (entry.value, entry.doubt) == (written, DoubtReason.INFERRED)


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_name_told_before_is_taken_as_it_was(language: Language) -> None:
    text, _ = SAID[language]
    entry = heard(text, language, text.upper())
    assert isinstance(entry, Given)
    assert (entry.value, entry.doubt) == (text.upper(), None)


def test_whatever_else_is_heard_as_a_name_is_asked_too() -> None:
    entry = heard("are forty", "en")
    assert isinstance(entry, Given)
    assert (entry.value, entry.doubt) == ("are forty", DoubtReason.INFERRED)


def test_digits_one_by_one_are_a_lot_number_and_asked() -> None:
    entry = heard("four four seven", "en")
    assert isinstance(entry, Given)
    assert (entry.value, entry.doubt) == ("447", DoubtReason.INFERRED)


@pytest.mark.parametrize(
    ("text", "sure", "reason"), [("row one sixty four", 1.0, "misplaced"), ("north", 0.1, "unsure")]
)
def test_a_row_with_a_catch_is_no_name_and_bad_hearing_neither(text: str, sure: float, reason: str) -> None:
    entry = heard(text, "en", sure=sure)
    assert isinstance(entry, Unclear)
    assert entry.reason is UnclearReason(reason)


def test_longer_names_and_other_words_are_none() -> None:
    vocabulary = load_vocabulary("en")
    assert said_name("north creek road", vocabulary) == "North creek road"
    assert said_name("old north creek road", vocabulary) is None
    assert said_name("north windmill", vocabulary) is None
    assert said_name("", vocabulary) is None
