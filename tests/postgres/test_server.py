"""What holds on a server alone: its text, its locks, its refusals, and two programs at once."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path
from threading import Barrier

import pytest
from sqlalchemy import func, inspect, select, update

from bot.doctor import record
from bot.doctor.finding import FindingMark
from engine.database import Database, address, open_database
from engine.errors import DatabaseError, NewerDatabase
from engine.history.store import tables, upgrades
from engine.history.store.columns import Json
from engine.history.store.journal import Journal
from engine.queues.outbox import Outbox
from engine.reminders.local_time import LocalTime
from engine.reminders.reminder import Remind
from engine.reminders.schedule import ReminderPolicy, Schedule
from tests.helpers.record import SERVER, servers_only, where
from tests.helpers.reminding import CHICAGO, apply, body
from tests.helpers.turns import new_turn

pytestmark = servers_only
NOW = datetime(2027, 4, 21, 2, 0, tzinfo=UTC)


@pytest.fixture
def place(tmp_path: Path) -> str:
    return where(tmp_path / "record.db")


def set_many(database: Database, conversations: int, each: int) -> int:
    for number in range(conversations):
        for one in range(each):
            due = LocalTime.of(NOW + timedelta(seconds=one), CHICAGO)
            apply(database, Remind(f"look {one}", due, elapsed=True), conversation=f"c{number}", at=NOW)
    return conversations * each


def ring_to_the_end(place: str, begin: Barrier, sent: list[str]) -> None:
    """One program: rings what is due and sends it, until nothing is left."""
    database = open_database(place)
    schedule, outbox = Schedule(database, ReminderPolicy(at_once=1, again=timedelta(hours=1))), Outbox(database)
    begin.wait()
    later = NOW + timedelta(minutes=1)
    while schedule.tick(later, body) or outbox.next_due():
        messages = outbox.claim(f"{id(schedule)}", later, timedelta(seconds=30), limit=3)
        sent.extend(message.key for message in messages)
        outbox.mark_sent(*(message.key for message in messages))
    database.close()


def test_two_programs_ring_each_reminder_once(place: str) -> None:
    database, sent = open_database(place), list[str]()
    wanted, begin = set_many(database, 12, 3), Barrier(2)
    with ThreadPoolExecutor(2) as pool:
        for ended in [pool.submit(ring_to_the_end, place, begin, sent) for _ in range(2)]:
            ended.result(60)
    with database.read() as connection:
        rung = connection.execute(select(tables.ring.c.reminder, func.count()).group_by(tables.ring.c.reminder)).all()
    assert len(rung) == wanted
    assert {count for _, count in rung} == {1}
    assert len(sent) == len(set(sent)) == 12
    database.close()


def test_two_programs_may_start_on_an_empty_record_at_once(place: str) -> None:
    begin = Barrier(4)

    def start() -> None:
        begin.wait()
        open_database(place).close()

    with ThreadPoolExecutor(4) as pool:
        for ended in [pool.submit(start) for _ in range(4)]:
            ended.result(60)
    assert Journal(open_database(place)).append(new_turn(1)).seq == 1


def test_all_text_is_compared_by_its_characters(place: str) -> None:
    """The throw-away server sorts ``a`` before ``B``; ranges of keys rest on the order of characters."""
    database = open_database(place)
    for number, name in enumerate(("b", "B", "a", "Z", "b:1", "b;")):
        Journal(database).append(new_turn(1, conversation=name, name=f"u{number}"))
    with database.read() as connection:
        names = connection.execute(select(tables.conversation.c.id).order_by(tables.conversation.c.id)).scalars().all()
        assert list(names) == sorted(names) == ["B", "Z", "a", "b", "b:1", "b;"]
        columns = [
            (table, column["name"], getattr(column["type"], "collation", None))
            for table in inspect(connection).get_table_names()
            for column in inspect(connection).get_columns(table)
            if str(column["type"]).startswith(("TEXT", "VARCHAR"))
        ]
    plain = {(table.name, column.name) for table in tables.metadata.sorted_tables for column in table.columns}
    json = {(t, c) for t, c in plain if isinstance(tables.metadata.tables[t].c[c].type, Json)}
    assert len(columns) > 40
    assert {(table, name) for table, name, collation in columns if collation != "C"} == json
    database.close()


def test_a_reader_sees_one_moment_and_waits_for_nobody(place: str) -> None:
    database = open_database(place)
    journal = Journal(database)
    with database.read() as reading:
        count = select(func.count()).select_from(tables.turn)
        assert reading.execute(count).scalar() == 0
        journal.append(new_turn(1))
        assert reading.execute(count).scalar() == 0
    with database.begin():
        assert len(journal.turns("c1")) == 1
    database.close()


def test_a_writer_that_does_not_let_go_is_told(place: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("engine.database.BUSY_SECONDS", 0.2)
    first, second = open_database(place), open_database(place)
    with first.begin(), pytest.raises(DatabaseError, match="in use by another program"):
        Journal(second).append(new_turn(1))
    assert Journal(second).append(new_turn(1)).seq == 1
    first.close()
    second.close()


def test_records_in_other_schemas_do_not_wait_for_each_other(tmp_path: Path) -> None:
    north, south = (open_database(where(tmp_path / name)) for name in ("north", "south"))
    with north.begin():
        assert Journal(south).append(new_turn(1)).seq == 1
    assert Journal(north).last("c1") == 0
    north.close()
    south.close()


def test_a_reader_cannot_write(place: str) -> None:
    database = open_database(place)
    with pytest.raises(DatabaseError, match="read-only"), database.read() as connection:
        connection.execute(update(tables.version).values(version=1))
    database.close()


def test_a_character_that_the_server_cannot_hold_costs_no_turn(place: str) -> None:
    database = open_database(place)
    kept = Journal(database).append(new_turn(1, {"kind": "note", "text": "a\0b"}, text="row\0one"))
    assert (kept.heard, kept.facts[0]["text"]) == ("row\ufffdone", "a\0b")
    assert Journal(database).turn(kept.utterance_id) == kept
    database.close()


def test_a_record_of_a_newer_program_is_left_alone(place: str) -> None:
    database = open_database(place)
    with database.begin() as connection:
        connection.execute(update(tables.version).values(version=99))
    with pytest.raises(NewerDatabase):
        open_database(place)
    database.close()


def test_tables_of_another_program_are_left_alone(place: str) -> None:
    database = open_database(place)
    with database.begin() as connection:
        connection.exec_driver_sql("DROP TABLE rowhand_format")
    with pytest.raises(DatabaseError, match="data of another program"):
        open_database(place)
    database.close()


def test_a_line_that_was_cut_is_taken_up_again(place: str) -> None:
    database, other = open_database(place), open_database(place)
    with database.read() as connection:
        line = connection.exec_driver_sql("SELECT pg_backend_pid()").scalar_one()
    with other.begin() as connection:
        assert connection.exec_driver_sql("SELECT pg_terminate_backend(%s)", (line,)).scalar_one()
    assert Journal(database).append(new_turn(1)).seq == 1
    other.close()
    database.close()


def test_a_server_that_is_not_there_is_one_sentence() -> None:
    nowhere = address(SERVER).update_query_dict({"host": "/nowhere"}).set(password="hush")
    with pytest.raises(DatabaseError, match="cannot be reached: check that the database server runs") as told:
        open_database(nowhere.render_as_string(hide_password=False))
    assert "hush" not in str(told.value)


def test_the_doctor_says_how_the_record_stands(place: str) -> None:
    assert [(one.mark, one.told) for one in record.examine(place)] == [
        (FindingMark.NOTE, "the database server is empty")
    ]
    database = open_database(place)
    kept = Journal(database).append(new_turn(1))
    told = f"the database server answers, format {upgrades.current()}"
    assert [(one.mark, one.told) for one in record.examine(place)] == [(FindingMark.OK, told)]
    assert record.times(place) == record.RecordTimes(kept.said_at, None)
    database.close()


def test_the_doctor_says_that_no_server_answers() -> None:
    nowhere = address(SERVER).update_query_dict({"host": "/nowhere"}).render_as_string(hide_password=False)
    (found,) = record.examine(nowhere)
    assert found.mark is FindingMark.WRONG and "the database server cannot be used" in found.told
