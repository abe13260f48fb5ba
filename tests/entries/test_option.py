"""In the answer to a choice its own words go before commands and yes or no of the same words."""

from __future__ import annotations

import pytest

from engine.entries.reader import read_text
from engine.entries.vocabulary import load_vocabulary
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
