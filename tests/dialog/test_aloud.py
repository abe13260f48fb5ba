"""What is said aloud can't be misheard: digits one by one, units always, nothing left as figures."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.dialog.reply.speech_text import aloud
from engine.messages import Language
from engine.quantities import UNITS


@pytest.mark.parametrize(
    ("language", "text", "said"),
    [
        ("en", "Row 3, 49.5 g.", "Row three, four nine point five grams."),
        ("en", "Row 5, 15 g.", "Row five, one five grams."),
        ("en", "Rows 1-8: setting 12.", "Rows one to eight: setting twelve."),
        ("en", "Course time 41 s.", "Course time four one seconds."),
        ("en", "8 oz/1000 ft", "eight ounces per thousand feet"),
        ("en", "Row 2 7.6% high: set 11.", "Row two seven point six percent high: set eleven."),
        (
            "en",
            "call 911, then 1-800-555-0100.",
            "call nine one one, then one eight zero zero five five five zero one zero zero.",
        ),
        ("es", "Surco 3, 49.5 g.", "Surco tres, cuatro nueve punto cinco gramos."),
        ("es", "7.6 % de más", "siete punto seis por ciento de más"),
        ("es", "300 pies", "tres cero cero pies"),
        ("en", "1 acre done, 1 lb left, 1.0 mph", "one acre done, one pound left, one miles an hour"),
        ("en", "Run 1 (4.9 mph):\nRow 2: to 14 (6.1% low).\n(Spare: rows 1-4.)", "Run one:\nRow two: to fourteen."),
        ("es", "Surco 2: a 14 (6.1 % de menos).", "Surco dos: a catorce."),
        ("es", "1 lb en 1 acre y 21 acres", "una libra en un acre y dos uno acres"),
    ],
)
def test_amounts_are_said_in_words(language: Language, text: str, said: str) -> None:
    assert aloud(text, language) == said


@given(st.floats(0, 9999).map(lambda value: round(value, 2)), st.sampled_from(sorted(UNITS)))
def test_no_figure_and_no_symbol_is_left(value: float, unit: str) -> None:
    words = UNITS[unit]
    for language in ("en", "es"):
        said = aloud(f"{value:g} {words.shown.of(language)}", language)
        assert not re.search(r"\d", said)
        endings = [one.of(language) for one in (words.said, words.one) if one]
        assert said.endswith(tuple(endings))


@pytest.mark.parametrize(
    ("text", "language", "said"),
    [
        ("by 1:40 AM", "en", "by one forty AM"),
        ("by 10:05 PM", "en", "by ten oh five PM"),
        ("by 2:00 AM", "en", "by two o'clock AM"),
        ("a las 22:05", "es", "a las veintidós cero cinco"),
    ],
)
def test_an_hour_is_said_as_an_hour(text, language, said):
    assert aloud(text, language) == said


def test_a_number_too_large_to_be_said_stays_as_it_is_written() -> None:
    assert aloud("I got 999999999999, but not what it is for.", "en") == "I got 999999999999, but not what it is for."
