"""What a conversation looks back on: which calibrations tell of wear, repairs, and records from before it did."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from engine.calculations.hoppers.wear import Drift
from engine.database import open_database
from engine.dialog.facts.book import Book
from engine.dialog.facts.book_facts import RepairDropped, RowsRepaired
from engine.dialog.facts.events import Finished
from engine.dialog.facts.fold import fold
from engine.dialog.facts.state import ConversationState
from engine.dialog.facts.yearbook import YEARS_KEPT, PastCalibration, Repair, Yearbook, without
from engine.dialog.questions.year_answers import MOST_SAID, MOST_SHOWN, wear_told
from engine.dialog.reply.wording import Wording
from engine.dialog.schema.slot_roles import Role
from engine.history.store.journal import Journal, StoredTurn
from engine.history.store.turn_facts import facts_of
from engine.history.years import yearbook_of
from engine.messages import System
from engine.quantities import Measure
from engine.values import Dial
from tests.helpers.talking import Conversation, beginnings
from tests.helpers.years import calibrated, calibration, spring

YEARS = (2022, 2023, 2024, 2025, 2026)
WORN = {5: 0.05}


def repaired(year: int, *rows: int, month: int = 3) -> Repair:
    return Repair(rows=rows, said="rebuilt", at=spring(year, month))


def drift(past: Sequence[PastCalibration], repairs: Sequence[Repair] = (), row: int = 5) -> Drift:
    found = Yearbook(past, repairs).wear()
    assert found is not None
    return found.drifts[row]


def test_a_row_that_wears_is_told_from_its_years() -> None:
    past = calibrated(YEARS, worn=WORN)
    assert drift(past) is Drift.RISING
    assert {drift(past, row=row) for row in (1, 2, 3, 4, 6, 7, 8)} <= {Drift.STEADY, Drift.TOO_LITTLE_DATA}
    found = Yearbook(past, ()).wear()
    assert found is not None and found.change[5].magnitude == pytest.approx(1 / 0.95 - 1, abs=0.02)


@pytest.mark.parametrize(
    "other",
    [
        {Role.PRODUCT: "Granules B"},
        {Role.METER: "gravity"},
        {Role.RATE: Measure(value=6.1, unit="lb/acre")},
        {Role.RATE: Measure(value=5, unit="oz/1000 ft")},
        {Role.DIAL: Dial.numbered(0, 30, 0.5)},
    ],
)
def test_only_years_with_the_same_product_meter_dial_and_rate_count(other: dict[Role, object]) -> None:
    past = calibrated(YEARS, worn=WORN)
    unlike = [one.model_copy(update={"values": {**one.values, **other}}) for one in past]
    mixed = [*unlike[:3], *past[3:]]
    book = Yearbook(mixed, ())
    assert book.counting() == tuple(past[3:])
    assert drift(mixed) is Drift.TOO_LITTLE_DATA
    assert len(book.of(5)) == len(YEARS), "they are told all the same"


def test_names_in_other_letters_and_rates_close_by_are_the_same() -> None:
    past = calibrated(YEARS, worn=WORN)
    near = {Role.PRODUCT: " granules a", Role.RATE: Measure(value=5.6, unit="lb/acre")}
    assert drift([*past[:-1], past[-1].model_copy(update={"values": {**past[-1].values, **near}})]) is Drift.RISING


def test_a_row_with_an_offset_is_not_taken_for_worn_when_the_rate_goes_up() -> None:
    """Row 3 gives a fixed share less than its dial says: at a higher rate it needs less against the others, unworn."""
    past = []
    for year, rate in zip(YEARS, (5.0, 6.5, 8.0, 9.5, 11.0), strict=True):
        settings = dict.fromkeys(range(1, 9), 4 * rate)
        caught = {row: 8 * (rate - (0.5 if row == 3 else 0.0)) for row in settings}
        past.append(calibration(year, caught, settings, rate=Measure(value=rate, unit="lb/acre")))
    assert drift(past, row=3) is Drift.TOO_LITTLE_DATA
    as_if_same = [one.model_copy(update={"values": past[0].values}) for one in past]
    assert drift(as_if_same, row=3) is Drift.FALLING


def test_after_a_repair_the_wear_of_that_row_alone_begins_anew() -> None:
    past = calibrated(YEARS, worn={5: 0.05, 2: 0.05})
    book = Yearbook(past, [repaired(2025, 5)])
    found = book.wear()
    assert found is not None
    assert (found.seasons[5], found.seasons[2]) == (2, 5)
    assert (found.drifts[5], found.drifts[2]) == (Drift.TOO_LITTLE_DATA, Drift.RISING)
    assert drift(past, [repaired(2021, 5)]) is Drift.RISING
    assert [book.counts_for(5, one) for one in past] == [False, False, False, True, True]


def test_a_repair_of_several_rows_is_taken_back_row_by_row() -> None:
    repairs = [repaired(2024, 1, 2), repaired(2025, 2, 3)]
    assert without(repairs, [2]) == (repaired(2024, 1, 2), repaired(2025, 3))
    assert without(repairs, [1, 2, 3]) == (repaired(2024, 2),)


def test_a_season_is_that_of_the_clock_on_the_wall() -> None:
    late = datetime(2026, 1, 1, 3, tzinfo=UTC)
    assert (Yearbook((), ()).season(late), Yearbook((), (), ZoneInfo("America/Chicago")).season(late)) == (2026, 2025)


def test_rows_left_out_and_those_not_caught_are_told_as_that() -> None:
    one = calibration(2026, {1: 39, 2: 39, 3: 41}, {1: 24, 2: 24, 3: 24}).model_copy(update={"left_out": (4,)})
    book = Yearbook([one], ())
    assert book.rows() == (1, 2, 3, 4)
    (out,), (off,) = book.of(4), book.of(3)
    assert out.left_out and out.off is None
    assert off.off == Measure(value=41 / 39 - 1, unit="1") and off.passed


def test_the_book_keeps_the_newest_and_travels_as_json() -> None:
    state = ConversationState(language="en")
    facts = [
        RowsRepaired(rows=(1,), said=f"{day}", at=spring(2020) + timedelta(days=day)) for day in range(YEARS_KEPT + 5)
    ]
    book = fold(state, facts).book.model_copy(update={"past": tuple(calibrated((2025, 2026)))})
    assert [one.said for one in book.repairs] == [str(day) for day in range(5, YEARS_KEPT + 5)]
    assert Book.model_validate_json(book.model_dump_json()) == book
    assert fold(state, [facts[0], RepairDropped(rows=(1,))]).book.repairs == ()


def talked(tmp_path: Path) -> Conversation:
    talk = Conversation(tmp_path / "talk.db")
    talk.say_all([*beginnings()["prepared"], *beginnings()["catching"], *beginnings()["finished"]])
    return talk


def turns_of(tmp_path: Path) -> tuple[StoredTurn, ...]:
    return Journal(open_database(tmp_path / "talk.db")).turns("c")


def test_the_state_and_the_record_look_back_on_the_same(tmp_path: Path) -> None:
    talk = talked(tmp_path)
    talk.say_all(["row five rebuilt", "test run", "no", "all at twelve", "row one rebuilt", "scratch that"])
    talk.say_all(beginnings()["finished"])
    book = talk.assistant.state("c").book
    turns = turns_of(tmp_path)
    from_record = yearbook_of(turns, UTC)
    assert (from_record.past, from_record.repairs) == (book.past, book.repairs)
    assert len(book.past) == 2 and [one.rows for one in book.repairs] == [(5,)]
    assert book.past[0].values[Role.DIAL] == Dial.numbered(0, 30, 1)


def undated(fact: dict[str, object]) -> dict[str, object]:
    return {key: of for key, of in fact.items() if key != "at" or fact["kind"] != "finished"}


def test_an_end_that_was_written_without_its_time_has_that_of_its_turn(tmp_path: Path) -> None:
    talked(tmp_path)
    turns = turns_of(tmp_path)
    old = [replace(turn, facts=tuple(undated(fact) for fact in turn.facts)) for turn in turns]
    ends = [(turn, fact) for turn in old for fact in facts_of(turn) if isinstance(fact, Finished)]
    assert len(ends) == 2
    assert all(fact.at == turn.said_at for turn, fact in ends)
    assert yearbook_of(old, UTC) == yearbook_of(turns, UTC)


def test_a_long_history_is_told_as_a_handful_and_a_count(tmp_path: Path) -> None:
    talk = talked(tmp_path)
    for _ in range(MOST_SHOWN + 1):
        talk.wait(60 * 24 * 366)
        talk.say_all(["test run", "no", "all at twelve", *beginnings()["finished"]])
    reply = talk.say("history row five").reply
    assert reply.text.count("lb/acre") == MOST_SHOWN and "; 2 more in the record." in reply.text
    assert reply.speech.count("percent low") == MOST_SAID and "this year" in reply.speech
    assert "last year" in reply.speech and "; four more in the record." in reply.speech
    assert "lb" not in reply.speech and "pounds" not in reply.speech


def test_of_a_season_only_the_last_calibration_is_said(tmp_path: Path) -> None:
    talk = talked(tmp_path)
    talk.say_all(["test run", "no", "all at thirteen", *beginnings()["finished"]])
    reply = talk.say("history row five").reply
    assert reply.text.splitlines()[0].count("2026-04-2") == 2
    assert reply.speech.count("this year") == 1 and "one more in the record" in reply.speech


def test_marks_of_which_nobody_knows_the_steps_are_told_without_a_figure() -> None:
    dial = Dial.marked(("A", "B", "C", "D", "E", "F", "G"))
    past = [
        calibration(year, dict.fromkeys(range(1, 9), 39.0), {**dict.fromkeys(range(1, 9), 1.0), 5: 1.0 + number}, dial)
        for number, year in enumerate(YEARS)
    ]
    book = Yearbook(past, ())
    found = book.wear()
    assert found is not None and found.drifts[5] is Drift.RISING
    (told,) = wear_told(Wording("en", System.US), book, found, 5)
    assert told == "Row 5 needs a higher mark each season (5 seasons): rebuild it before planting."
