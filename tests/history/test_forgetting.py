"""Who wants to be forgotten is, and the record of the farm stays as it was, called after nobody."""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import select, text, update
from sqlalchemy.exc import IntegrityError

from engine.crew.erasure import Erasure
from engine.crew.farm import Farm
from engine.crew.notifications import Notifications, usual
from engine.crew.people import People
from engine.crew.roles import PersonRole
from engine.database import Database, open_database
from engine.errors import DatabaseError
from engine.history.store import tables, upgrades
from engine.history.store.journal import Journal
from engine.queues.inbox import Inbox, Incoming
from engine.queues.outbox import DeliveryState, Outgoing, put
from engine.queues.outbox_message import PictureMessage, TextMessage
from engine.reminders.local_time import LocalTime
from engine.reminders.reminder import Remind
from tests.helpers.record import SERVER, files_only, where
from tests.helpers.turns import START, new_turn

FIRST = Path(__file__).parent / "version_1.sql"
CHAT = "telegram:123456789"


def everything(place: Path) -> str:
    """All that the record holds, as text."""
    if SERVER:
        with open_database(where(place)).read() as connection:
            every = tables.metadata.sorted_tables
            return "\n".join(str(row) for table in every for row in connection.execute(select(table)))
    with sqlite3.connect(place) as raw:
        raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        return "\n".join(raw.iterdump())


@pytest.fixture
def place(tmp_path: Path) -> Path:
    return tmp_path / "old.db"


@pytest.fixture
def old(place: Path) -> Database:
    """A record in which somebody has talked; a file began in the first format."""
    if not SERVER:
        with sqlite3.connect(place) as raw:
            raw.executescript(FIRST.read_text(encoding="utf-8"))
        raw.close()
    database = open_database(where(place))
    people, journal = People(database), Journal(database)
    for seq in (1, 2) if SERVER else ():
        journal.append(new_turn(seq))
    people.join(CHAT, people.invite("north", PersonRole.FOREMAN, START + timedelta(days=1)), START, "Somebody Real")
    member = people.member(CHAT)
    assert member is not None
    journal.append(new_turn(1, {"kind": "heard"}, conversation=CHAT, name="u1"))
    journal.append(new_turn(2, conversation=CHAT, name="u2"))
    Farm(database, member).hand_over("Another Name", START)
    Notifications(database, "UTC").want(CHAT, usual(PersonRole.FOREMAN, "UTC"))
    Inbox(database).put([Incoming(7, CHAT, 1, {"from": "Somebody Real"}, START)])
    with database.begin() as connection:
        put(connection, [Outgoing("waits", CHAT, TextMessage(text="rows"), START)])
    return database


def told(database: Database, talk: str) -> list[tuple[object, ...]]:
    return [(one.seq, one.utterance_id, one.heard, one.reply, one.facts) for one in Journal(database).turns(talk)]


def test_nothing_of_the_person_is_left_and_all_of_the_record(old: Database, place: Path) -> None:
    people, before = People(old), told(old, CHAT)
    other = people.join("telegram:5", people.invite("north", PersonRole.OWNER, START + timedelta(days=1)), START)
    assert other is not None
    Erasure(old).forget(CHAT, START, asked=7)
    assert people.member(CHAT) is None
    (talk,) = [one.conversation for one in Farm(old, other).planters() if one.conversation != "telegram:5"]
    assert told(old, talk) == before
    assert len(Journal(old).turns("c1")) == 2
    old.close()
    left = everything(place) + ("" if SERVER else place.read_bytes().decode("latin-1"))
    for gone in ("123456789", "Somebody Real", "Another Name"):
        assert gone not in left


def test_what_others_were_told_under_the_name_goes(old: Database) -> None:
    people = People(old)
    for number, farm in ((5, "north"), (6, "south")):
        people.join(f"telegram:{number}", people.invite(farm, PersonRole.OWNER, START + timedelta(days=1)), START)
    sent = [Outgoing("named", "telegram:5", TextMessage(text="Somebody Real: shift over."), START),
            Outgoing("handed", "telegram:5", PictureMessage(text="", drawing={"lines": ["with\nAnother Name"]}), START),
            Outgoing("other", "telegram:5", TextMessage(text="Somebody Really: shift over."), START),
            Outgoing("far", "telegram:6", TextMessage(text="Somebody Real: shift over."), START)]  # fmt: skip
    with old.begin() as connection:
        put(
            connection,
            [*sent, Outgoing("waiting", "telegram:5", TextMessage(text="Somebody Real: test run 1."), START)],
        )
        done = tables.outbox.c.key.in_([one.key for one in sent])
        connection.execute(update(tables.outbox).where(done).values(state=DeliveryState.SENT))
    Erasure(old).forget(CHAT, START)
    with old.read() as connection:
        mine = select(tables.outbox).where(tables.outbox.c.conversation.in_(["telegram:5", "telegram:6"]))
        left = {row.key: row.body for row in connection.execute(mine).all()}
    assert left.keys() == {"other", "far", "waiting"}
    assert left["waiting"]["forget"] is True


def test_doing_it_twice_does_no_more(old: Database) -> None:
    Erasure(old).forget(CHAT, START)
    Erasure(old).forget(CHAT, START)
    Erasure(old).forget("telegram:nobody", START)


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE turn SET heard = 'other' WHERE conversation = '{chat}'",
        "UPDATE turn SET conversation = 'c1' WHERE conversation = '{chat}'",
        "UPDATE turn SET conversation = 'telegram:/a', said_at = '2027' WHERE conversation = '{chat}'",
        "UPDATE turn SET conversation = 'telegram:/a', reply = '{{}}' WHERE conversation = '{chat}'",
        "UPDATE fact SET body = '{{}}'",
        "DELETE FROM turn WHERE conversation = '{chat}'",
    ],
)
def test_the_journal_still_refuses_every_other_change(old: Database, change: str) -> None:
    with old.begin() as connection:
        connection.execute(text("INSERT INTO conversation (id, created) VALUES ('telegram:/a', '2026')"))
    with pytest.raises((DatabaseError, IntegrityError), match="written once"), old.begin() as connection:
        connection.execute(text(change.format(chat=CHAT)))


def test_a_forgotten_turn_is_never_renamed_again(old: Database) -> None:
    Erasure(old).forget(CHAT, START)
    with pytest.raises((DatabaseError, IntegrityError), match="written once"), old.begin() as connection:
        connection.execute(text("UPDATE turn SET conversation = 'telegram:/b' WHERE conversation LIKE 'telegram:/%'"))


def test_who_shared_the_conversation_goes_on_in_it_with_its_reminders(old: Database) -> None:
    people, journal = People(old), Journal(old)
    code = people.invite("north", PersonRole.OPERATOR, START + timedelta(days=1), into=CHAT)
    people.join("telegram:5", code, START)
    look = Remind("hoppers", LocalTime.of(START + timedelta(hours=1), "UTC"))
    journal.append(replace(new_turn(3, conversation=CHAT, name="u3"), reminders=(look,)))
    Erasure(old).forget(CHAT, START)
    (other,) = [one for one in (people.member("telegram:5"),) if one]
    assert len(journal.turns(other.conversation)) == 3
    with old.read() as connection:
        rows = connection.execute(text("SELECT conversation, state FROM reminder")).all()
    assert [tuple(row) for row in rows] == [(other.conversation, "waiting")]


@files_only
def test_people_and_conversations_of_before_belong_to_their_farm(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with sqlite3.connect(place) as raw:
        raw.executescript(FIRST.read_text(encoding="utf-8"))
    raw.close()
    with monkeypatch.context() as early:
        early.setattr(upgrades, "STEPS", upgrades.STEPS[:3])
        database = open_database(place)
        with database.begin() as connection:
            for chat in ("c1", "new"):
                new = f"INSERT INTO person VALUES ('{chat}', 'north', 'operator', '2026-04-21T22:15:00.000000Z')"
                connection.execute(text(new))
            connection.execute(text("INSERT INTO invitation VALUES ('h', 'north', 'operator', '2026', 'c1', '2026')"))
        database.close()
    database = open_database(place)
    member = People(database).member("c1")
    assert member is not None and (member.conversation, member.farm) == ("c1", "north")
    assert len(Farm(database, member).turns("c1")) == 2
    assert {one.conversation for one in Farm(database, member).planters()} == {"c1", "new"}
    database.close()
