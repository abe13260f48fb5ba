from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from sqlalchemy import select

from engine.database import Database
from engine.history.store import tables
from engine.history.store.journal import Journal
from engine.queues.outbox import Outbox
from engine.reminders.local_time import LocalTime
from engine.reminders.reminder import Answer, Audience, CallOff, Remind, Snooze, Stage
from engine.reminders.schedule import ReminderPolicy, Schedule
from tests.helpers.reminding import CHICAGO, EVENING, apply, body, check, told_by
from tests.helpers.turns import new_turn


def after(minutes: float) -> datetime:
    return EVENING + timedelta(minutes=minutes)


def tick(schedule: Schedule, minutes: float) -> list[list[str]]:
    """The names in each message that left at this minute."""
    return [[item.reminder.name for item in ring.items] for ring in schedule.tick(after(minutes), body)]


def sent(database: Database, conversation: str = "c1") -> list[dict[str, object]]:
    """What waits for the wire; it is marked as sent."""
    box = Outbox(database)
    waiting = box.pending(conversation)
    box.mark_sent(*(one.outgoing.key for one in waiting))
    return [told_by(one) for one in waiting]


def rings(database: Database) -> list[tuple[int, str]]:
    with database.read() as connection:
        found = connection.execute(select(tables.ring.c.number, tables.ring.c.audience).order_by(tables.ring.c.id))
        return [(row.number, row.audience) for row in found]


def test_asked_when_due_and_again_until_answered(schedule: Schedule, database: Database) -> None:
    apply(database, check(minutes=40))
    assert schedule.next_due() == after(40)
    assert tick(schedule, 39.9) == []
    assert tick(schedule, 40) == [["hoppers"]]
    assert sent(database) == [{"due": ["hoppers 21:40"], "loud": 1, "missed": False, "to": Audience.OPERATOR}]
    assert tick(schedule, 44) == []
    assert tick(schedule, 45) == [["hoppers"]]
    assert sent(database)[0]["loud"] == 2
    apply(database, Answer("hoppers"), at=after(46))
    assert schedule.next_due() is None
    assert tick(schedule, 500) == []
    assert schedule.waiting("c1") == ()


def test_the_foreman_is_told_after_the_last_try(schedule: Schedule, database: Database) -> None:
    apply(database, check(minutes=0, foreman="boss"))
    for minute in (0, 5, 10):
        assert tick(schedule, minute) == [["hoppers"]]
        sent(database)
    assert tick(schedule, 15) == [["hoppers"]]
    assert sent(database) == []
    assert sent(database, "boss") == [{"due": ["hoppers 21:00"], "loud": 3, "missed": False, "to": Audience.FOREMAN}]
    assert tick(schedule, 60) == []
    assert schedule.waiting("c1")[0].stage is Stage.TOLD
    assert rings(database) == [(1, "operator"), (2, "operator"), (3, "operator"), (4, "foreman")]
    apply(database, Answer("hoppers"), at=after(61))
    assert schedule.waiting("c1") == ()


def test_without_a_foreman_it_goes_on_asking(schedule: Schedule, database: Database) -> None:
    apply(database, check(minutes=0))
    for minute in range(0, 40, 5):
        assert tick(schedule, minute) == [["hoppers"]]
        sent(database)
    assert schedule.waiting("c1")[0].asked == 8


def test_snooze_begins_again_at_the_first_try(schedule: Schedule, database: Database) -> None:
    apply(database, check(minutes=0, foreman="boss"))
    for minute in (0, 5):
        tick(schedule, minute)
        sent(database)
    apply(database, Snooze("hoppers", after(17)), at=after(7))
    assert tick(schedule, 16) == []
    assert tick(schedule, 17) == [["hoppers"]]
    assert sent(database)[0]["loud"] == 1
    assert rings(database)[-1] == (3, "operator")


def test_after_absence_one_message_says_what_was_due_when(schedule: Schedule, database: Database) -> None:
    names = [f"check {number}" for number in range(6)]
    apply(database, *(check(name, minutes=10 * number) for number, name in enumerate(names)))
    assert tick(schedule, 240) == [names]
    (message,) = sent(database)
    assert message["due"] == [f"check {number} 21:{number}0" for number in range(6)]
    assert message["missed"] is True
    assert tick(schedule, 241) == []


@pytest.mark.parametrize(("late", "missed"), [(1.9, False), (2.1, True)])
def test_the_grace_of_a_late_ring(schedule: Schedule, database: Database, late: float, missed: bool) -> None:
    apply(database, check(minutes=0))
    (ring,) = schedule.tick(after(late), body)
    assert (ring.missed, ring.items[0].late) == (missed, timedelta(minutes=late))


def test_while_the_line_is_down_the_waiting_message_grows(schedule: Schedule, database: Database) -> None:
    apply(database, check("first", minutes=0), check("second", minutes=7), check("third", minutes=30))
    tick(schedule, 0)
    assert tick(schedule, 5) == []
    assert schedule.next_due() == after(7)
    assert tick(schedule, 7) == [["first", "second"]]
    assert tick(schedule, 30) == [["first", "second", "third"]]
    assert schedule.next_due() == after(35)
    (message,) = sent(database)
    assert message["due"] == ["first 21:00", "second 21:07", "third 21:30"]
    assert (message["loud"], message["missed"]) == (1, True)
    assert len(rings(database)) == 3


def test_two_checks_a_moment_apart_are_not_missed(schedule: Schedule, database: Database) -> None:
    apply(database, check("first", minutes=0), check("second", minutes=0.1))
    tick(schedule, 0)
    tick(schedule, 0.1)
    (message,) = sent(database)
    assert (message["due"], message["missed"]) == (["first 21:00", "second 21:00"], False)


def test_a_message_that_a_worker_holds_is_left_alone(schedule: Schedule, database: Database) -> None:
    apply(database, check("first", minutes=0), check("second", minutes=1))
    tick(schedule, 0)
    Outbox(database).claim("w1", after(0), timedelta(seconds=90))
    assert tick(schedule, 1) == [["second"]]
    assert [message["due"] for message in sent(database)] == [["first 21:00"], ["second 21:01"]]


def test_each_conversation_has_its_own_message(schedule: Schedule, database: Database) -> None:
    for conversation in ("c1", "c2", "c3"):
        apply(database, check("a", minutes=1), check("b", minutes=0), conversation=conversation)
    assert tick(schedule, 3) == [["b", "a"]] * 3
    assert len(sent(database, "c2")) == 1


def test_so_many_conversations_at_once(database: Database) -> None:
    schedule = Schedule(database, ReminderPolicy(at_once=2))
    for number in range(5):
        apply(database, check(minutes=4 - number), conversation=f"c{number}")
    rang = [{ring.conversation for ring in schedule.tick(after(10), body)} for _ in range(4)]
    assert rang == [{"c3", "c4"}, {"c1", "c2"}, {"c0"}, set()]


def test_a_new_time_takes_the_place_of_the_old_one(schedule: Schedule, database: Database) -> None:
    apply(database, check(minutes=40))
    apply(database, check(minutes=20), at=after(5))
    assert [one.due_at for one in schedule.waiting("c1")] == [after(20)]
    assert tick(schedule, 60) == [["hoppers"]]


def test_the_same_time_twice_is_one_reminder(schedule: Schedule, database: Database) -> None:
    apply(database, check(minutes=40), check(minutes=40))
    assert len(schedule.waiting("c1")) == 1
    tick(schedule, 40)
    apply(database, Answer("hoppers"), check(minutes=40), at=after(41))
    assert schedule.waiting("c1") == ()


def test_called_off_and_set_again_still_rings(schedule: Schedule, database: Database) -> None:
    apply(database, check(minutes=40), CallOff("hoppers"))
    assert schedule.next_due() is None
    apply(database, check(minutes=40), at=after(1))
    assert tick(schedule, 40) == [["hoppers"]]


def test_what_rang_and_was_called_off_does_not_ring_again(schedule: Schedule, database: Database) -> None:
    apply(database, check(minutes=40))
    tick(schedule, 40)
    apply(database, CallOff("hoppers"), check(minutes=40), at=after(41))
    assert schedule.waiting("c1") == ()
    assert schedule.next_due() is None


def test_the_end_of_a_shift_calls_everything_off(schedule: Schedule, database: Database) -> None:
    apply(database, check("a"), check("b"), CallOff())
    assert schedule.waiting("c1") == ()
    assert tick(schedule, 500) == []


def test_changes_touch_only_their_own_conversation(schedule: Schedule, database: Database) -> None:
    for conversation in ("c1", "c2"):
        apply(database, check(), conversation=conversation)
    apply(database, Answer("hoppers"))
    apply(database, CallOff())
    assert len(schedule.waiting("c2")) == 1


def test_reminders_come_and_go_with_the_turn(schedule: Schedule, database: Database) -> None:
    journal = Journal(database)
    turn = new_turn(1)
    journal.append(type(turn)(**{**vars(turn), "reminders": (check(),)}))
    assert [one.body for one in schedule.waiting("c1")] == [{"rows": 8}]
    again = new_turn(2, name=turn.utterance.id)
    journal.append(type(again)(**{**vars(again), "reminders": (check("other"),)}))
    assert [one.name for one in schedule.waiting("c1")] == ["hoppers"]


@pytest.mark.parametrize(
    ("zone", "start", "due"),
    [
        (CHICAGO, "2027-03-14T07:30+00:00", ["01:50", "03:10", "03:30"]),
        (CHICAGO, "2027-11-07T06:30+00:00", ["01:50", "01:10", "01:30"]),
        ("Europe/Berlin", "2027-03-28T00:30+00:00", ["01:50", "03:10", "03:30"]),
        ("Europe/Berlin", "2027-10-31T00:30+00:00", ["02:50", "02:10", "02:30"]),
    ],
)
def test_every_twenty_minutes_through_a_night_of_change(
    schedule: Schedule, database: Database, zone: str, start: str, due: list[str]
) -> None:
    """Each look twenty real minutes after the one before, once each, though the wall jumps or repeats an hour."""
    now = datetime.fromisoformat(start)
    heard = []
    for _ in due:
        apply(database, Remind("hoppers", LocalTime.of(now + timedelta(minutes=20), zone), elapsed=True), at=now)
        for minute in range(1, 21):
            heard += schedule.tick(now + timedelta(minutes=minute), body)
        now += timedelta(minutes=20)
        apply(database, Answer("hoppers"), at=now)
    assert [f"{ring.items[0].reminder.wall.local:%H:%M}" for ring in heard] == due
    assert [ring.items[0].late for ring in heard] == [timedelta(0)] * 3
    assert len(rings(database)) == 3


def test_over_midnight(schedule: Schedule, database: Database) -> None:
    apply(database, check(minutes=190))
    assert schedule.waiting("c1")[0].wall.local == datetime(2027, 4, 21, 0, 10)
    assert tick(schedule, 189) == []
    assert tick(schedule, 190) == [["hoppers"]]
