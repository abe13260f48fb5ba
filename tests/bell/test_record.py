"""The reminder of an application record, as the operator and the foreman hear it, in every language."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from bot.bell.ringing import Ringing
from engine.messages import LANGUAGES, Language
from engine.reminders.reminder import Audience
from engine.reminders.schedule import ReminderPolicy, Schedule
from tests.helpers.applying import EVENING, NORTH, PRODUCT, Talk, loading, night, prepared

ENDED = ((240, "twenty acres done"), (240, "end of shift"), (241, "all twenty seven pounds left"), (242, "done"))
SAID = {
    "en": "The application record of North field, Apr 21, 2026 is not complete; add what is missing by May 05, 2026.",
    "es": "El registro de aplicación de North field, 21/04/2026 no está completo; agregue lo que falta hasta el "
    "05/05/2026.",
}


@pytest.fixture
def talk() -> Talk:
    talk = Talk()
    product = ["skip" if text == "48 hours" else text for text in PRODUCT]
    talk.say_all([*product, *NORTH], EVENING - timedelta(hours=6))
    talk.say_all(prepared(), EVENING - timedelta(minutes=20))
    night(talk, ENDED, before=loading())
    return talk


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_record_is_asked_for_and_no_look(talk: Talk, language: Language) -> None:
    if language == "es":
        talk.say("en español", EVENING + timedelta(days=1))
    schedule = Schedule(talk.database, ReminderPolicy())
    ringing = Ringing(talk.assistant, talk.database, "America/Chicago")
    due = schedule.next_due()
    assert due is not None
    (ring,) = schedule.tick(due, ringing.compose)
    body = ringing.compose(ring)
    assert SAID[language] in body.text
    assert not body.buttons
    assert ring.audience is Audience.OPERATOR


def test_it_is_not_asked_for_any_more_when_it_is_complete(talk: Talk) -> None:
    said = ["application record", "Juan Lopez", "A-991", "yes"]
    talk.say_all(said, EVENING + timedelta(days=1))
    assert Schedule(talk.database).next_due() is None


def test_a_foreman_hears_whose_record_it_is(talk: Talk) -> None:
    schedule, ringing = (
        Schedule(talk.database, ReminderPolicy()),
        Ringing(talk.assistant, talk.database, "America/Chicago"),
    )
    due = schedule.next_due()
    assert due is not None
    (ring,) = schedule.tick(due, ringing.compose)
    body = ringing.compose(replace(ring, audience=Audience.FOREMAN))
    assert "The application record from an operator, North field, Apr 21, 2026, is not complete" in body.text
