"""Records that earlier releases wrote on a server are brought up to date there, and nothing in them is lost.

Each ``format-N.sql.gz`` is what the release that wrote this format left on a server: a planter half set up, a reminder
that rang and one that waits, an update that waits, and a person who joined.
"""

from __future__ import annotations

import gzip
import re
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path
from threading import Barrier
from typing import Any

import pytest
from sqlalchemy import Connection, create_engine, inspect, select, text, update

from engine.assistant import Assistant
from engine.crew.people import People
from engine.crew.roles import PersonRole
from engine.database import Database, address, open_database
from engine.errors import DatabaseError
from engine.history.store import tables, upgrades
from engine.history.store.journal import Journal
from engine.queues.inbox import Inbox
from engine.queues.outbox import Outbox
from engine.reminders.schedule import Schedule
from tests.helpers.record import servers_only, where
from tests.helpers.reminding import EVENING, body
from tests.helpers.turns import utterance

pytestmark = servers_only
FILES = sorted(Path(__file__).parent.glob("format-*.sql.gz"))
TRIGGERS = """SELECT pg_get_triggerdef(t.oid) AS done FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid
    WHERE NOT t.tgisinternal AND c.relnamespace = current_schema()::regnamespace"""
_CAST = re.compile(r"\((\w+\.\w+)\)::text")
OTHER_DIALOGS = 6
"""The format at which dialogs were written otherwise: what was open then cannot be continued, and it is said so."""
LEASE = timedelta(minutes=1)


def load(place: str, file: Path) -> None:
    """What a release left, in the schema of a test."""
    engine = create_engine(address(place))
    with engine.begin() as connection:
        driver: Any = connection.connection.driver_connection
        driver.execute(gzip.decompress(file.read_bytes()).decode())
    engine.dispose()


def number_of(file: Path) -> int:
    return int(file.name.removeprefix("format-").removesuffix(".sql.gz"))


@pytest.fixture
def place(tmp_path: Path) -> str:
    return where(tmp_path / "record.db")


@pytest.fixture(params=FILES, ids=lambda file: str(number_of(file)))
def release(request: pytest.FixtureRequest) -> Path:
    file: Path = request.param
    return file


@pytest.fixture
def old(release: Path, place: str) -> str:
    load(place, release)
    return place


def rows(place: str) -> dict[str, list[dict[str, object]]]:
    """Every row of every table, by the columns that are there."""
    engine = create_engine(address(place))
    with engine.connect() as connection:
        found = {
            table: [dict(row) for row in connection.execute(text(f'SELECT * FROM "{table}" ORDER BY 1')).mappings()]
            for table in inspect(connection).get_table_names()
        }
    engine.dispose()
    return found


def shape(database: Database) -> dict[str, object]:
    """Columns with their collations, keys and indexes of every table, and what it refuses. Text without a length is the
    same to a server by either name."""
    with database.read() as connection:
        schema = connection.execute(text("SELECT current_schema()")).scalar_one()
        found = [_CAST.sub(r"\1", row.done).replace(f"{schema}.", "") for row in connection.execute(text(TRIGGERS))]
        triggers = sorted(found)
        return {"triggers": triggers} | {
            table: _table(connection, table) for table in inspect(connection).get_table_names()
        }


def _counted(column: Any) -> bool:
    """Whether the server gives the numbers."""
    return str(column["default"]).startswith("nextval")


def _table(connection: Connection, table: str) -> tuple[object, ...]:
    seen = inspect(connection)
    columns = {
        one["name"]: (str(one["type"]).replace("VARCHAR COLLATE", "TEXT COLLATE"), one["nullable"], _counted(one))
        for one in seen.get_columns(table)
    }
    return (
        columns,
        seen.get_pk_constraint(table)["constrained_columns"],
        sorted(
            (str(one["name"]), tuple(one["column_names"]), str(one["dialect_options"]))
            for one in seen.get_indexes(table)
        ),
        sorted(tuple(one["column_names"]) for one in seen.get_unique_constraints(table)),
        sorted((tuple(one["constrained_columns"]), one["referred_table"]) for one in seen.get_foreign_keys(table)),
    )


def test_there_is_a_record_of_every_format_that_was_written_on_a_server() -> None:
    assert [number_of(file) for file in FILES] == [*range(upgrades.FIRST_ON_SERVER, upgrades.current())]


def test_an_old_record_becomes_what_a_new_one_is(old: str, tmp_path: Path) -> None:
    upgraded, fresh = open_database(old), open_database(where(tmp_path / "fresh.db"))
    assert shape(upgraded) == shape(fresh)
    upgraded.close()
    fresh.close()


def test_no_row_of_an_old_record_is_lost_or_changed(old: str) -> None:
    before = rows(old)
    open_database(old).close()
    after = rows(old)
    assert sum(map(len, before.values())) > 20
    assert before.pop("rowhand_format") != after.pop("rowhand_format") == [{"version": upgrades.current()}]
    for table, kept in before.items():
        assert [row | one for row, one in zip(after[table], kept, strict=True)] == after[table], table


def test_an_old_record_goes_on_in_everything_that_it_keeps(release: Path, old: str) -> None:
    database = open_database(old)
    assistant, last = Assistant(database), Journal(database).last("c1")
    turn = assistant.hear(utterance("later", "five pounds an acre", minutes=60), ["c1"])
    assert turn.seq == last + 1
    told = "can no longer be continued; its record is kept" if number_of(release) == OTHER_DIALOGS else "5 lb/acre"
    assert told in turn.reply.text
    rings = Schedule(database).tick(EVENING + timedelta(minutes=91), body)
    assert {one.reminder.name for ring in rings for one in ring.items} == {"hoppers", "seed"}
    outbox, now = Outbox(database), datetime.now(UTC)
    assert {one.conversation for one in outbox.claim("w1", now, LEASE, 100)} == {"c1"}
    (update_,) = Inbox(database).take("w1", now, LEASE, slow=False, most=10)
    Inbox(database).done(update_.update_id, now)
    assert Inbox(database).waiting() == ()
    member = People(database).member("telegram:1")
    assert member and member.role is PersonRole.FOREMAN
    database.close()


def test_several_programs_may_open_an_old_record_at_once(old: str) -> None:
    begin = Barrier(3)

    def start() -> None:
        begin.wait()
        open_database(old).close()

    with ThreadPoolExecutor(3) as pool:
        for ended in [pool.submit(start) for _ in range(3)]:
            ended.result(60)
    assert rows(old)["rowhand_format"] == [{"version": upgrades.current()}]


def fail(connection: Connection) -> None:
    connection.execute(text("CREATE TABLE half (id INTEGER)"))
    connection.execute(text("INSERT INTO nowhere VALUES (1)"))


def test_a_step_that_fails_leaves_the_last_good_format(old: str, monkeypatch: pytest.MonkeyPatch) -> None:
    base = upgrades.current()
    with monkeypatch.context() as patched:
        patched.setattr(upgrades, "STEPS", (*upgrades.STEPS, fail))
        with pytest.raises(DatabaseError, match="nowhere"):
            open_database(old)
    found = rows(old)
    assert found["rowhand_format"] == [{"version": base}]
    assert "half" not in found
    assert Journal(open_database(old)).last("c1") == 9


@pytest.mark.parametrize("number", [1, 5])
def test_a_format_that_no_release_wrote_on_a_server_is_refused_in_a_sentence(place: str, number: int) -> None:
    database = open_database(place)
    with database.begin() as connection:
        connection.execute(update(tables.version).values(version=number))
    before = rows(place)
    with pytest.raises(DatabaseError, match=f"format {number}, which no release wrote on a server: .* untouched"):
        open_database(place)
    assert rows(place) == before
    with database.read() as connection:
        assert connection.execute(select(tables.version.c.version)).scalar_one() == number
    database.close()
