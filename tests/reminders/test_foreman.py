"""Whom an unanswered reminder is told, and what is not said any more once it is answered."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from sqlalchemy import select

from engine.crew.people import People
from engine.crew.roles import PersonRole
from engine.database import Database
from engine.history.store import tables
from engine.queues.outbox import ANSWERED, PERHAPS, DeliveryState, Outbox, Outgoing, Setback
from engine.reminders.clock import ClockReading
from engine.reminders.escalation import foremen
from engine.reminders.reminder import Answer, CallOff, Change, ClockChange, ClockKind, Remind, Snooze, Stage
from engine.reminders.schedule import Schedule
from engine.reminders.watch import ReminderWatch
from tests.helpers.reminding import EVENING, apply, body, check, sit, told_by

OPERATOR, FOREMAN, SECOND, OWNER = "telegram:1", "telegram:2", "telegram:3", "telegram:4"


def after(minutes: float) -> datetime:
    return EVENING + timedelta(minutes=minutes)


def join(database: Database, farm: str = "home", **chats: PersonRole) -> None:
    people = People(database)
    for chat, role in chats.items():
        code = people.invite(farm, role, after(60))
        assert people.join(chat.replace("_", ":"), code, EVENING)


def bodies(database: Database, conversation: str) -> list[dict[str, object]]:
    return [told_by(one) for one in Outbox(database).pending(conversation)]


def found(database: Database, talk: str) -> tuple[str, ...]:
    with database.read() as connection:
        return foremen(connection, talk)


def test_foremen_come_before_owners_and_nobody_is_told_of_himself(database: Database) -> None:
    join(database, telegram_1=PersonRole.OPERATOR, telegram_4=PersonRole.OWNER)
    assert found(database, OPERATOR) == (OWNER,)
    join(database, telegram_2=PersonRole.FOREMAN, telegram_3=PersonRole.FOREMAN)
    assert found(database, OPERATOR) == (FOREMAN, SECOND)
    assert found(database, FOREMAN) == (SECOND,)
    sit(database, SECOND, OPERATOR)
    assert found(database, OPERATOR) == (FOREMAN,)


def test_another_farm_hears_nothing(database: Database) -> None:
    join(database, telegram_1=PersonRole.OPERATOR)
    join(database, farm="far", telegram_2=PersonRole.FOREMAN)
    assert found(database, OPERATOR) == ()
    assert found(database, "telegram:99") == ()


def test_the_machine_itself_belongs_to_the_only_farm(database: Database) -> None:
    assert found(database, "console") == ()
    join(database, telegram_2=PersonRole.FOREMAN)
    assert found(database, "console") == (FOREMAN,)
    join(database, farm="far", telegram_3=PersonRole.FOREMAN)
    assert found(database, "console") == ()


def test_every_foreman_is_told_once_and_the_history_has_one_ring(schedule: Schedule, database: Database) -> None:
    join(database, telegram_1=PersonRole.OPERATOR, telegram_2=PersonRole.FOREMAN, telegram_3=PersonRole.FOREMAN)
    apply(database, check(minutes=0), conversation=OPERATOR)
    for minute in (0, 5, 10):
        schedule.tick(after(minute), body)
        Outbox(database).mark_sent(*(one.outgoing.key for one in Outbox(database).pending(OPERATOR)))
    told = schedule.tick(after(15), body)
    assert [(ring.conversation, ring.audience) for ring in told] == [(FOREMAN, "foreman"), (SECOND, "foreman")]
    assert [len(bodies(database, chat)) for chat in (OPERATOR, FOREMAN, SECOND)] == [0, 1, 1]
    assert schedule.tick(after(60), body) == ()
    assert schedule.waiting(OPERATOR)[0].stage is Stage.TOLD
    with database.read() as connection:
        numbers = connection.execute(select(tables.ring.c.number, tables.ring.c.audience)).all()
    assert [tuple(one) for one in numbers] == [(1, "operator"), (2, "operator"), (3, "operator"), (4, "foreman")]


def told_a_foreman(schedule: Schedule, database: Database) -> Outgoing:
    """Nobody answered three calls; the message for the foreman, which waits."""
    join(database, telegram_1=PersonRole.OPERATOR, telegram_2=PersonRole.FOREMAN)
    apply(database, check(minutes=0), conversation=OPERATOR)
    for minute in (0, 5, 10, 15):
        schedule.tick(after(minute), body)
        Outbox(database).mark_sent(*(one.outgoing.key for one in Outbox(database).pending(OPERATOR)))
    (message,) = Outbox(database).pending(FOREMAN)
    return message.outgoing


def heard_of(schedule: Schedule, database: Database, minute: float) -> list[dict[str, object]]:
    """What the foreman gets in this minute."""
    schedule.tick(after(minute), body)
    found = bodies(database, FOREMAN)
    Outbox(database).mark_sent(*(one.outgoing.key for one in Outbox(database).pending(FOREMAN)))
    return found


SPOKE: list[Change] = [
    Answer("hoppers"),
    Snooze("hoppers", after(30)),
    CallOff(),
    Remind("hoppers", check(minutes=50).wall),
]


@pytest.mark.parametrize("change", SPOKE)
def test_a_foreman_is_told_that_somebody_answered_after_all(
    schedule: Schedule, database: Database, change: Change
) -> None:
    told = told_a_foreman(schedule, database)
    Outbox(database).mark_sent(told.key)
    apply(database, change, conversation=OPERATOR, at=after(17))
    assert heard_of(schedule, database, 17.1) == [{"answered": "hoppers", "at": after(17).isoformat()}]
    assert heard_of(schedule, database, 17.2) == []


@pytest.mark.parametrize("change", SPOKE)
def test_a_foreman_whom_the_message_has_not_reached_hears_nothing(
    schedule: Schedule, database: Database, change: Change
) -> None:
    told = told_a_foreman(schedule, database)
    apply(database, change, conversation=OPERATOR, at=after(17))
    found = Outbox(database).find(told.key)
    assert found and (found.state, found.why) == (DeliveryState.FAILED, ANSWERED)
    assert heard_of(schedule, database, 17.1) == []


@pytest.mark.parametrize("arrives", [True, False])
def test_while_a_worker_holds_the_message_it_is_not_known_what_to_say(
    schedule: Schedule, database: Database, arrives: bool
) -> None:
    told, box = told_a_foreman(schedule, database), Outbox(database)
    box.claim("w", after(16), timedelta(minutes=2))
    apply(database, Answer("hoppers"), conversation=OPERATOR, at=after(17))
    schedule.tick(after(17.1), body)
    assert [one.outgoing.key for one in box.pending(FOREMAN)] == [told.key]
    assert not schedule.asks(told.key)
    if arrives:
        box.mark_sent(told.key)
    else:
        box.settle((Setback(told.key, None, ANSWERED),))
    assert [message["answered"] for message in heard_of(schedule, database, 17.2)] == ["hoppers"] * arrives


def test_a_foreman_whom_the_message_perhaps_reached_is_told(schedule: Schedule, database: Database) -> None:
    told = told_a_foreman(schedule, database)
    Outbox(database).claim("w", after(16), timedelta(minutes=2))
    Outbox(database).settle((Setback(told.key, after(18), PERHAPS),))
    apply(database, Answer("hoppers"), conversation=OPERATOR, at=after(17))
    found = Outbox(database).find(told.key)
    assert found and found.state is DeliveryState.UNKNOWN
    assert len(heard_of(schedule, database, 17.1)) == 1


def test_a_message_that_waits_for_the_line_says_that_it_is_late(schedule: Schedule, database: Database) -> None:
    apply(database, check(minutes=0))
    schedule.tick(after(0), body)
    schedule.tick(after(5), body)
    (message,) = bodies(database, "c1")
    assert (message["missed"], message["loud"]) == (True, 1)


def test_passed_on_to_several_it_is_not_asked_again_until_one_of_them_has_it(
    schedule: Schedule, database: Database
) -> None:
    apply(database, check(minutes=0))
    schedule.tick(after(0), body)
    box = Outbox(database)
    (message,) = box.claim("w", after(0), timedelta(seconds=90))
    assert schedule.tick(after(5), body) == ()
    box.pass_on(message, ("c2", "c3"))
    box.mark_sent(message.key)
    assert schedule.tick(after(6), body) == ()
    assert [bodies(database, chat)[0]["missed"] for chat in ("c2", "c3")] == [True, True]
    box.mark_sent(f"{message.key}:c2")
    (ring,) = schedule.tick(after(11), body)
    assert ring.items[0].attempt == 2


@pytest.mark.parametrize("change", [Answer("hoppers"), Snooze("hoppers", after(20))])
def test_answered_before_it_left_it_does_not_leave(
    schedule: Schedule, database: Database, change: Answer | Snooze
) -> None:
    apply(database, check(minutes=0))
    schedule.tick(after(0), body)
    (message,) = Outbox(database).pending("c1")
    apply(database, change, at=after(1))
    found = Outbox(database).find(message.outgoing.key)
    assert found and (found.state, found.why) == (DeliveryState.FAILED, "answered")


def test_what_also_asks_for_something_else_leaves(schedule: Schedule, database: Database) -> None:
    apply(database, check("first", minutes=0), check("second", minutes=0))
    schedule.tick(after(0), body)
    apply(database, Answer("first"), at=after(1))
    assert len(bodies(database, "c1")) == 1
    apply(database, Answer("second"), at=after(1))
    assert bodies(database, "c1") == []


def test_what_was_made_of_a_message_does_not_leave_either(schedule: Schedule, database: Database) -> None:
    apply(database, check(minutes=0))
    schedule.tick(after(0), body)
    (message,) = Outbox(database).pending("c1")
    key = message.outgoing.key
    for more in ("/voice", ":telegram:7", "0"):
        with database.begin() as connection:
            connection.execute(
                tables.outbox.insert().values(
                    key=f"{key}{more}", conversation="c2", body={}, due_at=after(0), state="pending", attempts=0
                )
            )
    apply(database, Answer("hoppers"), at=after(1))
    assert [one.outgoing.key for one in Outbox(database).pending("c2")] == [f"{key}0"]


def test_two_programs_on_one_record_tell_a_jump_once_and_mend_once(schedule: Schedule, database: Database) -> None:
    apply(database, check(minutes=120))
    readings = [
        [ClockReading(after(0), timedelta(0)), ClockReading(after(-59), timedelta(minutes=1))],
        [ClockReading(after(0), timedelta(0)), ClockReading(after(-59) + timedelta(seconds=1), timedelta(seconds=61))],
    ]
    watches = [ReminderWatch(schedule, body, iter(both).__next__) for both in readings]
    for watch in (*watches, *watches):
        watch.step()
    assert [message["clock"] for message in bodies(database, "c1")] == [ClockKind.BACK]
    assert [one.due_at for one in schedule.waiting("c1")] == [after(60)]


def test_a_second_jump_is_told_too(schedule: Schedule, database: Database) -> None:
    apply(database, Remind("hoppers", check(minutes=120).wall, elapsed=True))
    for hours in (1, 2):
        schedule.notice(ClockChange(ClockKind.BACK, timedelta(hours=-1), after(-60 * hours)), body)
    assert len(bodies(database, "c1")) == 2
