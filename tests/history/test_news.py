from __future__ import annotations

from datetime import UTC, datetime, time

import pytest

from engine.crew.notifications import Notifications, NotificationWishes, Quiet, usual, with_summary
from engine.crew.roles import PersonRole
from engine.database import Database


@pytest.mark.parametrize(
    ("start", "end", "hour", "quiet"),
    [
        (time(21), time(6), 22, True),
        (time(21), time(6), 5, True),
        (time(21), time(6), 6, False),
        (time(21), time(6), 12, False),
        (time(12), time(14), 12, True),
        (time(12), time(14), 14, False),
        (time(0), time(0), 7, True),
    ],
)
def test_quiet_hours_go_over_midnight(start: time, end: time, hour: int, quiet: bool) -> None:
    assert Quiet(start, end, "UTC").holds(datetime(2026, 4, 21, hour, tzinfo=UTC)) is quiet


def test_quiet_hours_are_those_of_the_own_clock() -> None:
    evening = datetime(2026, 7, 1, 3, 30, tzinfo=UTC)
    assert Quiet(time(22), time(6), "America/Chicago").holds(evening)
    assert not Quiet(time(22), time(6), "Asia/Tokyo").holds(evening)


def test_wishes_are_kept_and_those_of_others_stay(database: Database) -> None:
    news = Notifications(database, "America/Chicago")
    assert news.wishes("a", PersonRole.FOREMAN) == usual(PersonRole.FOREMAN, "America/Chicago")
    assert not news.wishes("b", PersonRole.OWNER).runs
    mine = with_summary(NotificationWishes(True, True, Quiet(time(20, 30), time(5), "Europe/Berlin")), shifts=False)
    news.want("a", mine)
    news.want("b", NotificationWishes(True, True, None))
    assert news.wishes("a", PersonRole.FOREMAN) == mine
    assert news.wishes("b", PersonRole.OWNER) == NotificationWishes(True, True, None)
