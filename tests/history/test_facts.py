"""Stored facts have a format: earlier ones are brought up, others end in one plain sentence."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from bot.cli import app, exit_code
from engine.assistant import Assistant
from engine.database import Database, open_database
from engine.dialog.facts.events import Cancelled, Finished, Kept, Started
from engine.dialog.schema.slot_roles import ChosenOption, Phase, Role
from engine.errors import DatabaseError, UnreadableFact
from engine.facts import FORMAT, STEPS, read_fact, write_fact
from engine.history.store.journal import Journal, NewTurn
from engine.messages import Reply, Utterance
from tests.helpers.planting import EVENING, plant

AT = datetime(2026, 4, 21, 18, tzinfo=UTC)
BAD: dict[str, dict[str, Any]] = {
    "unknown kind": {"kind": "dreamt", "format": FORMAT},
    "wrong shape": {"kind": "kept", "format": FORMAT, "slot": 3},
    "newer format": {"kind": "heard", "format": FORMAT + 1},
    "no number": {"kind": "heard", "format": "two"},
    "first release, wrong shape": {"kind": "started", "dialog": 3},
}


def test_a_fact_is_written_with_the_present_format() -> None:
    assert write_fact(Kept(slot="a", run=1, value=2, said="two"))["format"] == FORMAT
    assert sorted(STEPS) == list(range(1, FORMAT))


def test_the_second_format_says_what_a_dialog_of_the_first_release_was_for() -> None:
    old: dict[str, object] = {"kind": "started", "dialog": "put-away", "script": "abc"}
    new = read_fact(old)
    assert isinstance(new, Started)
    assert new.phase is Phase.STORAGE
    assert new.records[Role.GAP] == "gap"
    assert new.records[Role.LOCKED] == ChosenOption.model_validate({"of": "locked", "is": "safe"})
    assert "phase" not in old
    assert read_fact({"kind": "finished", "dialog": "test-run"}) == Finished(dialog="test-run", phase=Phase.CALIBRATION)
    assert read_fact({"kind": "cancelled", "dialog": "shift"}) == Cancelled(dialog="shift", phase=Phase.SHIFT)
    assert read_fact({"kind": "started", "dialog": "my-own", "script": "abc"}) == Started(dialog="my-own", script="abc")


@pytest.mark.parametrize("dialog", ["set-up", "put-away"])
def test_a_fact_that_was_written_is_read_as_it_was(dialog: str) -> None:
    fact = read_fact({"kind": "started", "dialog": dialog, "script": "abc"})
    assert read_fact(write_fact(fact)) == fact


@pytest.mark.parametrize("body", BAD.values(), ids=BAD)
def test_a_fact_that_cannot_be_read_is_a_failure_of_the_record(body: dict[str, Any]) -> None:
    with pytest.raises(UnreadableFact) as raised:
        read_fact(body)
    assert isinstance(raised.value, DatabaseError)
    assert exit_code(raised.value) == 5
    assert raised.value.kind == body["kind"]


def spoiled(place: Path, body: dict[str, Any]) -> Database:
    """A record of two conversations, one with a turn that cannot be read behind a night."""
    database = open_database(str(place))
    for talk, more in (("good", 0), ("bad", 1)):
        plant(database, begun=EVENING + timedelta(days=more), conversation=talk)
    journal = Journal(database)
    heard = Utterance(id="odd", conversation="bad", text="odd", language="en", said_at=AT)
    journal.append(NewTurn("bad", journal.last("bad") + 1, heard, Reply(text=""), (body,)))
    return database


def test_the_rest_of_a_record_is_told_and_what_cannot_be_read_is_named(tmp_path: Path) -> None:
    database = spoiled(tmp_path / "r.db", BAD["newer format"])
    seq = Journal(database).last("bad")
    with pytest.raises(UnreadableFact, match=f"turn {seq} of bad cannot be read") as raised:
        Assistant(database).state("bad")
    assert "\n" not in str(raised.value)
    assert Assistant(database).state("good").book.values
    found = CliRunner().invoke(app, ["record", "shifts", "--db", str(tmp_path / "r.db"), "--json"])
    assert len(found.stdout.splitlines()) == 2
    assert isinstance(found.exception, DatabaseError)
    assert f"turn {seq} of bad" in str(found.exception)
