"""What a conversation says of application records: what they lack, how long to keep out, the season, reminders.

Law: 7 CFR 110.3 (within 14 days; states may ask for it sooner); the label's season limit and re-entry interval decide.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from engine.conversation_defaults import ConversationDefaults
from engine.dialog.taking.application_taking import RECORD, remind_at
from engine.dialog.turns.elements import RecordTime
from engine.history.shifts import shifts
from engine.reminders.reminder import Reminder, Stage
from engine.reminders.schedule import Schedule
from tests.helpers.applying import (
    APPLICATOR,
    EVENING,
    NORTH,
    PRODUCT,
    Talk,
    loading,
    loading_again,
    night,
    prepared,
    told,
    zone_of,
)

ENDED = ((240, "twenty acres done"), (240, "end of shift"), (241, "all twenty seven pounds left"), (242, "done"))
CHICAGO = ZoneInfo("America/Chicago")


def without_applicator(rules: ConversationDefaults | None = None) -> Talk:
    """Everything but who is certified."""
    talk = Talk(rules)
    talk.say_all([*PRODUCT, *NORTH], EVENING - timedelta(hours=6))
    talk.say_all(prepared(), EVENING - timedelta(minutes=20))
    return talk


def nights(talk: Talk, count: int) -> list[str]:
    """The last replies of so many nights, one after the other."""
    replies = []
    for number in range(count):
        begun = EVENING + timedelta(days=number)
        replies.append(night(talk, ENDED, begun=begun, before=loading_again() if number else loading())[-1])
    return replies


def open_reminders(talk: Talk) -> list[str]:
    return [one.name for one in records_waiting(talk) if one.stage is Stage.WAITING]


def records_waiting(talk: Talk) -> tuple[Reminder, ...]:
    """Reminders of records alone."""
    return tuple(one for one in Schedule(talk.database).waiting("c") if one.name.startswith(RECORD))


def test_at_the_end_of_a_field_it_says_how_long_to_keep_out() -> None:
    (reply,) = nights(told(), 1)
    assert "Keep out of North field until Apr 23, 11:05 PM: 48 h re-entry on the label." in reply


def test_a_complete_record_asks_for_nothing_and_reminds_of_nothing() -> None:
    talk = told()
    (reply,) = nights(talk, 1)
    assert "lacks" not in reply
    assert open_reminders(talk) == []
    assert "complete. Keep it until Apr 21, 2028." in talk.say("what does the record lack", EVENING + timedelta(days=1))


def test_the_season_adds_up_over_shifts_and_a_pass_over_its_limit_stops() -> None:
    """Forty acres done once at 5.2 lb/acre; five more are over eight."""
    talk = told()
    first, second = nights(talk, 2)
    assert "104 lb on 20 acres, 5.2 lb/acre a pass. Season limit on the label: 8 lb/acre." in first
    assert "208 lb on 40 acres" in second
    third = EVENING + timedelta(days=2)
    reply = talk.say_all(loading_again(), third)[-1]
    assert "Stop: with this pass North field gets 10 lb/acre this year" in reply
    assert "Planting from" not in reply
    assert "Stop:" in talk.say("planting again", third + timedelta(minutes=1))
    talk.say("the applicator is Maria Lopez", third + timedelta(minutes=2))
    assert "Planting again" in talk.say("planting again", third + timedelta(minutes=3))
    record = shifts(talk.turns())[-1]
    assert [one.season for one in record.over_label] == [True]
    assert record.decided_by == ("Maria Lopez",)


def test_ground_that_is_not_done_once_yet_may_be_planted() -> None:
    talk = told()
    nights(talk, 1)
    assert "Planting from" in talk.say_all(loading_again(), EVENING + timedelta(days=1))[-1]


def test_another_year_begins_anew() -> None:
    talk = told()
    nights(talk, 2)
    reply = talk.say_all(loading_again(), EVENING + timedelta(days=365))[-1]
    assert "Stop:" not in reply and "this year" not in reply


def test_entering_a_field_that_has_had_enough_stops() -> None:
    talk = told()
    nights(talk, 2)
    day = EVENING + timedelta(days=2)
    talk.say_all(loading_again("South"), day)
    assert "Stop: with this pass North field gets" in talk.say("field is North field", day + timedelta(minutes=30))


def test_a_reminder_waits_before_the_time_runs_out_and_is_called_off() -> None:
    talk = without_applicator()
    (reply,) = nights(talk, 1)
    assert "lacks certified applicator, certification number. Add by May 05, 2026." in reply
    (waiting,) = records_waiting(talk)
    assert waiting.due_at == datetime(2026, 5, 3, 8, tzinfo=CHICAGO)
    talk.say_all(APPLICATOR, EVENING + timedelta(days=2))
    assert records_waiting(talk) == ()


def test_a_state_that_asks_for_hours_is_reminded_of_in_time() -> None:
    talk = without_applicator()
    nights(talk, 1)
    one = talk.assistant.state("c").book.applied[-1]
    assert remind_at(one, RecordTime(hours=24), "America/Chicago") == one.until + timedelta(hours=18)
    assert remind_at(one, RecordTime(days=1), "America/Chicago") <= RecordTime(days=1).last(
        one.since, one.until, CHICAGO
    )


def test_rules_of_a_state_reach_the_reminder() -> None:
    talk = without_applicator(replace(zone_of("America/Chicago"), record=RecordTime(hours=24)))
    nights(talk, 1)
    (waiting,) = records_waiting(talk)
    assert waiting.due_at == (EVENING + timedelta(minutes=240, hours=18)).astimezone(UTC)


def test_where_a_state_asks_for_every_product_one_of_general_use_is_reminded_of() -> None:
    """Federal law asks for it of restricted use alone (7 CFR 110.3)."""
    general = [text if text != "yes" else "no" for text in PRODUCT]
    for within, wanted in ((RecordTime(), False), (RecordTime(every=True), True)):
        talk = Talk(replace(zone_of("America/Chicago"), record=within))
        talk.say_all([*general, *NORTH], EVENING - timedelta(hours=6))
        talk.say_all(prepared(), EVENING - timedelta(minutes=20))
        (reply,) = nights(talk, 1)
        assert ("lacks certified applicator" in reply) is wanted
        assert bool(open_reminders(talk)) is wanted
        assert "Keep out of North field until" in reply


def test_who_enters_a_field_too_soon_is_warned() -> None:
    """Forty-eight hours from 11:05 PM on the twenty-first."""
    talk = told()
    nights(talk, 1)
    warning = "Re-entry interval of North field runs until Apr 23, 11:05 PM"
    replies = talk.say_all(loading_again(), EVENING + timedelta(hours=24))
    assert warning in "".join(replies)
    talk = told()
    nights(talk, 1)
    assert "Re-entry" not in "".join(talk.say_all(loading_again(), EVENING + timedelta(hours=54)))


def test_coming_back_to_a_field_is_warned_of_in_the_same_shift() -> None:
    said = ((60, "five acres done"), (61, "field is South"), (120, "field is North field"))
    replies = night(told(), said, before=loading())
    assert "Keep out of North field until Apr 23, 8:06 PM" in replies[1] and "Re-entry" not in replies[1]
    assert "Re-entry interval of North field runs until Apr 23, 8:06 PM" in replies[2]
    assert "Keep out of South until" in replies[2]


def test_what_one_answer_leaves_out_is_still_asked_for_the_next_time() -> None:
    talk = without_applicator()
    nights(talk, 1)
    day = EVENING + timedelta(days=1)
    replies = talk.say_all(["application record", "Juan Perez", "skip", "yes"], day)
    assert "lacks certification number" in replies[-1]
    assert open_reminders(talk)
    replies = talk.say_all(["application record", "A-991", "yes"], day + timedelta(hours=1))
    assert "complete. Keep it until" in replies[-1]
    assert open_reminders(talk) == []


def test_what_is_dropped_is_not_kept() -> None:
    talk = without_applicator()
    nights(talk, 1)
    talk.say_all(["application record", "Juan Perez", "A-991", "no", "drop it"], EVENING + timedelta(days=1))
    assert "lacks certified applicator" in talk.say("what does the record lack", EVENING + timedelta(days=2))
