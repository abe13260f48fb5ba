from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from engine.database import Database
from engine.queues.outbox import Outbox
from engine.reminders.clock import TOLERANCE, ClockReading, compare, compare_restart, read_clock
from engine.reminders.local_time import LocalTime
from engine.reminders.reminder import ClockKind, Remind
from engine.reminders.schedule import Schedule
from engine.reminders.watch import ReminderWatch
from tests.helpers.reminding import CHICAGO, EVENING, apply, body, check, told_by


def reading(wall: float, steady: float) -> ClockReading:
    """Both clocks in seconds since the evening began."""
    return ClockReading(EVENING + timedelta(seconds=wall), timedelta(seconds=1000 + steady))


@pytest.mark.parametrize(
    ("last", "now", "kind", "by"),
    [
        ((59, 59), (60, 60), None, 0),
        ((59, 59), (75, 60), None, 0),
        ((3599, 3599), (7200, 7200), None, 0),
        ((59, 59), (3660, 60), ClockKind.FORWARD, 3600),
        ((59, 59), (-7140, 60), ClockKind.BACK, -7200),
        ((30, 59), (30, 60), ClockKind.STOPPED, -30),
        ((36, 59), (37, 60), ClockKind.BACK, -23),
    ],
    ids=["right", "corrected a little", "slept", "set forward", "set back", "stands still", "crawls"],
)
def test_two_clocks_side_by_side(
    last: tuple[int, int], now: tuple[int, int], kind: ClockKind | None, by: float
) -> None:
    change = compare(reading(0, 0), reading(*last), reading(*now))
    assert (change and change.kind) == kind
    assert (change.by.total_seconds() if change else 0) == by


def test_over_a_restart_only_back_can_be_seen() -> None:
    later = EVENING + timedelta(hours=1)
    assert compare_restart(EVENING, later) is None
    change = compare_restart(later, EVENING)
    assert change is not None
    assert (change.kind, change.by) == (ClockKind.BACK, timedelta(hours=-1))


def test_the_real_clocks_run_together() -> None:
    first, second = read_clock(), read_clock()
    assert second.steady >= first.steady
    assert compare(first, first, second) is None


class Hands:
    """Two clocks that a test moves."""

    def __init__(self) -> None:
        self.wall, self.steady = 0.0, 0.0

    def __call__(self) -> ClockReading:
        return reading(self.wall, self.steady)

    def run(self, watch: ReminderWatch, seconds: int, *, wall_too: bool = True) -> list[str]:
        """Seconds pass one by one; what rang, in order."""
        rang = []
        for _ in range(seconds):
            self.steady += 1
            self.wall += wall_too
            rang += [item.reminder.name for ring in watch.step() for item in ring.items]
        return rang


@pytest.fixture
def hands() -> Hands:
    return Hands()


@pytest.fixture
def watch(schedule: Schedule, hands: Hands) -> ReminderWatch:
    return ReminderWatch(schedule, body, hands)


def at_hour(schedule: Schedule, minutes: int) -> Remind:
    return Remind("lunch", LocalTime.of(EVENING + timedelta(minutes=minutes), CHICAGO))


def said(database: Database) -> list[dict[str, object]]:
    return [told_by(one) for one in Outbox(database).pending("c1")]


def test_it_rings_at_its_time_and_not_before(watch: ReminderWatch, hands: Hands, database: Database) -> None:
    apply(database, check(minutes=1))
    assert hands.run(watch, 59) == []
    assert hands.run(watch, 1) == ["hoppers"]
    assert hands.run(watch, 60) == []


def test_a_clock_set_back_delays_no_look(watch: ReminderWatch, hands: Hands, database: Database) -> None:
    apply(database, check(minutes=2), at_hour(watch.schedule, 3))
    hands.run(watch, 60)
    hands.wall -= 3600
    assert hands.run(watch, 60) == ["hoppers"]
    assert said(database)[0] == {"clock": "back", "waiting": ["hoppers", "lunch"]}
    assert watch.schedule.waiting("c1")[0].due_at <= EVENING - timedelta(minutes=58)
    hands.run(watch, 3000)
    (lunch,) = (one for one in watch.schedule.waiting("c1") if one.name == "lunch")
    assert lunch.due_at == EVENING + timedelta(minutes=3)


def test_a_clock_set_forward_makes_a_look_early_never_late(
    watch: ReminderWatch, hands: Hands, database: Database
) -> None:
    """The message about the clock asks for it; a second one beside it would say that the program was away."""
    apply(database, check(minutes=2), check("far", minutes=90))
    hands.run(watch, 10)
    hands.wall += 3600
    assert hands.run(watch, 1) == []
    assert said(database) == [{"clock": "forward", "waiting": ["hoppers", "far"]}]
    assert hands.run(watch, 299) == []
    assert hands.run(watch, 1) == ["hoppers"]
    assert said(database)[1]["missed"] is False
    assert hands.run(watch, 90 * 60 - 3911) == ["hoppers", "far"]


def test_a_clock_that_stands_still_is_said_once_and_looks_still_come(
    watch: ReminderWatch, hands: Hands, database: Database
) -> None:
    apply(database, check(minutes=5))
    hands.run(watch, 60)
    assert hands.run(watch, 230, wall_too=False) == []
    assert hands.run(watch, 10 + int(TOLERANCE.total_seconds()) + 1, wall_too=False) == ["hoppers"]
    assert [one for one in said(database) if "clock" in one] == [{"clock": "stopped", "waiting": ["hoppers"]}]


def test_a_clock_set_back_between_two_starts(schedule: Schedule, hands: Hands, database: Database) -> None:
    apply(database, check(minutes=2))
    hands.run(ReminderWatch(schedule, body, hands), 60)
    hands.wall, hands.steady = -7000.0, 5.0
    again = ReminderWatch(schedule, body, hands)
    again.step()
    assert said(database) == [{"clock": "back", "waiting": ["hoppers"]}]
    assert schedule.waiting("c1")[0].due_at <= EVENING + timedelta(seconds=-7000 + 61 + 60)
    ReminderWatch(schedule, body, hands).step()
    assert len(said(database)) == 1


def test_how_long_to_sleep(watch: ReminderWatch, hands: Hands, database: Database) -> None:
    assert watch.pause() == timedelta(seconds=1)
    apply(database, check(minutes=1))
    hands.wall = 59.75
    assert watch.pause() == timedelta(seconds=0.25)
    hands.wall = 90
    assert watch.pause() == timedelta(0)


def test_a_notice_is_given_once_though_the_program_dies_right_after(schedule: Schedule, database: Database) -> None:
    apply(database, check())
    schedule.beat(EVENING)
    earlier = EVENING - timedelta(hours=1)
    change = compare_restart(EVENING, earlier)
    assert change is not None
    schedule.notice(change, body)
    seen = schedule.last_beat()
    assert seen == earlier
    assert compare_restart(seen, earlier) is None


def test_the_last_beat_is_kept(schedule: Schedule) -> None:
    assert schedule.last_beat() is None
    for moment in (EVENING, EVENING + timedelta(minutes=1)):
        schedule.beat(moment)
    assert schedule.last_beat() == EVENING + timedelta(minutes=1)
    assert isinstance(schedule.last_beat(), datetime)
