"""Names that were given before may be said, and are kept as they were spelled."""

from __future__ import annotations

import pytest

from engine.entries.grammar import grammar
from engine.entries.matching.name import known, sayings
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.entries.strict_reader import read
from engine.expectation import Expectation, ExpectedSlot, SlotKind
from engine.messages import DoubtReason, Given, Report, Reported
from speech.decoding import grammar as grammars
from tests.helpers.entries import expecting, utterance

NAMES = {Report.FIELD: ("North field", "South 40", "Río Álamo"), Report.HANDED_OVER: ("Maria",), Report.PRODUCT: ()}


def in_shift(**more: object) -> Expectation:
    return expecting("shift", "en").model_copy(update={"names": NAMES, **more})


def asked_for_text(*names: str) -> Expectation:
    slot = ExpectedSlot(name="field", kind=SlotKind.TEXT, names=names)
    return expecting("product", "en").model_copy(update={"slots": (slot,)})


def said(expectation: Expectation, *words: str) -> bool:
    return grammars.automaton(grammar(expectation, load_vocabulary("en"))).accepts(words)


@pytest.mark.parametrize(
    ("text", "report", "name"),
    [
        ("field is north field", Report.FIELD, "North field"),
        ("next field is north field", Report.FIELD, "North field"),
        ("field is río álamo", Report.FIELD, "Río Álamo"),
        ("hand over to maria", Report.HANDED_OVER, "Maria"),
    ],
)
def test_a_known_name_may_be_said_and_is_kept_as_it_was_spelled(text: str, report: Report, name: str) -> None:
    assert said(in_shift(), *text.split())
    (entry,) = read(utterance(text, "en"), in_shift(), load_vocabulary("en")).entries
    assert isinstance(entry, Reported)
    assert (entry.report, entry.value) == (report, name)


@pytest.mark.parametrize("text", ["field is west", "hand over to pete", "product is north field", "hand over to"])
def test_a_name_that_nobody_gave_is_not_expected(text: str) -> None:
    assert not said(in_shift(), *text.split())


def test_a_name_is_said_alone_only_after_what_it_belongs_to() -> None:
    waiting = in_shift(naming=Report.FIELD)
    assert said(waiting, "north", "field")
    assert not said(in_shift(), "north", "field")
    (entry,) = read(utterance("north field", "en", sure=1.0), waiting, load_vocabulary("en")).entries
    assert entry == Reported(report=Report.FIELD, value="North field", said="north field")


def test_the_answer_to_a_question_for_a_name_may_be_one_given_before() -> None:
    waiting = asked_for_text("North field", "447")
    assert said(waiting, "north", "field")
    assert said(waiting, "four", "four", "seven")
    for text, name in (("north field", "North field"), ("four four seven", "447")):
        (entry,) = read(utterance(text, "en", sure=1.0), waiting, load_vocabulary("en")).entries
        assert isinstance(entry, Given)
        assert (entry.value, entry.doubt) == (name, None)
    (entry,) = read(utterance("north field", "en", sure=0.6), waiting, load_vocabulary("en")).entries
    assert isinstance(entry, Given)
    assert entry.doubt is DoubtReason.LOW_CONFIDENCE


def test_a_name_that_is_part_digits_cannot_be_said() -> None:
    assert known("south 40", NAMES[Report.FIELD]) == "South 40"
    assert not said(in_shift(), "field", "is", "south", "forty")
    assert len(sayings(("447",), "es")) == 1
