"""A conversation opened at a snapshot stands where the fold of its facts leaves it; any other snapshot is as none."""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import select, update
from typer.testing import CliRunner

from bot.cli import app
from engine import assistant as assistants
from engine.assistant import Assistant
from engine.conversation_defaults import ConversationDefaults
from engine.crew.erasure import Erasure
from engine.crew.people import People
from engine.crew.roles import PersonRole
from engine.database import Database, open_database
from engine.dialog.facts.fold import fold
from engine.dialog.facts.state import ConversationState
from engine.errors import DatabaseError
from engine.facts import FORMAT
from engine.history.copies import backup as copies
from engine.history.copies.audit import audit
from engine.history.store import snapshot as snapshots
from engine.history.store import tables
from engine.history.store.journal import Journal
from engine.history.store.snapshot import Snapshot
from engine.history.store.turn_facts import facts_of
from engine.messages import Utterance
from tests.dialog.test_laws import EXAMPLES, OURS, TALKS, hear
from tests.golden.night import CONVERSATION, FOLDER
from tests.helpers.planting import NIGHT, plant
from tests.helpers.record import files_only, where
from tests.helpers.retelling import told_anew
from tests.helpers.talking import library
from tests.helpers.whole_record import LATER

FEW = 5
BEGINNING = ConversationState(language="en")


@pytest.fixture(autouse=True, scope="module")
def often() -> Iterator[None]:
    """A snapshot every few turns."""
    with pytest.MonkeyPatch.context() as patch, told_anew():
        patch.setattr(assistants, "EVERY", FEW)
        yield


def opened(database: Database, conversation: str = "c", rules: ConversationDefaults | None = None) -> ConversationState:
    """Where a program that has just started takes the conversation to be."""
    return Assistant(database, rules, library()).state(conversation)


def whole(database: Database, conversation: str = "c") -> ConversationState:
    """The fold of all its facts."""
    return fold(BEGINNING, [fact for turn in Journal(database).turns(conversation) for fact in facts_of(turn)])


def kept(database: Database, conversation: str = "c") -> Snapshot | None:
    with database.read() as connection:
        return snapshots.find(connection, conversation)


def written(database: Database) -> dict[str, int]:
    """The turn of every snapshot, whether it can be believed or not."""
    with database.read() as connection:
        return {row.conversation: row.seq for row in connection.execute(select(tables.snapshot))}


def put(database: Database, snapshot: Snapshot) -> None:
    with database.begin() as connection:
        snapshots.put(connection, "c", snapshot)


@pytest.fixture
def planted(database: Database) -> Iterator[Database]:
    """A shift under way."""
    plant(database, NIGHT[:9])
    yield database


@pytest.mark.parametrize("end", [0, 4, 9, 13, len(NIGHT)])
def test_a_night_opens_where_it_was(database: Database, end: int) -> None:
    plant(database, NIGHT[:end])
    found, last = kept(database), Journal(database).last("c")
    assert found is not None and last - FEW < found.seq <= last
    assert opened(database) == whole(database)
    assert audit(database).difference is None


def test_only_what_was_said_since_is_folded(planted: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    read: list[int] = []
    monkeypatch.setattr(assistants, "facts_of", lambda turn: read.append(turn.seq) or facts_of(turn))
    found, last = kept(planted), Journal(planted).last("c")
    assert opened(planted) == whole(planted)
    assert found is not None and read == list(range(found.seq + 1, last + 1))


@settings(OURS, max_examples=max(EXAMPLES // 2, 4))
@given(TALKS, st.integers(1, 4))
def test_whatever_was_said_opens_where_it_was(talk: tuple[str, list[str]], every: int) -> None:
    with pytest.MonkeyPatch.context() as patch, TemporaryDirectory() as folder:
        patch.setattr(assistants, "EVERY", every)
        database = open_database(str(Path(folder) / "a.db"))
        one = Assistant(database, None, library())
        for number, text in enumerate(["set up", "eight", *talk[1]]):
            hear(one, number, text)
            assert opened(database) == one.state("c") == whole(database)
            assert (kept(database) is not None) == (number + 1 >= every)
        assert audit(database).difference is None
        database.close()


@pytest.mark.parametrize("golden", sorted(FOLDER.glob("format-*")), ids=lambda path: path.name)
def test_a_golden_record_may_be_opened_at_any_of_its_turns(golden: Path, tmp_path: Path) -> None:
    database = open_database(shutil.copy(golden / "record.db", tmp_path / "record.db"))
    turns = Journal(database).turns(CONVERSATION)
    facts = [fact for turn in turns for fact in facts_of(turn)]
    state, place = BEGINNING, 0
    for turn in turns:
        mine = facts_of(turn)
        state, place = fold(state, mine), place + len(mine)
        made = Snapshot.taken(turn.seq, turn.utterance_id, BEGINNING, state)
        read = Snapshot.model_validate_json(made.model_dump_json(by_alias=True))
        assert read == made
        if turn.seq % 10 == 0:
            assert fold(read.state, facts[place:]) == whole(database, CONVERSATION)
    database.close()


def test_two_programs_on_one_conversation_stay_together(database: Database) -> None:
    first, second = (Assistant(database, None, library()) for _ in range(2))
    for number, text in enumerate(["set up", "eight", "thirty inches", "scratch that", "30 in", "zero", "help"]):
        hear(first if number % 2 else second, number, text)
    assert first.state("c") == second.state("c") == opened(database) == whole(database)


def test_what_was_answered_last_is_known_at_the_turn_of_the_snapshot(database: Database) -> None:
    one = Assistant(database, None, library())
    said = [hear(one, number, text) for number, text in enumerate(["set up", "eight", "30 in", "help", "status"])]
    found = Journal(database).opened("c")
    assert found is not None and (found[0].seq, found[1]) == (FEW, said[-1].reply.text)


# ---- not believed


def changed(found: Snapshot, **what: object) -> Snapshot:
    """The same with a state that no fact has made."""
    return found.model_copy(update={"state": ConversationState(language="es", misheard=9), **what})


@pytest.mark.parametrize(
    "other",
    [
        {"facts": FORMAT - 1},
        {"facts": FORMAT + 1},
        {"program": "another"},
        {"utterance": "another"},
        {"beginning": ConversationState(language="es")},
    ],
    ids=str,
)
def test_one_of_another_making_is_as_none(planted: Database, other: dict[str, object]) -> None:
    found = kept(planted)
    assert found is not None
    put(planted, changed(found, **other))
    assert written(planted) == {"c": found.seq}
    assert opened(planted) == whole(planted)


@pytest.mark.parametrize("seq", [1, 10_000])
def test_one_of_another_turn_is_as_none(planted: Database, seq: int) -> None:
    found = kept(planted)
    assert found is not None
    put(planted, changed(found, seq=seq))
    assert opened(planted) == whole(planted)


@pytest.mark.parametrize(
    "damage", [lambda body: body[:-1], lambda body: body.replace("en", "es"), lambda _: "", "x".join]
)
def test_a_damaged_one_is_as_none(planted: Database, damage: object) -> None:
    assert callable(damage)
    with planted.begin() as connection:
        body = connection.execute(select(tables.snapshot.c.body)).scalar_one()
        connection.execute(update(tables.snapshot).values(body=damage(body)))
    assert opened(planted) == whole(planted)
    assert audit(planted).difference is None


@pytest.mark.parametrize("state", [{"language": "en", "more": 1}, {"language": "en", "misheard": "often"}, None])
def test_a_state_of_another_shape_is_as_none(planted: Database, state: object) -> None:
    """Its checksum is right: it was written so."""
    with planted.begin() as connection:
        body = json.loads(connection.execute(select(tables.snapshot.c.body)).scalar_one())
        text = json.dumps(body | {"state": state})
        summed = hashlib.sha256(text.encode()).hexdigest()
        connection.execute(update(tables.snapshot).values(body=text, sha256=summed))
    assert opened(planted) == whole(planted)


def test_another_language_in_the_settings_begins_the_fold_anew(database: Database) -> None:
    one = Assistant(database, None, library())
    for number in range(FEW):
        hear(one, number, "help")
    assert opened(database, rules=ConversationDefaults(language="es")).language == "es"


def test_the_next_turn_writes_one_in_the_place_of_one_that_is_not_believed(planted: Database) -> None:
    found = kept(planted)
    assert found is not None
    put(planted, changed(found, program="another"))
    one = Assistant(planted, None, library())
    one.hear(Utterance(id="more", conversation="c", text="status", language="en", said_at=LATER))
    again = kept(planted)
    assert again is not None and again.seq == Journal(planted).last("c")
    assert opened(planted) == whole(planted)


def test_a_state_that_would_be_read_otherwise_is_not_kept(planted: Database) -> None:
    found = kept(planted)
    assert found is not None
    odd = found.state.model_copy(update={"misheard": "3"})
    put(planted, found.model_copy(update={"state": odd}))
    assert kept(planted) == found


def test_any_change_of_the_program_makes_another_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    home = tmp_path / "engine"
    home.mkdir()
    (home / "__init__.py").write_text("one = 1\n")
    monkeypatch.setattr(snapshots.engine, "__file__", str(home / "__init__.py"))
    before = snapshots.program.__wrapped__()
    (home / "__init__.py").write_text("one = 2\n")
    changed_one = snapshots.program.__wrapped__()
    (home / "more.py").write_text("")
    assert len({before, changed_one, snapshots.program.__wrapped__(), snapshots.program()}) == 4


# ---- named, and gone


def test_one_that_is_not_the_fold_is_named_and_thrown_away_by_the_check(tmp_path: Path) -> None:
    place = where(tmp_path / "record.db")
    database = open_database(place)
    plant(database, NIGHT[:9])
    found = kept(database)
    assert found is not None
    put(database, found.model_copy(update={"state": found.state.model_copy(update={"misheard": 7})}))
    assert opened(database) != whole(database), "this one is believed"
    assert f"the snapshot of c at turn {found.seq} is not what its facts" in str(audit(database).difference)
    check = ["record", "check", "--db", place]
    assert isinstance(CliRunner().invoke(app, check).exception, DatabaseError)
    assert CliRunner().invoke(app, check).exit_code == 0
    assert written(database) == {}
    assert opened(database) == whole(database)
    database.close()


def test_forgetting_a_person_leaves_none_of_what_they_had_a_part_in(database: Database) -> None:
    chat, talk = "telegram:7", "telegram:/planter"
    for name in (chat, talk, "telegram:9"):
        plant(database, NIGHT[:9], conversation=name)
    people = People(database)
    people.join(
        chat, people.invite("north", PersonRole.OPERATOR, LATER + timedelta(days=1), into=talk), LATER, "Somebody Real"
    )
    assert set(written(database)) == {chat, talk, "telegram:9"}
    Erasure(database).forget(chat, LATER)
    assert set(written(database)) == {"telegram:9"}
    assert opened(database, talk) == whole(database, talk)


@files_only
def test_a_copy_is_put_back_without_them(tmp_path: Path) -> None:
    database = open_database(tmp_path / "record.db")
    plant(database, NIGHT[:9])
    found = kept(database)
    assert found is not None
    put(database, changed(found))
    database.close()
    copy = tmp_path / "copy.db"
    assert "the snapshot of c" in str(copies.backup(tmp_path / "record.db", copy).difference)
    assert copies.restore(copy, tmp_path / "new.db", LATER).audit.difference is None
    new = open_database(tmp_path / "new.db")
    assert written(new) == {}
    assert opened(new) == whole(new)
    new.close()
