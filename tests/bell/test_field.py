"""A field that another planter of the farm treated as well: no bell says that it is over while that runs."""

from __future__ import annotations

from datetime import timedelta

import pytest

from bot.bell.ringing import Ringing
from engine.crew.people import People
from engine.crew.roles import PersonRole
from engine.messages import LANGUAGES, Language
from engine.reminders.schedule import Schedule
from tests.helpers.applying import EVENING, NORTH, PRODUCT, Talk, loading, night, prepared

FIRST, SECOND = "telegram:1", "telegram:2"
ENDED = ((240, "twenty acres done"), (240, "end of shift"), (241, "all twenty seven pounds left"), (242, "done"))
SAID = {
    "en": "North field was treated again: keep out until 4:05 AM, as told from the label.",
    "es": "North field se trató otra vez: no entre hasta las 4:05 AM, según lo dicho de la etiqueta.",
}


def both_planters(first: Language) -> Talk:
    """Two planters in one field, the second five hours behind the first."""
    talk = Talk()
    people = People(talk.database)
    for chat in (FIRST, SECOND):
        code = people.invite("home", PersonRole.OPERATOR, EVENING)
        assert people.join(chat, code, EVENING - timedelta(days=1))
    for number, chat in enumerate((FIRST, SECOND)):
        talk.chat = chat
        begun = EVENING + timedelta(hours=5 * number)
        told = [*PRODUCT, *NORTH] if chat == FIRST else []
        talk.say_all(told, begun - timedelta(hours=2))
        talk.say_all(prepared(), begun - timedelta(minutes=20))
        night(talk, ENDED, begun=begun, before=loading())
        if chat == FIRST and first != "en":
            talk.say("en español", begun + timedelta(minutes=243))
    return talk


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_first_bell_names_the_later_time_and_the_second_ends_it(language: Language) -> None:
    talk = both_planters(language)
    schedule, ringing = Schedule(talk.database), Ringing(talk.assistant, talk.database, "America/Chicago")
    (first,) = schedule.tick(EVENING + timedelta(hours=52), ringing.compose)
    assert first.conversation == FIRST
    assert ringing.compose(first).text == SAID[language]
    assert schedule.tick(EVENING + timedelta(hours=56), ringing.compose) == ()
    (second,) = schedule.tick(EVENING + timedelta(hours=57), ringing.compose)
    assert second.conversation == SECOND
    assert ringing.compose(second).text.startswith(
        "North field: the re-entry time told from the label ended at 4:05 AM."
    )


def test_who_speaks_again_meanwhile_has_the_later_time() -> None:
    talk = both_planters("en")
    talk.chat = FIRST
    said = talk.say("when can we go in", EVENING + timedelta(hours=30))
    assert "Re-entry interval of North field runs until Apr 24, 4:05 AM" in said
    (bell,) = (one for one in Schedule(talk.database).waiting(FIRST) if one.once)
    assert bell.due_at == EVENING + timedelta(hours=57)
