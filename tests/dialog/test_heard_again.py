"""A value heard unsurely is asked for a yes or a no, and only what was heard again with some certainty is sure."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from engine.entries.acceptance import load_acceptance
from engine.messages import HeardWord
from tests.helpers.talking import Conversation, beginnings

LIMITS = load_acceptance()
UNSURE = (LIMITS.repeat_kept + LIMITS.usual_kept) / 2
BARELY = (LIMITS.value_heard + LIMITS.repeat_kept) / 2

Hear = Callable[..., str]


@pytest.fixture
def talk(tmp_path: Path) -> Conversation:
    talk = Conversation(tmp_path / "record.db")
    talk.say_all([*beginnings()["prepared"], *beginnings()["catching"]])
    return talk


@pytest.fixture
def hear(talk: Conversation) -> Hear:
    def heard(text: str, sure: float, *others: str) -> str:
        words = tuple(HeardWord(text=word, confidence=sure) for word in text.split())
        said = talk.utterance(text, "well").model_copy(update={"words": words, "alternatives": others})
        return talk.assistant.hear(said).reply.text

    return heard


def test_the_likeliest_of_several_is_asked(talk: Conversation, hear: Hear) -> None:
    told = hear("row one seventy nine", UNSURE, "row one seventy five", "row one seventy")
    assert "Row 1, 79 g" in told
    assert talk.asks == "confirm"
    assert "Row 1, 79 g." in hear("yes", 1.0)


def test_of_two_a_no_leaves_the_other(talk: Conversation, hear: Hear) -> None:
    hear("row one seventy nine", UNSURE, "row one seventy five")
    assert "Row 1, 75 g" in hear("no", 1.0)
    assert talk.asks == "confirm"
    assert "Row 1, 75 g." in hear("yes", 1.0)


def test_of_more_a_no_leaves_none(talk: Conversation, hear: Hear) -> None:
    hear("row one seventy nine", UNSURE, "row one seventy five", "row one seventy")
    assert "Not kept" in hear("no", 1.0)
    assert talk.asks == "catch_mass"


@pytest.mark.parametrize(("again", "asks"), [(UNSURE, "catch_mass"), (BARELY, "confirm")])
def test_twice_the_same_is_sure_where_it_was_not_barely_heard(
    talk: Conversation, hear: Hear, again: float, asks: str
) -> None:
    hear("row one seventy nine", UNSURE, "row one seventy five")
    hear("row one seventy nine", again, "row one seventy five")
    assert talk.asks == asks


def test_what_was_only_held_possible_is_no_repetition(talk: Conversation, hear: Hear) -> None:
    hear("row one seventy nine", UNSURE, "row one seventy five")
    assert "Row 1, 75 g" in hear("row one seventy five", UNSURE, "row one seventy nine")
    assert talk.asks == "confirm"


def test_a_usual_value_is_asked_before_one_that_is_not(talk: Conversation, hear: Hear) -> None:
    assert "Row 1, 80 g" in hear("row one eighteen", UNSURE, "row one eighty")


def test_beside_a_yes_a_number_that_is_unusual_is_no_value(talk: Conversation, hear: Hear) -> None:
    hear("row one seventy nine", UNSURE, "row one seventy five")
    hear("nine", UNSURE, "yes")
    assert talk.asks == "confirm"
    assert "Row 1, 79 g." in hear("yes", LIMITS.yes_kept)


def test_rows_that_sound_alike_are_asked_one_after_the_other(talk: Conversation, hear: Hear) -> None:
    told = hear("row four eighty", UNSURE, "row five eighty")
    assert "Row 4, 80 g" in told
    assert "Row 5, 80 g" in hear("no", 1.0)
    assert "Row 5, 80 g." in hear("yes", 1.0)


def test_a_row_told_twice_is_no_other_reading(talk: Conversation, hear: Hear) -> None:
    told = hear("row four eighty", UNSURE, "row four four eighty", "rows four and four eighty")
    assert "and 4" not in told
