"""The photo of a label: kept once with its product, in the record that travels, and never read."""

from __future__ import annotations

import json
import shutil
import zipfile
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import func, select
from sqlalchemy.exc import IntegrityError
from typer.testing import CliRunner

from bot.cli import app
from engine.crew.farm import labels
from engine.crew.people import People
from engine.crew.roles import PersonRole as Part
from engine.database import Database, open_database
from engine.dialog.schema.slot_roles import Role
from engine.document import Media
from engine.history.copies import audit, digest
from engine.history.copies.archive import MANIFEST, member, open_archive
from engine.history.copies.transfer import export_record, import_record
from engine.history.store import tables
from engine.history.store.journal import Journal, StoredTurn
from engine.history.store.scan import Scan, find
from engine.messages import Utterance
from tests.helpers.applying import EVENING, PRODUCT, Talk
from tests.helpers.archives import take
from tests.helpers.record import where
from tests.test_scan import picture

LABEL, OTHER = Scan(picture("JPEG"), Media.JPEG), Scan(b"%PDF-1.4 %%EOF", Media.PDF)


@pytest.fixture
def talk(database: Database) -> Talk:
    return Talk(database=database)


def send(talk: Talk, scan: Scan, caption: str = "", name: str = "photo") -> StoredTurn:
    said = Utterance(id=name, conversation=talk.chat, text=caption, language="en", said_at=EVENING)
    return talk.assistant.attach(said, scan)


def kept(database: Database) -> int:
    with database.read() as connection:
        return connection.execute(select(func.count()).select_from(tables.document)).scalar_one()


def told(talk: Talk) -> str:
    return talk.say("what is known by name", EVENING)


def test_a_photo_sent_while_a_product_is_told_is_kept_with_it(talk: Talk) -> None:
    talk.say_all(PRODUCT[:4], EVENING)
    turn = send(talk, LABEL)
    assert turn.reply.text.startswith("Terravel 15: document kept with it. Nothing was read from it.")
    assert "Active ingredient" in turn.reply.text or "active" in turn.reply.text, "what was asked is asked again"
    talk.say_all(["scratch that", *PRODUCT[3:]], EVENING)
    assert "Product: Terravel 15 (label on file)." in told(talk)
    entry = talk.assistant.state("c").book.things.of(Role.PRODUCT, "Terravel 15")
    assert entry is not None and entry.documents == (LABEL.document,)
    assert find(talk.database, LABEL.document.sha256) == LABEL
    before = talk.assistant.state("c")
    assert Talk(database=talk.database).assistant.state("c") == before, "the fold of the facts is the same"


def test_a_product_that_is_dropped_is_not_known_by_its_photo(talk: Talk) -> None:
    talk.say_all(PRODUCT[:-1], EVENING)
    send(talk, LABEL)
    talk.say_all(["no", "drop it"], EVENING)
    assert "Terravel" not in told(talk)
    assert list(labels(talk.database)) == []


def test_the_words_under_a_photo_name_the_product_also_in_another_dialog(talk: Talk) -> None:
    talk.say_all(PRODUCT, EVENING)
    talk.say("set up", EVENING)
    turn = send(talk, OTHER, "the label of TERRAVEL  15, back side")
    assert "Terravel 15: document kept" in turn.reply.text and "How many rows?" in turn.reply.text
    assert list(labels(talk.database)) == [("Terravel 15", OTHER.document)]


def test_the_same_photo_is_stored_once_and_a_turn_that_comes_twice_is_one(talk: Talk) -> None:
    talk.say_all(PRODUCT, EVENING)
    first = send(talk, LABEL, "Terravel 15")
    assert send(talk, LABEL, "Terravel 15") == first
    send(talk, LABEL, "Terravel 15", "again")
    entry = talk.assistant.state("c").book.things.of(Role.PRODUCT, "Terravel 15")
    assert entry is not None and entry.documents == (LABEL.document,)
    assert kept(talk.database) == 1


def test_a_photo_for_no_product_leaves_nothing(talk: Talk) -> None:
    talk.say_all(PRODUCT, EVENING)
    turn = send(talk, LABEL, "Terravel 150")
    assert turn.reply.text.startswith("Which product is it for?") and turn.facts == ()
    assert kept(talk.database) == 0


def test_a_renamed_product_keeps_its_photos_and_two_that_become_one_have_all(talk: Talk) -> None:
    talk.say_all(PRODUCT, EVENING)
    talk.say_all(["product", "Grano", *PRODUCT[2:]], EVENING)
    send(talk, LABEL, "Terravel 15", "one")
    send(talk, OTHER, "Grano", "two")
    talk.say_all(["rename", "Grano", "Terravel 15"], EVENING)
    entry = talk.assistant.state("c").book.things.of(Role.PRODUCT, "Terravel 15")
    assert entry is not None and set(entry.documents) == {LABEL.document, OTHER.document}


def test_another_planter_of_the_farm_knows_that_there_is_a_label(database: Database) -> None:
    people = People(database)
    for chat in ("x:1", "x:2"):
        assert people.join(chat, people.invite("north", Part.OPERATOR, EVENING + timedelta(days=1)), EVENING, chat)
    talk = Talk(database=database)
    talk.chat = "x:1"
    talk.say_all(PRODUCT[:-1], EVENING)
    send(talk, LABEL)
    talk.say("right", EVENING)
    talk.chat = "x:2"
    assert "Terravel 15 (label on file)" in told(talk)


def test_it_is_told_in_spanish(talk: Talk) -> None:
    talk.say_all([*PRODUCT, "español"], EVENING)
    assert send(talk, LABEL, "Terravel 15").reply.text.startswith("Terravel 15: documento guardado.")
    assert "Terravel 15 (etiqueta guardada)" in talk.say("qué conoce por nombre", EVENING)


def test_it_travels_with_the_record_and_an_archive_from_before_is_still_taken(talk: Talk, tmp_path: Path) -> None:
    talk.say_all(PRODUCT, EVENING)
    send(talk, LABEL, "Terravel 15")
    export_record(talk.database, tmp_path / "all.zip")
    there = open_database(where(tmp_path / "there.db"))
    take(tmp_path / "all.zip", there)
    assert find(there, LABEL.document.sha256) == LABEL
    with talk.database.read() as old, there.read() as new:
        assert digest.states(new) == digest.states(old) != {}
    earlier = open_database(where(tmp_path / "earlier.db"))
    with open_archive(_without_documents(tmp_path / "all.zip", tmp_path / "old.zip")) as archive:
        import_record(archive, earlier)
    assert len(Journal(earlier).turns("c")) == len(talk.turns()) and kept(earlier) == 0
    assert "is missing" in str(audit.audit(earlier).difference)
    there.close()
    earlier.close()


def _without_documents(place: Path, made: Path) -> Path:
    """The same as the first format of archives had it."""
    with zipfile.ZipFile(place) as old, zipfile.ZipFile(made, "w") as new:
        manifest = json.loads(old.read(MANIFEST))
        manifest["rowhand_archive"] = 1
        del manifest["tables"][tables.document.name]
        for name in old.namelist():
            if name not in (MANIFEST, member(tables.document)):
                new.writestr(name, old.read(name))
        new.writestr(MANIFEST, json.dumps(manifest))
    return made


def test_a_document_is_never_changed(talk: Talk) -> None:
    talk.say_all(PRODUCT, EVENING)
    send(talk, LABEL, "Terravel 15")
    with pytest.raises((IntegrityError, Exception), match="written once"), talk.database.begin() as connection:
        connection.execute(tables.document.update().values(content="AAAA"))


def test_the_command_keeps_a_file_and_gives_all_back(tmp_path: Path) -> None:
    place = str(tmp_path / "record.db")
    talk = Talk(database=open_database(place))
    talk.chat = "console"
    talk.say_all(PRODUCT, EVENING)
    talk.database.close()
    (tmp_path / "label.jpg").write_bytes(LABEL.content)
    (tmp_path / "words.txt").write_text("no photo")

    def run(*words: str) -> tuple[int, str]:
        done = CliRunner().invoke(app, ["record", *words, "--db", place])
        return done.exit_code, done.output + str(done.exception or "")

    assert "document kept" in run("label", str(tmp_path / "label.jpg"), "--product", "terravel 15")[1]
    for file, product, why in (
        ("words.txt", "Terravel 15", "is no whole JPEG, PNG or PDF"),
        ("label.jpg", "Unknown", "no product is known as Unknown"),
        ("missing.jpg", "Terravel 15", "cannot be read"),
    ):
        code, said = run("label", str(tmp_path / file), "--product", product)
        assert code != 0 and why in said
    listed = f"Terravel 15: JPEG, {len(LABEL.content)} bytes, Terravel-15-"
    assert run("labels")[1].startswith(listed) and not (tmp_path / "out").exists()
    for _ in range(2):
        assert run("labels", "--into", str(tmp_path / "out"))[1].startswith(listed)
    (written,) = (tmp_path / "out").iterdir()
    assert written.read_bytes() == LABEL.content and written.suffix == ".jpg"
    written.write_bytes(b"noted on it")
    code, told = run("labels", "--into", str(tmp_path / "out"))
    assert code != 0 and "is something else" in told and written.read_bytes() == b"noted on it"
    assert run("check")[0] == 0
    shutil.rmtree(tmp_path / "out")
