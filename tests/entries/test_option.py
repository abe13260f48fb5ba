"""In the answer to a choice its own words go before commands and yes or no of the same words."""

from __future__ import annotations

import pytest

from engine.entries.phrases.vocabulary import load_vocabulary
from engine.entries.strict_reader import read_text
from engine.expectation import Asking, Expectation, ExpectedSlot, Option, SlotKind
from engine.messages import Command, Commanded, Given

NEXT = ExpectedSlot(
    name="next",
    kind=SlotKind.CHOICE,
    options=(
        Option(key="more", label="Once more", words=("once more", "yes")),
        Option(key="enough", label="Done", words=("enough", "done", "no")),
    ),
)
EXPECTATION = Expectation(language="en", asking=Asking.SLOT, slots=(NEXT,))


@pytest.mark.parametrize(("text", "key"), [("done", "enough"), ("Done.", "enough"), ("no", "enough"), ("yes", "more")])
def test_an_option_goes_before_a_command(text: str, key: str) -> None:
    (entry,) = read_text(text, EXPECTATION, load_vocabulary("en"))
    assert isinstance(entry, Given)
    assert entry.value == key


def test_other_words_stay_commands() -> None:
    assert read_text("go back", EXPECTATION, load_vocabulary("en")) == (Commanded(command=Command.BACK),)


CONDITION = ExpectedSlot(
    name="condition",
    kind=SlotKind.CHOICE,
    options=(
        Option(key="fit", label="fit", words=("fit", "done")),
        Option(key="hose", label="hose", words=("hose",)),
    ),
    per_row=True,
    open_rows=(3, 4, 5),
    next_row=3,
)


def conditions(text: str, **changes: object) -> dict[int | None, object]:
    slot = CONDITION.model_copy(update=changes)
    entries = read_text(text, EXPECTATION.model_copy(update={"slots": (slot,), "rows": 5}), load_vocabulary("en"))
    return {entry.row: entry.value for entry in entries if isinstance(entry, Given)}


def test_an_option_alone_is_of_the_row_that_is_asked_for() -> None:
    assert conditions("done") == {3: "fit"}
    assert conditions("done", next_rows=(3, 4)) == conditions("done", next_row=None) == {}


def test_the_rest_are_the_rows_without_a_value() -> None:
    assert conditions("the rest fit") == {3: "fit", 4: "fit", 5: "fit"}
    assert conditions("row four hose, all the others fit") == {4: "hose", 3: "fit", 5: "fit"}
    assert conditions("the rest fit", open_rows=(), next_row=None) == {}


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("all fit but row two hose", {1: "fit", 2: "hose", 3: "fit", 4: "fit", 5: "fit"}),
        ("row two hose, all fit", {1: "fit", 2: "hose", 3: "fit", 4: "fit", 5: "fit"}),
        ("all fit, rows one to three hose, row two fit", {1: "hose", 2: "fit", 3: "hose", 4: "fit", 5: "fit"}),
        ("all fit except row two", {1: "fit", 3: "fit", 4: "fit", 5: "fit"}),
    ],
)
def test_what_is_said_of_fewer_rows_goes_before_what_is_said_of_more(text: str, found: dict[int, str]) -> None:
    assert conditions(text) == found
