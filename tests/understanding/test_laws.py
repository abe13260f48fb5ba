"""Nothing is kept that was not said: over slots, rows and reports, in every language of the utterances."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.bench.suite import load_suite
from bot.bench.suite_stage import Exchange, SuiteStage
from engine.messages import Entry, Given, Reported
from engine.quantities import Measure

UTTERANCES = Path(__file__).parents[1] / "utterances"
LANGUAGES = ("en", "es")
PLACES = {"spacing": "in", "speed": "mph", "course": "ft", "bag": "lb", "field_area": "acre", "longest": "min"}
DENIED = {"en": ("it is not {}", "if it were {}", "is it {}?"), "es": ("no es {}", "si fuera {}", "¿es {}?")}
REPAIRED = {"en": ("{}, no, {}", "{}, sorry, {}", "not {}, {}"), "es": ("{}, no, {}", "{}, perdón, {}", "no {}, {}")}
TROUBLE = {
    "en": ("row {} isn't plugged", "is row {} plugged?", "if row {} stopped I'd see it", "has row {} quit?"),
    "es": ("el surco {} no está tapado", "¿se tapó el surco {}?", "si se parara el surco {} lo vería"),
}
DENIED_GOOD = {
    "en": ("not everything is good", "all good?", "they're not all feeding", "is everything feeding?"),
    "es": ("no todo está bien", "¿todo bien?", "no todos están tirando", "¿están bajando todos?"),
}


@lru_cache(maxsize=4)
def stage(language: str) -> SuiteStage:
    return SuiteStage(load_suite(UTTERANCES / language / "contexts.yaml"), language)


def say(language: str, place: str, text: str) -> Exchange:
    here = stage(language)
    return here.say(here.place(place), text)


def kept(said: Exchange) -> list[Entry]:
    """What is taken without a question."""
    return [one for one in said.reading.entries if isinstance(one, Given | Reported) and one.doubt is None]


NUMBERS = st.integers(min_value=20, max_value=60)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("place", PLACES)
@given(number=NUMBERS)
@settings(max_examples=4, deadline=None)
def test_what_is_denied_supposed_or_asked_is_not_kept(language: str, place: str, number: int) -> None:
    for form in DENIED[language]:
        text = form.format(f"{number} {PLACES[place]}")
        assert not kept(say(language, place, text)), text


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("place", PLACES)
@given(wrong=NUMBERS, right=NUMBERS)
@settings(max_examples=4, deadline=None)
def test_of_a_repair_only_the_last_is_kept(language: str, place: str, wrong: int, right: int) -> None:
    unit = PLACES[place]
    for form in REPAIRED[language]:
        text = form.format(f"{wrong} {unit}", f"{right} {unit}")
        values = [one.value for one in kept(say(language, place, text)) if isinstance(one, Given)]
        assert all(isinstance(one, Measure) and one.value == right for one in values), text


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("row", range(1, 9))
def test_trouble_that_is_denied_asked_or_supposed_is_not_noted(language: str, row: int) -> None:
    for form in TROUBLE[language]:
        assert not kept(say(language, "shift", form.format(row))), form


@pytest.mark.parametrize("language", LANGUAGES)
def test_good_that_is_denied_or_asked_is_not_noted(language: str) -> None:
    for text in DENIED_GOOD[language]:
        assert not kept(say(language, "look", text)), text


@pytest.mark.parametrize("language", LANGUAGES)
@given(text=st.text(max_size=120))
@settings(max_examples=60, deadline=None)
def test_any_text_gives_a_reading(language: str, text: str) -> None:
    for place in ("spacing", "catch", "shift", "product", "doubtful"):
        say(language, place, text)
