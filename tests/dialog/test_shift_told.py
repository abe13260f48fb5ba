"""What operators say of a shift in their own words, late or in passing, and what is kept of it."""

from __future__ import annotations

from datetime import timedelta

import pytest

from engine.messages import Language
from tests.dialog.test_shift import EVENING, Night

SPEAK: dict[Language, str] = {"en": "speak english", "es": "speak spanish"}


def told(language: Language, *said: tuple[float, str]) -> tuple[Night, str]:
    """A night in which this is said so many minutes after planting began, and the last reply to it."""
    night = Night()
    night.say(SPEAK[language])
    reply = ""
    for minutes, text in said:
        night.now = EVENING + timedelta(minutes=minutes)
        reply = night.say(text).reply.text
    return night, reply


@pytest.mark.parametrize(
    ("language", "pause", "end", "stopped"),
    [
        ("en", "lunch", "end of shift", "Planting stopped at 3:15 AM."),
        ("es", "a comer", "fin de turno", "Siembra terminada a las 3:15."),
    ],
)
def test_a_shift_that_ends_in_a_pause_ends_planting_where_it_began(
    language: Language, pause: str, end: str, stopped: str
) -> None:
    night, reply = told(language, (60, pause), (95, end))
    assert stopped in reply
    assert night.shift.stood == EVENING + timedelta(minutes=60)


def test_what_is_in_doubt_at_the_end_of_a_pause_ends_where_planting_did() -> None:
    _, reply = told("en", (30, "row five stopped"), (60, "lunch"), (95, "end of shift"))
    assert "to 3:15 AM" in reply
