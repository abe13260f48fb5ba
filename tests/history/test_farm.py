"""What a member reaches: their own farm, whatever they name."""

from __future__ import annotations

from datetime import timedelta

import pytest

from engine.crew.farm import Farm
from engine.crew.people import Member, People
from engine.crew.roles import MAY, Act, PersonRole
from engine.database import Database
from engine.history.store.journal import Journal
from engine.queues.outbox import DeliveryState, Outbox, Outgoing, put
from engine.queues.outbox_message import TextMessage
from tests.helpers.turns import START, new_turn

DAY = timedelta(days=1)


@pytest.fixture
def people(database: Database) -> People:
    return People(database)


def joined(
    people: People, chat: str, farm: str, role: PersonRole = PersonRole.OPERATOR, into: str | None = None
) -> Member:
    member = people.join(chat, people.invite(farm, role, START + DAY, into), START, chat.upper())
    assert member is not None
    return member


def test_what_each_role_may_do_grows_with_the_role() -> None:
    assert MAY[PersonRole.OPERATOR] < MAY[PersonRole.FOREMAN] < MAY[PersonRole.OWNER] == set(Act)


def test_a_conversation_of_another_farm_is_not_there(people: People, database: Database, journal: Journal) -> None:
    north, south = joined(people, "x:1", "north"), joined(people, "x:2", "south", PersonRole.OWNER)
    journal.append(new_turn(1, conversation="x:1"))
    Farm(database, north).hand_over("Somebody", START)
    assert [one.conversation for one in Farm(database, north).planters()] == ["x:1"]
    assert len(Farm(database, north).turns("x:1")) == len(Farm(database, north).speakers("x:1")) == 1
    intruder = Farm(database, south)
    assert [one.conversation for one in intruder.planters()] == ["x:2"]
    assert not intruder.turns("x:1") and not intruder.calibrations("x:1") and not intruder.speakers("x:1")
    assert [one.chat for one in intruder.people()] == ["x:2"]


def test_who_comes_to_another_farm_leaves_the_old_words_behind(
    people: People, database: Database, journal: Journal
) -> None:
    joined(people, "x:1", "north")
    journal.append(new_turn(1, conversation="x:1"))
    people.leave("x:1")
    now = joined(people, "x:1", "south")
    assert now.conversation != "x:1"
    assert journal.turns(now.conversation) == Farm(database, now).turns("x:1") == ()
    people.leave("x:1")
    assert Farm(database, joined(people, "x:1", "north")).turns("x:1") == journal.turns("x:1")


def test_who_leaves_is_sent_nothing_more(people: People, database: Database) -> None:
    joined(people, "x:1", "north")
    with database.begin() as connection:
        put(connection, [Outgoing("late", "x:1", TextMessage(text="rows"), START)])
    people.leave("x:1")
    kept = Outbox(database).find("late")
    assert kept is not None and (kept.state, kept.why) == (DeliveryState.FAILED, "left")


def test_planters_of_a_farm_are_found_by_name_and_shared(people: People, database: Database) -> None:
    one, two = joined(people, "x:1", "north"), joined(people, "x:2", "north")
    stranger = joined(people, "x:3", "south")
    assert Farm(database, one).work_with("Big  one", START).conversation == "x:1"
    assert Farm(database, two).work_with("big ONE", START).conversation == "x:1"
    assert people.sharing("x:1") == ("x:1", "x:2")
    again = people.member("x:2")
    assert again is not None
    other = Farm(database, again).work_with("Small one", START).conversation
    assert other not in ("x:1", "x:2") and people.sharing(other) == ("x:2",)
    assert Farm(database, stranger).work_with("Big one", START).conversation == "x:3"


def test_a_second_phone_takes_part_in_the_conversation_of_the_first(people: People, database: Database) -> None:
    joined(people, "x:1", "north")
    second = joined(people, "x:2", "north", into="x:1")
    assert second.conversation == "x:1"
    assert people.sharing("x:1") == ("x:1", "x:2")


def test_alone_on_an_open_record_everybody_has_their_own(people: People, database: Database, journal: Journal) -> None:
    journal.append(new_turn(1, conversation="x:1"))
    me, other = people.seat("x:1"), people.seat("x:2")
    assert me is not None and other is not None
    assert len(Farm(database, me).turns("x:1")) == 1
    assert Farm(database, other).turns("x:1") == ()
    assert Farm(database, other).work_with("Mine", START).conversation == "x:2"
    assert not me.may(Act.INVITE) and not me.may(Act.PHONE) and me.may(Act.EXPORT)
    joined(people, "x:3", "north")
    assert people.seat("x:1") is None
