"""What the record counts as a look at the hoppers."""

from __future__ import annotations

from datetime import timedelta

from engine.database import open_database
from engine.history.shifts import shifts
from engine.history.store.journal import Journal
from engine.messages import Report
from tests.helpers.planting import EVENING, WEIGHED, plant


def test_what_the_hoppers_hold_is_a_look_where_one_was_due_and_not_between() -> None:
    database = open_database(":memory:")
    said = [(2, "row three has thirty nine pounds left"), (60, WEIGHED), (61, "end of shift"), (62, WEIGHED)]
    plant(database, said)
    (record,) = shifts(Journal(database).turns("c"))
    assert {one.at for one in record.reports if one.report is Report.LEFT} == {
        *(EVENING + timedelta(minutes=at) for at in (2, 60, 62))
    }
    assert [one - EVENING for one in record.looks] == [timedelta(minutes=60)]
    assert record.seen_at == EVENING + timedelta(minutes=62)
