"""What a foreman is told of a test run and of a shift: who and where first, then what is wrong, nothing of it lost."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from bot.record.shift_words import account
from bot.sheet.sheet import SheetHeader
from bot.sheet.words import sheet_words
from bot.telegram.message import CAPTION, size
from bot.telegram.services.report import over, report
from bot.telegram.services.showing import Showing
from bot.telegram.texts import ChatTexts
from engine.assistant import Assistant
from engine.conversation_defaults import ConversationDefaults
from engine.crew.farm import Farm
from engine.crew.people import Member, People
from engine.crew.roles import PersonRole
from engine.database import Database, open_database
from engine.history.records import Calibration, calibrations
from engine.history.shifts import shifts
from engine.history.store.journal import Journal
from engine.messages import LANGUAGES, Language, Utterance
from tests.helpers.planting import EVENING, night, plant
from tests.helpers.talking import beginnings, library

ABOUT = SheetHeader(planter="Big red", product="Product A", who="Otto")
SECONDS = "forty one seconds"


def caught(grams: dict[int, float]) -> Calibration:
    """A test run of 24 rows over containers of nothing, target 39.0 g, with these catches; a row of 0 is left out."""
    database = open_database(":memory:")
    assistant = Assistant(database, ConversationDefaults(), library())
    rows = ", ".join(f"row {row} {weight:.0f}" if weight else f"skip row {row}" for row, weight in grams.items())
    said = [*beginnings()["wide"], f"{SECONDS}, {rows}"]
    for at, text in enumerate(said):
        moment = datetime(2026, 4, 22, 3, tzinfo=UTC) + timedelta(minutes=at)
        assistant.hear(Utterance(id=str(at), conversation="c", text=text, language="en", said_at=moment))
    (record,) = calibrations(Journal(database).turns("c"))
    return record


def told(record: Calibration, language: Language = "en", about: SheetHeader = ABOUT) -> list[str]:
    return report(record, sheet_words(language, UTC), about).split("\n")


def test_all_rows_on_target_are_three_lines() -> None:
    assert told(caught(dict.fromkeys(range(1, 25), 39))) == [
        "Otto, Big red: test run 1 finished.",
        "24 of 24 rows on target.",
        "Product A, 5 lb/acre.",
    ]


def test_the_worst_row_stands_first() -> None:
    """Row 9 was not caught, rows 3 and 20 are off by a fifth."""
    lines = told(caught({**dict.fromkeys(range(1, 25), 39), 3: 47, 9: 0, 20: 31}))
    assert lines[1] == "21 of 24 rows on target; not: 3, 9, 20."
    assert [line.split(":")[0] for line in lines[3:]] == ["Row 9", "Row 3", "Row 20"]


@pytest.mark.parametrize("language", LANGUAGES)
def test_what_does_not_go_under_the_picture_is_named(language: Language) -> None:
    record = caught({row: 30 if row % 2 else 50 for row in range(1, 25)})
    lines = told(record, language, replace(ABOUT, product="Product with a long name " * 10))
    assert size("\n".join(lines)) <= CAPTION
    rows = lines[3:-1]
    assert 5 < len(rows) < 24 and lines[-1].endswith(f"{len(rows) + 1}-24.")


def test_rows_that_stopped_stand_before_those_that_stayed_high() -> None:
    (record,) = shifts(night())
    lines = over(record, account("en", UTC, record.system), "Otto, Big red: shift over.", ["lacks"]).split("\n")
    assert lines[:2] == ["Otto, Big red: shift over.", "North field, South, Product A, 5 lb/acre."]
    doubts = [line.split(", ")[:2] for line in lines if line.startswith("  Row")]
    assert [what for _, what in doubts] == ["stopped", "stopped", "hopper stayed high"]
    assert lines[-1] == "lacks"
    assert len(lines) == len(set(lines))
    whole = account("en", UTC, record.system).shift(record)
    assert all(line in lines for line in whole)


@pytest.fixture
def farm() -> Database:
    """Otto plants, and leaves the shift for a test run."""
    database = open_database(":memory:")
    people, now = People(database), EVENING - timedelta(days=1)
    for number, role, name in ((1, PersonRole.OPERATOR, "Otto"), (2, PersonRole.FOREMAN, "Frida")):
        people.join(f"telegram:{number}", people.invite("north", role, EVENING), now, name)
    again = ["test run", "yes", "yes", *beginnings()["finished"]]
    plant(database, [(30 + at, text) for at, text in enumerate(again)], conversation="telegram:1")
    Farm(database, _otto(database)).work_with("Big red", now)
    return database


def _otto(database: Database) -> Member:
    found = People(database).member("telegram:1")
    assert found is not None
    return found


def test_a_member_is_named_and_the_field_of_the_shift_that_waits(farm: Database) -> None:
    otto, showing = _otto(farm), Showing(farm, ChatTexts.load(), UTC)
    turns = Journal(farm).turns("telegram:1")
    text = showing.finished(otto, "telegram:1", "en", turns[-1].seq)[0].text
    assert text.split("\n")[:3] == [
        "Otto, Big red: test run 1 finished.",
        "8 of 8 rows on target.",
        "North field, Product A, 5 lb/acre.",
    ]
    left = next(one.seq for one in turns if one.heard == "yes" and "Shift left" in one.reply.text)
    assert showing.shift_ended(otto, "telegram:1", "en", left)[0].text.startswith("Otto, Big red: shift over.")
    Farm(farm, otto).hand_over("Ann", EVENING - timedelta(hours=1))
    text = showing.finished(otto, "telegram:1", "en", turns[-1].seq)[0].text
    assert text.startswith("Ann, Big red: test run 1")


def test_the_history_tells_what_was_read_off_in_a_run_that_was_left() -> None:
    database = open_database(":memory:")
    assistant = Assistant(database, ConversationDefaults(), library())
    said = [*beginnings()["prepared"], *beginnings()["catching"], "row one seventy nine", "cancel", "yes"]
    for at, text in enumerate(said):
        moment = EVENING + timedelta(minutes=at)
        assistant.hear(Utterance(id=str(at), conversation="c", text=text, language="en", said_at=moment))
    member = Member("c", None, PersonRole.OWNER, "c")
    (shown,) = Showing(database, ChatTexts.load(), UTC).history(member, "en")
    assert "Row 1: 79 g read off at 12, no verdict" in shown.text  # type: ignore[union-attr]
