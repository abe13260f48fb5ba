"""A code is read whole, from words as from print, and no digit of it is lost."""

from __future__ import annotations

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from engine.entries.matching.match_context import MatchContext
from engine.entries.matching.numerals import spell
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.expectation import Expectation
from engine.messages import Given
from engine.understanding.codes import code_told
from tests.understanding.test_laws import LANGUAGES, say

GROUPS = st.lists(st.text("0123456789", min_size=2, max_size=4), min_size=1, max_size=3)
LETTERS = st.sampled_from(["", "B", "HK", "TX"])
HYPHENS = {"en": ("dash", "hyphen", "then a dash then"), "es": ("guion", "raya", "luego una raya y luego")}
AROUND = {
    "en": ("{}", "it's {}", "the number on it is {}", "card says {}"),
    "es": ("{}", "es {}", "el número es {}", "la credencial dice {}"),
}


def read(language: str, text: str, lettered: bool = False) -> str | None:
    return code_told(MatchContext(text, Expectation(language=language), load_vocabulary(language)), lettered)


def in_words(language: str, digits: str) -> str:
    return " ".join(spell(int(digit), language) for digit in digits)


@pytest.mark.parametrize("language", LANGUAGES)
@given(groups=GROUPS, form=st.integers(0, 3), hyphen=st.integers(0, 2))
@settings(max_examples=40, deadline=None)
def test_a_code_in_words_is_the_code_as_typed(language: str, groups: list[str], form: int, hyphen: int) -> None:
    said = f" {HYPHENS[language][hyphen]} ".join(in_words(language, group) for group in groups)
    typed = "-".join(groups)
    around = AROUND[language][form]
    assert read(language, around.format(said)) == typed
    assert read(language, around.format(typed)) == typed


@pytest.mark.parametrize("language", LANGUAGES)
@given(letters=LETTERS, groups=GROUPS)
@settings(max_examples=25, deadline=None)
def test_a_typed_code_is_kept_letter_for_letter(language: str, letters: str, groups: list[str]) -> None:
    assume("911" not in groups)
    typed = "-".join([letters, *groups]) if letters else "-".join(groups)
    for form in AROUND[language]:
        told = say(language, "certification", form.format(typed)).reading.entries
        assert [one.value for one in told if isinstance(one, Given)] == [typed], form.format(typed)


@pytest.mark.parametrize("language", LANGUAGES)
@given(groups=GROUPS, other=st.text("123456789", min_size=3, max_size=4))
@settings(max_examples=25, deadline=None)
def test_no_digit_of_a_code_is_lost(language: str, groups: list[str], other: str) -> None:
    """What is kept without a question has every digit that was told."""
    assume("-".join(groups) != other)
    joined = {"en": "{} and then {}", "es": "{} y luego {}"}[language]
    text = joined.format("-".join(groups), in_words(language, other))
    entries = say(language, "registration", text).reading.entries
    kept = [one for one in entries if isinstance(one, Given) and one.doubt is None]
    digits = "".join(filter(str.isdigit, "".join(groups))) + other
    assert all("".join(filter(str.isdigit, str(one.value))) == digits for one in kept), text


@pytest.mark.parametrize(
    ("language", "text", "code"),
    [
        ("en", "seventy-two nineteen dash four oh three", "7219-403"),
        ("en", "double seven oh four", "7704"),
        ("en", "C as in Charlie, three three oh nine", "C3309"),
        ("en", "that one 1234-56", "1234-56"),
        ("en", "fifty five thirty.. 5533 dash 61", "5533-61"),
        ("en", "1234-56 or 4410-27", None),
        ("en", "15 percent", None),
        ("es", "cuatro mil cuatrocientos diez guion veintisiete", "4410-27"),
        ("es", "C como en casa, tres tres cero nueve", "C3309"),
        ("es", "lote 7 7 B", "77B"),
    ],
)
def test_codes_as_people_say_them(language: str, text: str, code: str | None) -> None:
    assert read(language, text) == code


@pytest.mark.parametrize(("text", "code"), [("PA 20931", "PA 20931"), ("NE dash one one seven", "NE-117")])
def test_letters_that_stand_apart(text: str, code: str) -> None:
    assert read("en", text, lettered=True) == code
