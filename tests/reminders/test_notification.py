"""What is said once: to its conversation and the foremen, with nothing to answer, by time that has really passed."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from engine.crew.people import People
from engine.crew.roles import PersonRole
from engine.database import Database
from engine.queues.outbox import ANSWERED, DeliveryState, Outbox
from engine.reminders.clock import ClockReading
from engine.reminders.reminder import Answer, CallOff, Remind, Stage
from engine.reminders.schedule import Schedule
from engine.reminders.watch import ReminderWatch
from tests.helpers.reminding import EVENING, apply, body, check, told_by

FOREMAN = "telegram:2"


def after(minutes: float) -> datetime:
    return EVENING + timedelta(minutes=minutes)


def over(minutes: float, name: str = "field") -> Remind:
    return replace(check(name, minutes), once=True)


def bodies(database: Database, conversation: str = "c1") -> list[dict[str, object]]:
    return [told_by(one) for one in Outbox(database).pending(conversation)]


def test_it_is_said_once_and_nobody_is_told_that_nobody_answered(schedule: Schedule, database: Database) -> None:
    apply(database, replace(over(40), foreman=FOREMAN))
    assert schedule.tick(after(39), body) == ()
    rang = schedule.tick(after(40), body)
    assert [(one.conversation, one.audience) for one in rang] == [("c1", "operator"), (FOREMAN, "foreman")]
    assert schedule.waiting("c1") == () and schedule.next_due() is None
    assert schedule.tick(after(600), body) == ()
    assert bodies(database) == [{"due": ["field 21:40"], "loud": 1, "missed": False, "to": "operator"}]
    assert [one["to"] for one in bodies(database, FOREMAN)] == ["foreman"]


def test_every_foreman_of_the_farm_hears_it(schedule: Schedule, database: Database) -> None:
    people = People(database)
    for chat, role in (("telegram:1", PersonRole.OPERATOR), (FOREMAN, PersonRole.FOREMAN)):
        assert people.join(chat, people.invite("home", role, after(60)), EVENING)
    apply(database, over(0), conversation="telegram:1")
    assert {one.conversation for one in schedule.tick(after(0), body)} == {"telegram:1", FOREMAN}


def test_it_is_shown_though_it_is_open_no_more(schedule: Schedule, database: Database) -> None:
    apply(database, over(0))
    schedule.tick(after(0), body)
    (waiting,) = Outbox(database).pending("c1")
    assert schedule.asks(waiting.outgoing.key) and schedule.asks(f"{waiting.outgoing.key}:telegram:7")
    assert schedule.asking("c1") == ()


def test_beside_a_look_it_has_a_message_of_its_own(schedule: Schedule, database: Database) -> None:
    """An answer to the look takes that back alone, and the look goes on asking."""
    apply(database, check(minutes=0), over(0))
    schedule.tick(after(0), body)
    assert [one["due"] for one in bodies(database)] == [["field 21:00"], ["hoppers 21:00"]]
    assert [one.name for one in schedule.waiting("c1")] == ["hoppers"]
    apply(database, Answer("hoppers"), at=after(1))
    assert [one["due"] for one in bodies(database)] == [["field 21:00"]]


def test_what_is_not_read_yet_is_taken_back_where_it_does_not_hold_any_more(
    schedule: Schedule, database: Database
) -> None:
    apply(database, over(0))
    (rang,) = schedule.tick(after(0), body)
    (waiting,) = Outbox(database).pending("c1")
    apply(database, CallOff("field"), over(120), at=after(5))
    found = Outbox(database).find(waiting.outgoing.key)
    assert found is not None and (found.state, found.why) == (DeliveryState.FAILED, ANSWERED)
    assert rang.items[0].attempt == 1
    assert [one.conversation for one in schedule.tick(after(120), body)] == ["c1"]


def test_a_time_that_was_said_is_not_said_again(schedule: Schedule, database: Database) -> None:
    apply(database, over(10))
    schedule.tick(after(10), body)
    apply(database, CallOff("field"), over(10), at=after(11))
    assert schedule.tick(after(12), body) == ()


def test_late_it_says_that_it_is_late(schedule: Schedule, database: Database) -> None:
    apply(database, over(0))
    (ring,) = schedule.tick(after(300), body)
    assert ring.missed and ring.items[0].late == timedelta(hours=5)


def test_called_off_it_is_silent(schedule: Schedule, database: Database) -> None:
    apply(database, over(10))
    apply(database, CallOff("field"), at=after(5))
    assert schedule.tick(after(600), body) == ()


class Clocks:
    """Both clocks, moved by hand in minutes."""

    def __init__(self) -> None:
        self.wall, self.steady = 0.0, 0.0

    def __call__(self) -> ClockReading:
        return ClockReading(after(self.wall), timedelta(minutes=self.steady))

    def pass_on(self, minutes: float, jump: float = 0.0) -> None:
        self.wall, self.steady = self.wall + minutes + jump, self.steady + minutes


@pytest.mark.parametrize("jump", [-60, 60])
def test_set_under_a_clock_that_is_moved_its_time_still_has_to_pass(
    schedule: Schedule, database: Database, jump: float
) -> None:
    clocks = Clocks()
    watch = ReminderWatch(schedule, body, clocks)
    watch.step()
    apply(database, over(120))
    clocks.pass_on(1, jump)
    watch.step()
    assert bodies(database)[0]["waiting"] == ["field"]
    clocks.pass_on(118)
    assert watch.step() == ()
    clocks.pass_on(1)
    assert len(watch.step()) == 1


@pytest.mark.parametrize("jump", [-60, 60])
def test_set_before_the_program_began_it_keeps_the_hour_that_was_told(
    schedule: Schedule, database: Database, jump: float
) -> None:
    """Whether that clock was right then nobody knows; a clock that starts far in the past must not ring it at once."""
    apply(database, over(120))
    clocks = Clocks()
    watch = ReminderWatch(schedule, body, clocks)
    watch.step()
    clocks.pass_on(1, jump)
    watch.step()
    assert schedule.waiting("c1")[0].due_at == after(120)


def test_a_restart_in_the_past_does_not_bring_it_early(schedule: Schedule, database: Database) -> None:
    apply(database, over(120))
    schedule.beat(after(30))
    clocks = Clocks()
    clocks.wall = -100_000
    watch = ReminderWatch(schedule, body, clocks)
    watch.step()
    clocks.pass_on(1, 100_040)
    assert watch.step() == ()
    assert schedule.waiting("c1")[0].due_at == after(120)
    assert schedule.waiting("c1")[0].stage is Stage.WAITING
