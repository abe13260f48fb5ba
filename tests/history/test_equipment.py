"""Planter, meters and scale by name: what the record, its tables and its sheets say of them."""

from __future__ import annotations

from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest

from bot.record.application import form, in_words
from bot.record.ledger import RecordListing
from bot.record.record_part import RecordPart
from bot.record.shift_words import account
from bot.sheet.sheet import SheetHeader, sheet
from bot.sheet.words import sheet_words
from engine.crew.farm import every_planter
from engine.crew.people import People
from engine.crew.roles import PersonRole as Part
from engine.database import Database
from engine.dialog.facts.yearbook import PastCalibration, Yearbook
from engine.dialog.schema.slot_roles import Role
from engine.dialog.turns.elements import FEDERAL
from engine.history.application import applications
from engine.history.records import calibrations
from engine.history.shifts import shifts
from engine.messages import System
from engine.quantities import Measure
from engine.values import Dial
from tests.helpers.applying import APPLICATOR, EVENING, NORTH, PRODUCT, Talk, loading, zone_of
from tests.helpers.talking import beginnings

CHICAGO = ZoneInfo("America/Chicago")
EQUIPMENT = (
    *("new planter", "green one", "eight", "thirty inches", "blue boxes", "yes"),
    *("new meters", "blue boxes", "roll", "zero to thirty by one", "yes"),
    *("new scale", "shop scale", "one gram", "skip", "April 12", "yes"),
)
SET_UP = (
    *("set up", "{planter}", "no", "Terravel 15", "five pounds an acre", "five miles an hour"),
    *("three hundred feet", "scale", "forty grams", "shop scale"),
)
BY_HAND = (
    *("set up", "skip", "skip", "eight", "thirty inches", "zero to thirty by one", "no", "Terravel 15"),
    *("five pounds an acre", "five miles an hour", "three hundred feet", "tube", "0.6", "one milliliter"),
)
"""A set-up without any name; how the meters feed is known from before."""


def set_up(planter: str = "yes") -> list[str]:
    return [text.format(planter=planter) for text in SET_UP]


@pytest.fixture
def talk() -> Talk:
    talk = Talk()
    talk.say_all([*PRODUCT, *NORTH, *APPLICATOR, *EQUIPMENT], EVENING - timedelta(hours=6))
    return talk


def night(talk: Talk) -> None:
    catches = [*beginnings()["catching"], *beginnings()["finished"]]
    talk.say_all([*set_up(), *catches], EVENING - timedelta(minutes=20))
    talk.say_all(loading(), EVENING + timedelta(minutes=1))
    talk.say_all(["20 acres done", "end of shift", "all 27 pounds left", "done"], EVENING + timedelta(hours=3))


def test_the_record_of_a_night_names_planter_and_scale(talk: Talk) -> None:
    night(talk)
    turns = talk.turns()
    (run,), (shift,) = calibrations(turns), shifts(turns)
    assert (run.planter, shift.planter, run.values[Role.SCALE]) == ("green one", "green one", "shop scale")
    (record,) = applications(turns, CHICAGO, FEDERAL)
    assert record.planter == "green one" and record.calibration is not None
    assert (record.calibration.scale, record.calibration.scale_checked) == ("shop scale", "April 12")
    told = account("en", CHICAGO, System.US)
    assert "scale: shop scale, last checked April 12" in "\n".join(in_words(record, told))
    assert "shop scale" in str(form(record, account("es", CHICAGO, System.US)))
    drawn = sheet(run, sheet_words("en", CHICAGO), SheetHeader(planter=run.planter))
    assert drawn.title.startswith("green one") and "scale shop scale" in " ".join(drawn.lines)


def test_the_planter_of_a_conversation_has_its_name_in_tables_sheets_and_chats(talk: Talk) -> None:
    assert [one.name for one in every_planter(talk.database)] == [None]
    night(talk)
    assert [one.name for one in every_planter(talk.database)] == ["green one"]
    ledger = RecordListing(talk.database, "en", CHICAGO)
    for what in (RecordPart.CALIBRATIONS, RecordPart.SHIFTS, RecordPart.APPLICATIONS):
        assert {line["planter"] for line in ledger.lines(what)} == {"green one"}
    talk.say_all(["rename", "green one", "Big Green"], EVENING + timedelta(hours=5))
    assert [one.name for one in every_planter(talk.database)] == ["Big Green"]
    (record,) = applications(talk.turns(), CHICAGO, FEDERAL)
    assert record.planter == "Big Green"


def test_a_planter_without_a_name_has_its_number_in_the_language_that_is_spoken(talk: Talk) -> None:
    by_hand = [text for word in BY_HAND for text in ((word, "skip") if word == "no" else (word,))]
    talk.say_all([*by_hand, "test run", "all at twelve", "all 65"], EVENING)
    for language, name in (("en", "planter 1"), ("es", "sembradora 1")):
        assert {line["planter"] for line in RecordListing(talk.database, language, CHICAGO).lines(RecordPart.ROWS)} == {
            name
        }


def test_two_planters_at_one_computer_are_told_apart(talk: Talk) -> None:
    night(talk)
    talk.say_all(["new planter", "red one", "eight", "thirty inches", "blue boxes", "yes"], EVENING + timedelta(days=1))
    for planter, start in (("red one", False), ("green one", True)):
        talk.say_all([*set_up(planter)], EVENING + timedelta(days=2))
        begun = talk.say("test run", EVENING + timedelta(days=2))
        assert ("A start only" in begun) is start, "where it begins comes from the same planter only"
        talk.say_all(
            ["no"] * start + ["all at twelve", "all 118", "forty one seconds"], EVENING + timedelta(days=2, hours=1)
        )
        talk.say_all(["enough"], EVENING + timedelta(days=2, hours=2))
    lines = RecordListing(talk.database, "en", CHICAGO).lines(RecordPart.CALIBRATIONS)
    assert {line["planter"] for line in lines} == {"green one", "red one"}
    assert any(
        line.startswith("red one")
        for line in RecordListing(talk.database, "en", CHICAGO).words(RecordPart.CALIBRATIONS)
    )


def test_a_shift_on_another_planter_than_the_calibrated_one_is_refused(talk: Talk) -> None:
    night(talk)
    later = EVENING + timedelta(days=1)
    talk.say_all(["rename", "green one", "Big Green"], later)
    for planter, begins in (("Big Green", True), ("red one", False)):
        by_name = (
            [*set_up(planter)] if begins else ["set up", planter, "blue boxes", "eight", "thirty inches", *set_up()[2:]]
        )
        talk.say_all(by_name, later)
        replies = talk.say_all(["shift", "four four seven", "skip"], later + timedelta(hours=1))
        assert (
            any("planter, rows or dials are not as the last test run left them" in one for one in replies) is not begins
        )
        talk.say_all(["cancel", "yes"] if begins else [], later + timedelta(hours=2))


def test_what_an_earlier_set_up_was_done_with_is_not_said_of_a_later_one(talk: Talk) -> None:
    talk.say_all(set_up(), EVENING)
    assert talk.assistant.state("c").book.of(Role.SCALE) == "shop scale"
    talk.say_all(BY_HAND, EVENING + timedelta(hours=1))
    book = talk.assistant.state("c").book
    assert [book.of(role) for role in (Role.PLANTER, Role.METERS, Role.SCALE)] == [None, None, None]


def test_two_conversations_of_a_farm_do_not_take_the_same_name(database: Database) -> None:
    people = People(database)
    for chat in ("x:1", "x:2"):
        assert people.join(chat, people.invite("north", Part.OPERATOR, EVENING + timedelta(days=1)), EVENING, chat)
    talk = Talk(zone_of(CHICAGO.key), database)
    for chat in ("x:1", "x:2"):
        talk.chat = chat
        told = (*PRODUCT, *EQUIPMENT) if chat == "x:1" else ()
        talk.say_all([*told, *set_up("green one")], EVENING)
    assert [one.name for one in every_planter(database)] == ["green one", None]


def test_years_of_another_planter_or_of_other_meters_tell_nothing_of_a_row() -> None:
    dial = Dial(low=0, high=30, step=1)
    values = {Role.DIAL: dial, Role.RATE: Measure(value=5, unit="lb/acre")}
    runs = ({Role.NET: {1: Measure(value=79, unit="g")}},)

    def year(**named: str) -> PastCalibration:
        named_by_role = {Role[key]: value for key, value in named.items()}
        return PastCalibration(at=EVENING, values={**values, **named_by_role}, runs=runs)

    nameless, green, red = year(), year(PLANTER="green"), year(PLANTER="red")
    other = year(PLANTER="Green", METERS="blue")
    assert Yearbook((red, nameless, green), ()).counting() == (nameless, green)
    assert Yearbook((red, year(METERS="white"), green, other), ()).counting() == (green, other)
