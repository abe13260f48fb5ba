"""Calls at the machine itself while no program there shows them: the foreman is told by the clock all the same."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from engine.crew.people import People
from engine.crew.roles import PersonRole
from engine.database import Database
from engine.queues.outbox import Outbox
from engine.reminders.reminder import Answer, Ring, Stage
from engine.reminders.schedule import Schedule
from tests.helpers.reminding import EVENING, apply, body, check, told_by

OPERATOR, FOREMAN, SECOND = "telegram:1", "telegram:2", "telegram:3"


def after(minutes: float) -> datetime:
    return EVENING + timedelta(minutes=minutes)


def join(database: Database, **chats: PersonRole) -> None:
    people = People(database)
    for chat, role in chats.items():
        code = people.invite("home", role, after(60))
        assert people.join(chat.replace("_", ":"), code, EVENING)


def bodies(database: Database, conversation: str) -> list[dict[str, object]]:
    return [told_by(one) for one in Outbox(database).pending(conversation)]


def ticked(schedule: Schedule, minutes: range) -> list[tuple[int, Ring]]:
    """What rings while a program runs that has no part in the conversation at the machine."""
    return [(minute, ring) for minute in minutes for ring in schedule.tick(after(minute), body)]


@pytest.fixture
def call(database: Database) -> None:
    apply(database, check(minutes=0), conversation="console")


@pytest.mark.usefixtures("call")
def test_when_the_tries_would_be_over_the_foremen_are_told(schedule: Schedule, database: Database) -> None:
    join(database, telegram_2=PersonRole.FOREMAN, telegram_3=PersonRole.FOREMAN)
    rung = [(minute, ring.conversation, ring.unshown) for minute, ring in ticked(schedule, range(120))]
    assert rung == [(0, "console", False), (15, FOREMAN, True), (15, SECOND, True)]
    (waits,) = bodies(database, "console")
    assert waits["missed"] and schedule.asks("ring/1/1")


@pytest.mark.usefixtures("call")
def test_they_hear_when_somebody_answers(schedule: Schedule, database: Database) -> None:
    join(database, telegram_2=PersonRole.FOREMAN)
    ticked(schedule, range(30))
    Outbox(database).mark_sent("ring/1/2")
    apply(database, Answer("hoppers"), conversation="console", at=after(30))
    assert bodies(database, "console") == []
    ticked(schedule, range(31, 33))
    assert [one["answered"] for one in bodies(database, FOREMAN)] == ["hoppers"]
    assert schedule.waiting("console") == ()


@pytest.mark.usefixtures("call")
def test_after_a_call_that_was_shown_the_tries_that_are_left_are_waited_for(
    schedule: Schedule, database: Database
) -> None:
    join(database, telegram_2=PersonRole.FOREMAN)
    schedule.tick(after(0), body)
    Outbox(database).mark_sent("ring/1/1")
    assert [(minute, ring.unshown) for minute, ring in ticked(schedule, range(1, 60))] == [(5, False), (15, True)]


@pytest.mark.usefixtures("call")
def test_a_program_that_was_killed_as_it_showed_a_call_holds_nothing_back(
    schedule: Schedule, database: Database
) -> None:
    join(database, telegram_2=PersonRole.FOREMAN)
    schedule.tick(after(0), body)
    Outbox(database).claim("talk", after(1), timedelta(minutes=2), prefix="console")
    assert [ring.unshown for _, ring in ticked(schedule, range(1, 60))] == [True]


@pytest.mark.usefixtures("call")
def test_while_it_is_being_shown_the_foreman_is_not_called(schedule: Schedule, database: Database) -> None:
    join(database, telegram_2=PersonRole.FOREMAN)
    ticked(schedule, range(15))
    Outbox(database).claim("talk", after(14), timedelta(minutes=2), prefix="console")
    assert schedule.tick(after(15), body) == ()


@pytest.mark.usefixtures("call")
def test_without_a_foreman_the_call_waits(schedule: Schedule, database: Database) -> None:
    assert [ring.conversation for _, ring in ticked(schedule, range(120))] == ["console"]
    assert schedule.waiting("console")[0].stage is Stage.ASKED


def test_a_chat_whose_line_is_down_is_another_matter(schedule: Schedule, database: Database) -> None:
    """What waits for the line of the chat would wait there for the foreman as well."""
    join(database, telegram_1=PersonRole.OPERATOR, telegram_2=PersonRole.FOREMAN)
    apply(database, check(minutes=0), conversation=OPERATOR)
    assert [ring.conversation for _, ring in ticked(schedule, range(60))] == [OPERATOR]
