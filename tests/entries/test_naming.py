"""A name is taken for a name, and what is none is skipped or asked about."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.entries.phrases.vocabulary import load_vocabulary
from engine.entries.strict_reader import read_text
from engine.expectation import Asking, Expectation, ExpectedSlot, SlotKind
from engine.messages import Command, Commanded, DoubtReason, Entry, Given, Language


def heard(text: str, language: Language = "en", names: tuple[str, ...] = ()) -> tuple[Entry, ...]:
    called = ("lot", "lot number") if language == "en" else ("lote", "número de lote")
    slot = ExpectedSlot(name="lot", kind=SlotKind.TEXT, called=called, names=names)
    waiting = Expectation(language=language, asking=Asking.SLOT, slots=(slot,))
    return read_text(text, waiting, load_vocabulary(language))


def kept(text: str, language: Language = "en") -> tuple[object, bool]:
    """The name, and whether it is asked about."""
    (entry,) = heard(text, language)
    assert isinstance(entry, Given), entry
    return entry.value, entry.doubt is DoubtReason.UNUSUAL


@pytest.mark.parametrize(
    ("language", "text", "name"),
    [
        ("en", "Product A", "Product A"),
        ("en", "It's called Product B 20G.", "Product B 20G"),
        ("en", "the name on the bag is Product E 10", "Product E 10"),
        ("en", "lot 447", "447"),
        ("en", "the lot number is B-1049", "B-1049"),
        ("en", "back 40", "back 40"),
        ("en", "four four seven", "447"),
        ("es", "se llama Producto A", "Producto A"),
        ("es", "la bolsa dice B-12", "B-12"),
    ],
)
def test_a_name_is_kept_without_what_leads_to_it(language: Language, text: str, name: str) -> None:
    assert kept(text, language) == (name, False)


@pytest.mark.parametrize(
    ("language", "text"),
    [
        ("en", "no clue"),
        ("en", "i dont know"),
        ("en", "idk skip"),
        ("en", "I'd rather not say just yet, skip that one."),
        ("en", "can't read it"),
        ("es", "no sé"),
        ("es", "quién sabe"),
        ("es", "mejor sáltatelo"),
    ],
)
def test_no_name_skips_the_question(language: Language, text: str) -> None:
    assert heard(text, language) == (Commanded(command=Command.SKIP),)


@pytest.mark.parametrize(
    ("language", "text"),
    [
        ("en", "What was the row spacing I gave you?"),
        ("en", "hang on"),
        ("en", "exit"),
        ("en", "five pounds an acre"),
        ("en", "row three gave sixty"),
        ("es", "espérame tantito"),
        ("es", "¿cuál era la dosis?"),
        ("es", "cinco libras por acre"),
    ],
)
def test_talk_is_asked_about(language: Language, text: str) -> None:
    assert kept(text, language)[1]


def test_a_name_that_was_given_before_is_never_doubted() -> None:
    (entry,) = heard("My back forty", names=("My back forty",))
    assert isinstance(entry, Given) and entry.doubt is None


@given(st.text(alphabet="abcdefghij ", min_size=1, max_size=40).filter(str.strip))
def test_what_ends_in_a_question_mark_is_never_kept_unasked(text: str) -> None:
    for entry in heard(f"{text}?"):
        assert not isinstance(entry, Given) or entry.doubt is not None
