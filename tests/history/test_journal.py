from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import Executable, Table, delete, update
from sqlalchemy.exc import IntegrityError

from engine.database import open_database
from engine.errors import ConflictError, DatabaseError
from engine.history.store import tables
from engine.history.store.journal import Journal
from engine.queues.outbox import Outbox, Outgoing
from engine.queues.outbox_message import TextMessage
from tests.helpers.record import where
from tests.helpers.turns import START, new_turn

KEPT: dict[str, object] = {"kind": "kept", "slot": "catch", "row": 3, "value": {"value": 49.5, "unit": "g"}}
COMPUTED: dict[str, object] = {
    "kind": "computed",
    "formula": "target",
    "results": {"catch": 68.04},
    "inputs": ["ñ", None],
}


def test_a_turn_comes_back_as_it_went_in(journal: Journal) -> None:
    appended = journal.append(new_turn(1, KEPT, COMPUTED, scripts={"abc": ("test-run", "steps: []")}))
    assert appended == journal.turn("c1-1") == journal.turns("c1")[0]
    assert appended.facts == (KEPT, COMPUTED)
    assert (appended.seq, appended.heard, appended.reply.text) == (1, "row one forty nine", "heard row one forty nine")
    assert appended.said_at == START
    assert journal.script("abc") == "steps: []"


def test_what_was_never_said_is_not_there(journal: Journal) -> None:
    assert journal.turn("nobody") is None
    assert journal.turns("nobody") == ()
    assert journal.script("nothing") is None
    assert journal.last("nobody") == 0


def test_a_second_delivery_gives_the_stored_turn_and_writes_nothing(journal: Journal) -> None:
    first = journal.append(new_turn(1, KEPT, name="u1", sends=1))
    assert journal.append(new_turn(1, KEPT, name="u1", sends=1)) == first
    assert journal.append(new_turn(2, COMPUTED, name="u1", sends=1)) == first
    assert journal.turns("c1") == (first,)
    assert len(Outbox(journal.database).pending("c1")) == 1


@pytest.mark.parametrize("seq", [1, 3, 0])
def test_only_the_next_place_in_a_conversation_can_be_taken(journal: Journal, seq: int) -> None:
    journal.append(new_turn(1, name="u1"))
    with pytest.raises(ConflictError, match="another process moved c1 on"):
        journal.append(new_turn(seq, name="u2"))
    assert journal.turn("u2") is None


def test_turns_are_read_in_order_after_a_place(journal: Journal) -> None:
    for seq in range(1, 13):
        journal.append(new_turn(seq, KEPT, {**KEPT, "row": seq}))
        journal.append(new_turn(seq, conversation="c2"))
    assert [turn.seq for turn in journal.turns("c1", after=9)] == [10, 11, 12]
    assert [turn.facts[1]["row"] for turn in journal.turns("c1")] == list(range(1, 13))
    assert all(turn.facts == () for turn in journal.turns("c2"))


def test_all_of_a_turn_is_kept_or_none_of_it(journal: Journal) -> None:
    journal.append(new_turn(1, sends=1))
    taken = Outgoing("c1-1/0", "c1", TextMessage(text=""), START)
    broken = new_turn(2, KEPT, scripts={"abc": ("test-run", "")})
    with pytest.raises(DatabaseError, match="turn 2 of c1 cannot be kept"):
        journal.append(type(broken)(**{**vars(broken), "outgoing": (taken,)}))
    assert journal.last("c1") == 1
    assert journal.script("abc") is None


@pytest.mark.parametrize("table", [tables.turn, tables.fact], ids=str)
@pytest.mark.parametrize("statement", [lambda table: update(table).values(id=99), delete], ids=["change", "delete"])
def test_history_is_written_once(journal: Journal, table: Table, statement: Callable[[Table], Executable]) -> None:
    journal.append(new_turn(1, KEPT))
    with pytest.raises(IntegrityError, match="written once"), journal.database.begin() as connection:
        connection.execute(statement(table))
    assert journal.turns("c1")[0].facts == (KEPT,)


def test_a_pinned_script_stays_what_it_was(journal: Journal) -> None:
    journal.append(new_turn(1, scripts={"abc": ("test-run", "first")}))
    journal.append(new_turn(2, scripts={"abc": ("test-run", "second"), "def": ("set-up", "other")}))
    assert (journal.script("abc"), journal.script("def")) == ("first", "other")


numbers = st.integers(-(2**53), 2**53) | st.floats(allow_nan=False, allow_infinity=False)
plain = st.none() | st.booleans() | numbers | st.text(max_size=5)
values = plain | st.lists(plain, max_size=2) | st.dictionaries(st.text(max_size=5), plain, max_size=2)
facts = values.map(lambda value: {"kind": "kept", "slot": "catch", "value": value})


@settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.lists(facts, max_size=3), max_size=4))
def test_any_facts_come_back_equal_and_in_order(turns: list[list[dict[str, object]]]) -> None:
    database = open_database(":memory:")
    for seq, inside in enumerate(turns, 1):
        Journal(database).append(new_turn(seq, *inside))
    assert [list(turn.facts) for turn in Journal(database).turns("c1")] == turns
    database.close()


def test_history_outlives_the_program(tmp_path: Path) -> None:
    place = where(tmp_path / "record.db")
    first = open_database(place)
    kept = Journal(first).append(new_turn(1, KEPT, COMPUTED))
    first.close()
    second = open_database(place)
    assert Journal(second).turns("c1") == (kept,)
    second.close()
