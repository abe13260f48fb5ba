"""Another product in the middle of a shift: cautions, emergency and label are of what is applied now, and after it."""

from __future__ import annotations

from datetime import timedelta

import pytest

from engine.dialog.facts.label_shelf import product_in_hand
from engine.messages import LANGUAGES, Language
from tests.helpers.applying import EVENING, PRODUCT, Talk, loading, told

OTHER = [{PRODUCT[1]: "Otero Cinco", PRODUCT[2]: "999-1", "gloves": "apron"}.get(text, text) for text in PRODUCT]
READY = {
    "en": "Have ready: {product}, registration number {number}, the label.",
    "es": "Tenga a mano: {product}, número de registro {number}, la etiqueta.",
}
SAYS = {"en": ("emergency", "what do I wear"), "es": ("emergencia", "qué me pongo")}
SPEAKS = {"en": "in english", "es": "en español"}


@pytest.fixture
def talk() -> Talk:
    """A shift with Terravel 15, an hour old; the other product is known too."""
    talk = told()
    talk.say_all(OTHER, EVENING - timedelta(minutes=10))
    talk.say_all(loading(), EVENING + timedelta(minutes=1))
    talk.say("five acres done", EVENING + timedelta(minutes=60))
    return talk


def say(talk: Talk, *texts: str, minutes: float = 61) -> str:
    return [talk.say(text, EVENING + timedelta(minutes=minutes)) for text in texts][-1]


def in_hand(talk: Talk) -> str | None:
    found = product_in_hand(talk.assistant.state("c"))
    assert talk.assistant.labels("c").in_hand == found
    return found


@pytest.mark.parametrize("language", LANGUAGES)
def test_what_is_applied_now_is_what_is_told_in_an_emergency(talk: Talk, language: Language) -> None:
    say(talk, "product is Otero Cinco", SPEAKS[language])
    emergency, wear = SAYS[language]
    assert READY[language].format(product="Otero Cinco", number="999-1") in say(talk, emergency)
    assert "Otero Cinco" in say(talk, wear) and "apron" in say(talk, wear)
    assert in_hand(talk) == "Otero Cinco"


def test_after_the_shift_it_is_still_the_one_that_was_applied_last(talk: Talk) -> None:
    say(talk, "product is Otero Cinco")
    say(talk, "twenty acres done", "end of shift", "all twenty seven pounds left", "done", minutes=240)
    assert in_hand(talk) == "Otero Cinco"
    assert "Otero Cinco" in say(talk, "put away", "emergency", minutes=241)


def test_left_for_a_test_run_it_is_what_the_test_run_is_for(talk: Talk) -> None:
    say(talk, "product is Otero Cinco", "test run", "yes")
    assert in_hand(talk) == "Otero Cinco"
    assert "the product is another than in the last test run" in say(talk, "cancel", "yes", "shift")


def test_another_one_that_nobody_named_is_not_the_old_one(talk: Talk) -> None:
    say(talk, "we changed product")
    assert in_hand(talk) is None
    say(talk, "end of shift", "done", "yes", minutes=240)
    assert in_hand(talk) is None
    assert "Terravel" not in say(talk, "emergency", minutes=241)


def test_taken_back_it_is_the_one_before(talk: Talk) -> None:
    say(talk, "product is Otero Cinco", "scratch that")
    assert in_hand(talk) == "Terravel 15"


def test_the_product_of_an_old_record_is_not_in_hand(talk: Talk) -> None:
    say(talk, "product is Otero Cinco")
    say(talk, "twenty acres done", "end of shift", "done", "yes", minutes=240)
    say(talk, "application record", minutes=300)
    assert talk.assistant.opened("c") is not None
    assert in_hand(talk) == "Otero Cinco"
