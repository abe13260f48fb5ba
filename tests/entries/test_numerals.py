from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.entries.matching.numerals import LARGEST_SPELLED, readings, spell, spell_digits
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.messages import LANGUAGES


def values(text, language):
    return {numeral.value for numeral in readings(text, load_vocabulary(language))}


def is_sure(text, language):
    return not any(numeral.unsaid for numeral in readings(text, load_vocabulary(language)))


NUMBERS = st.integers(0, 9999) | st.decimals(0, 9999, places=1) | st.decimals(0, 999, places=3)


@settings(max_examples=300, deadline=None)
@given(NUMBERS, st.sampled_from(LANGUAGES))
def test_a_spelled_number_reads_as_itself_and_nothing_else(number, language):
    for words in (spell(number, language), spell_digits(number, language)):
        assert values(words, language) == {Decimal(number)}
        assert is_sure(words, language)


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_whole_number_below_1300_reads_as_itself(language):
    assert all(values(spell(number, language), language) == {number} for number in range(1300))


@pytest.mark.parametrize("language", LANGUAGES)
def test_hyphens_capitals_and_lost_accents_change_nothing(language):
    words = spell(Decimal("122.5"), language)
    plain = words.translate(str.maketrans("áéíóú", "aeiou"))
    assert values(words.upper(), language) == values(plain, language) == values(words, language)
    assert values("forty-nine", "en") == {49}


@pytest.mark.parametrize(
    ("text", "language", "number"),
    [
        ("one hundred and forty eight", "en", "148"),
        ("a hundred six", "en", "106"),
        ("hundred and six", "en", "106"),
        ("forty nine point five", "en", "49.5"),
        ("forty nine point oh five", "en", "49.05"),
        ("one point seventy five", "en", "1.75"),
        ("point seven five", "en", "0.75"),
        ("zero point seven five", "en", "0.75"),
        ("forty nine and a half", "en", "49.5"),
        ("nineteen and three quarters", "en", "19.75"),
        ("fifty one and a quarter", "en", "51.25"),
        ("three quarters", "en", "0.75"),
        ("a half", "en", "0.5"),
        ("four nine point five", "en", "49.5"),
        ("one oh six", "en", "106"),
        ("one o six", "en", "106"),
        ("two fifty", "en", "250"),
        ("one nineteen", "en", "119"),
        ("one forty eight point five", "en", "148.5"),
        ("twenty five hundred", "en", "2500"),
        ("one thousand two hundred and six", "en", "1206"),
        ("cuarenta y nueve coma cinco", "es", "49.5"),
        ("cuarenta y nueve punto cero cinco", "es", "49.05"),
        ("cuarenta y nueve con cinco", "es", "49.5"),
        ("cuarenta y nueve y medio", "es", "49.5"),
        ("uno y tres cuartos", "es", "1.75"),
        ("tres cuartos", "es", "0.75"),
        ("veintidós", "es", "22"),
        ("veintidos", "es", "22"),
        ("veinte y dos", "es", "22"),
        ("ciento seis", "es", "106"),
        ("uno cero seis", "es", "106"),
        ("cuatro nueve coma cinco", "es", "49.5"),
        ("doscientos cuarenta", "es", "240"),
        ("mil doscientos seis", "es", "1206"),
        ("dos mil quinientos", "es", "2500"),
        ("49.5", "en", "49.5"),
        ("49,5", "en", "49.5"),
        (".5", "en", "0.5"),
        ("49 1/2", "en", "49.5"),
        ("49½", "en", "49.5"),
        ("1/2", "es", "0.5"),
        ("1.750", "en", "1.75"),
        ("1,750.5", "en", "1750.5"),
        ("1.750,5", "es", "1750.5"),
        ("49 and a half", "en", "49.5"),
    ],
)
def test_one_meaning(text, language, number):
    assert values(text, language) == {Decimal(number)}
    assert is_sure(text, language)


@pytest.mark.parametrize(
    ("text", "language", "numbers"),
    [
        ("forty nine five", "en", {"49.5", "495"}),
        ("nineteen five", "en", {"19.5", "195"}),
        ("twenty two fifty", "en", {"22.5", "2250"}),
        ("forty nine oh five", "en", {"49.05", "4905"}),
        ("one forty eight five", "en", {"148.5", "1485"}),
        ("1,750", "en", {"1750", "1.75"}),
        ("cuarenta y nueve cinco", "es", {"49.5", "495"}),
        ("1.750", "es", {"1750", "1.75"}),
    ],
)
def test_two_meanings_are_both_told_and_both_doubtful(text, language, numbers):
    found = readings(text, load_vocabulary(language))
    assert {numeral.value for numeral in found} == {Decimal(number) for number in numbers}
    assert all(numeral.unsaid for numeral in found)


@pytest.mark.parametrize(
    "text", ["", "forty nine point", "and a half", "point", "1.2.3", "7/3", "1/0", "fifty apples", "9" * 40]
)
def test_no_number(text):
    assert not readings(text, load_vocabulary("en"))


@pytest.mark.parametrize("number", [-1, LARGEST_SPELLED + 1, float("nan"), float("inf")])
def test_a_number_that_cannot_be_said(number):
    with pytest.raises(ValueError):
        spell(number, "en")


def test_spanish_thousands_are_said_as_they_are_spoken():
    assert spell(21_500, "es") == "veintiún mil quinientos"
    assert spell(1000, "es") == "mil"
    assert spell(31_000, "es") == "treinta y un mil"


def test_digits_cannot_be_misheard_as_tens():
    assert spell_digits(49.5, "en") == "four nine point five"
    assert spell_digits(106, "es") == "uno cero seis"
