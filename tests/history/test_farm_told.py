"""Register and season of a farm with several planters: what one is told, the others know, and no other farm does."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path
from random import Random
from zoneinfo import ZoneInfo

import pytest
from sqlalchemy import update

from engine.assistant import Assistant
from engine.crew.erasure import Erasure
from engine.crew.farm import Farm
from engine.crew.people import People
from engine.crew.roles import PersonRole as Part
from engine.database import Database, open_database
from engine.dialog.facts.fold import fold
from engine.dialog.facts.neighbours import FarmTold
from engine.dialog.schema.slot_roles import Role
from engine.dialog.turns.elements import FEDERAL
from engine.history.application import applications
from engine.history.copies import digest
from engine.history.copies.archive import open_archive
from engine.history.copies.transfer import export_record, import_record
from engine.history.store import tables
from engine.history.store.journal import Journal
from engine.history.store.turn_facts import facts_of
from engine.messages import Utterance
from tests.helpers.applying import APPLICATOR, EVENING, NORTH, PRODUCT, loading, prepared, zone_of
from tests.helpers.process import ROOT, python, run_lines, run_until_done
from tests.helpers.talking import library

CHICAGO = ZoneInfo("America/Chicago")
TALKER = str(ROOT / "tests/helpers/farm_talker.py")
DAY = timedelta(days=1)
END = ("20 acres done", "end of shift", "all 27 pounds left", "done")


class FarmTalk:
    """Conversations of several planters on one record, each with the farm it belongs to."""

    def __init__(self, database: Database, **farms: str) -> None:
        self.database = database
        self.assistant = self.opened()
        self.number = 0
        for planter, farm in farms.items():
            people = People(database)
            assert people.join(f"x:{planter}", people.invite(farm, Part.OPERATOR, EVENING + DAY), EVENING, planter)

    def opened(self) -> Assistant:
        return Assistant(self.database, zone_of(CHICAGO.key), library())

    def say(self, planter: str, *texts: str, at: datetime = EVENING) -> str:
        """The reply to the last of what is said, a minute apart."""
        for number, text in enumerate(texts):
            self.number += 1
            said = Utterance(
                id=f"u{self.number}", conversation=f"x:{planter}", text=text, said_at=at + timedelta(minutes=number),
                language=self.assistant.state(f"x:{planter}").language,
            )  # fmt: skip
            reply = self.assistant.hear(said).reply.text
        return reply

    def taken_over(self, planter: str) -> list[FarmTold]:
        turns = Journal(self.database).turns(f"x:{planter}")
        return [fact for turn in turns for fact in facts_of(turn) if isinstance(fact, FarmTold)]


def night(talk: FarmTalk, planter: str, begun: datetime) -> str:
    """Twenty acres of North field, 104 pounds."""
    talk.say(planter, *prepared(), at=begun - timedelta(hours=2))
    talk.say(planter, *loading(), at=begun - timedelta(minutes=11))
    return talk.say(planter, *END, at=begun + timedelta(hours=3))


@pytest.fixture
def talk(database: Database) -> FarmTalk:
    return FarmTalk(database, one="north", two="north", three="north", far="south")


def test_what_is_told_on_one_planter_is_offered_and_filled_in_on_the_other(talk: FarmTalk) -> None:
    talk.say("one", *PRODUCT, *NORTH, *APPLICATOR)
    told = talk.say("two", "what is known by name")
    assert all(name in told for name in ("Terravel 15", "North field", "Juan Perez"))
    asked = talk.say("two", "set up", "eight", "thirty inches", "zero to thirty by one", "no", "skip")
    assert "Say yes for Terravel 15" in asked
    assert "lowest label rate 2 lb/acre, highest label rate 10 lb/acre" in talk.say("two", "yes")
    assert "Which is it: Terravel 15 or Teravel 15?" in talk.say("two", "scratch that", "Teravel 15")


def test_a_farm_hears_nothing_of_another_and_who_is_alone_nothing_at_all(talk: FarmTalk) -> None:
    talk.say("one", *PRODUCT, *NORTH)
    talk.say("alone", *APPLICATOR)
    for stranger in ("far", "alone"):
        assert "Terravel" not in talk.say(stranger, "what is known by name")
        assert talk.taken_over(stranger) == []
    assert "Juan" not in talk.say("two", "what is known by name")


def test_what_was_said_is_expected_before_the_next_word(talk: FarmTalk) -> None:
    talk.say("two", "set up", "eight", "thirty inches", "zero to thirty by one", "no", "skip")
    talk.say("one", *PRODUCT)
    names = [slot.names for slot in talk.assistant.expectation("x:two").slots]
    assert names == [("Terravel 15",)]
    assert talk.taken_over("two") == [], "to look changes nothing"


def test_each_word_is_taken_over_once_and_both_agree(talk: FarmTalk) -> None:
    talk.say("one", *NORTH)
    talk.say("two", "what is known by name", "status", "status")
    assert len(talk.taken_over("two")) == 1
    talk.say("two", "rename", "North field", "Hill")
    talk.say("one", "new field", "South", "skip", "field corn", "section 13", "yes")
    talk.say("two", "status")
    states = [talk.assistant.state(f"x:{planter}").book.things for planter in ("one", "two")]
    fields = [{name: one.known(Role.FIELD, name) for name in one.names(Role.FIELD)} for one in states]
    assert fields[0] == fields[1] and set(fields[0]) == {"Hill", "South"}


def test_the_season_of_a_field_counts_every_planter_of_the_farm_and_no_other(talk: FarmTalk) -> None:
    for planter in ("one", "far"):
        talk.say(planter, *PRODUCT, *NORTH, at=EVENING - DAY)
    talk.say("two", *APPLICATOR, at=EVENING - DAY)
    assert "North field this year: 104 lb on 20 acre" in night(talk, "one", EVENING)
    assert "North field this year: 208 lb on 40 acre" in night(talk, "two", EVENING + DAY)
    assert "North field this year: 104 lb on 20 acre" in night(talk, "far", EVENING + DAY)
    assert "North field this year: 104 lb on 20 acre" in night(talk, "three", EVENING + 366 * DAY)


def test_what_the_other_planter_puts_down_now_counts_before_its_shift_ends(talk: FarmTalk) -> None:
    talk.say("one", *PRODUCT, *NORTH, at=EVENING - DAY)
    talk.say("one", *prepared(), at=EVENING - timedelta(hours=2))
    talk.say("one", *loading(), at=EVENING - timedelta(minutes=11))
    talk.say("one", "20 acres done", at=EVENING + timedelta(hours=3))
    talk.say("two", "status", at=EVENING + timedelta(hours=3))
    (running,) = talk.assistant.state("x:two").book.on_farm
    assert running.area.value == pytest.approx(20) and running.field == "North field"
    talk.say("one", *END[1:], at=EVENING + timedelta(hours=4))
    talk.say("two", "status", at=EVENING + timedelta(hours=5))
    (ended,) = talk.assistant.state("x:two").book.on_farm
    assert ended.amount is not None and ended.amount.to("lb").value == pytest.approx(104)


def test_a_pass_that_the_other_planter_brings_over_the_season_limit_is_stopped(talk: FarmTalk) -> None:
    talk.say("one", *PRODUCT, "new field", "North field", "twenty acres", "field corn", "section 12", "yes")
    night(talk, "one", EVENING + timedelta(hours=6))
    begun = EVENING + DAY
    talk.say("two", *prepared(), at=begun - timedelta(hours=2))
    replies = [
        talk.say("two", text, at=begun - timedelta(minutes=11 - number)) for number, text in enumerate(loading())
    ]
    assert any("over the label's season limit, 8 lb/acre" in reply for reply in replies)


def test_a_record_has_the_label_that_another_planter_told_and_not_its_applicator(talk: FarmTalk) -> None:
    talk.say("one", *PRODUCT, *NORTH, *APPLICATOR, at=EVENING - DAY)
    told = night(talk, "two", EVENING)
    assert "lacks" in told or "missing" in told or "certified" in told.lower(), told
    (record,) = applications(Journal(talk.database).turns("x:two"), CHICAGO, FEDERAL)
    assert record.elements.registration_number == "1234-567"
    assert record.elements.applicator_name is None
    assert "Say yes for Juan Perez" in talk.say("two", "application record", at=EVENING + DAY)


def test_the_fold_of_one_conversation_needs_no_other(talk: FarmTalk) -> None:
    talk.say("one", *PRODUCT, *NORTH)
    night(talk, "one", EVENING + DAY)
    night(talk, "two", EVENING + 2 * DAY)
    turns = Journal(talk.database).turns("x:two")
    state = talk.assistant.state("x:two")
    beginning = type(state)(language="en", system=state.system)
    assert fold(beginning, [fact for turn in turns for fact in facts_of(turn)]) == state
    assert talk.opened().state("x:two") == state


def test_it_travels_in_an_archive_and_goes_on_there(talk: FarmTalk, tmp_path: Path) -> None:
    talk.say("one", *PRODUCT)
    talk.say("two", "status")
    talk.say("one", *NORTH)
    export_record(talk.database, tmp_path / "all.zip")
    there = open_database(":memory:")
    with open_archive(tmp_path / "all.zip") as archive:
        import_record(archive, there)
    with talk.database.read() as old, there.read() as new:
        assert digest.states(new) == digest.states(old) != {}
    moved = FarmTalk(there)
    moved.number = talk.number
    told = moved.say("two", "what is known by name")
    assert "Terravel 15" in told and "North field" in told
    assert [len(fact.told) for fact in moved.taken_over("two")] == [1, 1]


def test_who_is_forgotten_leaves_no_name_in_what_others_took_over(talk: FarmTalk) -> None:
    talk.say("one", *NORTH)
    talk.say("two", "status")
    Erasure(talk.database).forget("x:one", EVENING)
    talk.assistant = talk.opened()
    assert "x:one" not in str([fact.model_dump_json() for fact in talk.taken_over("two")])
    assert "North field" in talk.say("two", "what is known by name")
    assert len(talk.taken_over("two")) == 1, "what was taken over once is not taken over under another name"


def test_a_planter_whose_record_is_damaged_stops_no_other(talk: FarmTalk) -> None:
    if talk.database.engine.dialect.name != "sqlite":
        pytest.skip("the trigger that guards facts is taken away in the way of SQLite")
    talk.say("one", *NORTH)
    with talk.database.begin() as connection:
        connection.exec_driver_sql("DROP TRIGGER fact_no_update")
        connection.execute(update(tables.fact).where(tables.fact.c.kind == "registered").values(body={"kind": "?"}))
    talk.assistant = talk.opened()
    assert "North field" not in talk.say("two", "what is known by name")


def test_a_second_planter_of_the_same_chat_knows_what_the_first_was_told(talk: FarmTalk) -> None:
    talk.say("one", *PRODUCT)
    member = People(talk.database).member("x:one")
    assert member is not None
    Farm(talk.database, member).work_with("Big one", EVENING)
    again = People(talk.database).member("x:one")
    assert again is not None
    other = Farm(talk.database, again).work_with("Small one", EVENING).conversation
    assert other != "x:one"
    said = Utterance(id="new", conversation=other, text="what is known by name", language="en", said_at=EVENING)
    assert "Terravel 15" in talk.assistant.hear(said).reply.text


def test_what_was_told_in_english_is_offered_in_spanish(talk: FarmTalk) -> None:
    talk.say("one", *PRODUCT)
    asked = talk.say(
        "two", "español", "preparar", "ocho", "treinta pulgadas", "cero a treinta de uno en uno", "no", "salta"
    )
    assert "Diga “sí” para Terravel 15" in asked
    assert "dosis mínima de etiqueta 2 lb/acre" in talk.say("two", "sí")


LINES = [
    *(f"one|{text}" for text in PRODUCT),
    *(f"two|{text}" for text in ("what is known by name", "set up", "eight", "thirty inches", "zero to thirty by one")),
    *(f"one|{text}" for text in NORTH),
    *(f"two|{text}" for text in ("no", "skip", "yes", "rename", "North field", "Hill")),
    *(f"one|{text}" for text in ("what is known by name", "status")),
]


def test_killed_anywhere_the_planters_know_of_each_other_what_they_would_have(tmp_path: Path) -> None:
    def state(name: str) -> list[tuple[object, ...]]:
        database = open_database(str(tmp_path / name))
        turns = [turn for chat in ("x:one", "x:two") for turn in Journal(database).turns(chat)]
        database.close()
        return [(turn.conversation, turn.seq, turn.heard, turn.reply, turn.facts) for turn in turns]

    calm = run_lines(python(TALKER, str(tmp_path / "calm.db")), LINES)
    assert (calm.returncode, len(calm.lines)) == (0, len(LINES)), calm.errors
    command = python(TALKER, str(tmp_path / "killed.db"))
    last, hits = run_until_done(command, LINES, Random(7), kills=4)
    assert last.returncode == 0 and hits >= 2, last.errors
    assert state("killed.db") == state("calm.db")
    assert any(fact["kind"] == "farm_told" for *_, facts in state("calm.db") for fact in facts)  # type: ignore[attr-defined]
