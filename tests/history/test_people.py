"""Invitations that work once, and farms that never see each other."""

from __future__ import annotations

from datetime import timedelta

import pytest

from engine.crew.people import TRIES, Member, People
from engine.crew.roles import PersonRole
from engine.database import Database
from tests.helpers.turns import START

DAY = timedelta(days=1)


@pytest.fixture
def people(database: Database) -> People:
    return People(database)


def test_a_record_is_open_until_somebody_is_invited(people: People) -> None:
    assert not people.closed()
    people.invite("north", PersonRole.OWNER, START + DAY)
    assert people.closed()


def test_a_code_lets_one_person_in_once(people: People, database: Database) -> None:
    code = people.invite("north", PersonRole.OPERATOR, START + DAY)
    with database.read() as connection:
        assert code not in str(connection.exec_driver_sql("SELECT * FROM invitation").all())
    assert people.join("c1", code, START) == Member("c1", "north", PersonRole.OPERATOR, "c1")
    assert people.join("c1", code, START + 2 * DAY) == people.member("c1")
    assert people.join("c2", code, START) is None
    assert people.member("c2") is None


def test_a_code_has_an_end(people: People) -> None:
    code = people.invite("north", PersonRole.OPERATOR, START + DAY)
    assert people.join("c1", code, START + DAY) is None
    assert people.join("c1", code, START + DAY - timedelta(seconds=1)) is not None


def test_who_left_needs_a_new_code(people: People) -> None:
    code = people.invite("north", PersonRole.OPERATOR, START + DAY)
    people.join("c1", code, START)
    people.leave("c1")
    assert people.join("c1", code, START) is None
    assert people.join("c1", people.invite("south", PersonRole.FOREMAN, START + DAY), START) is not None


def test_codes_can_be_tried_a_few_times_an_hour(people: People) -> None:
    code = people.invite("north", PersonRole.OPERATOR, START + DAY)
    for number in range(TRIES):
        assert people.join("c1", f"guess {number}", START) is None
    assert people.join("c1", code, START) is None
    assert people.join("c1", code, START + timedelta(hours=1)) is not None
