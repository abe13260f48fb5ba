"""What people and files bring that means no good: names, cells, pages, sounds, and who else can read what is kept."""

from __future__ import annotations

import io
import os
import re
import stat
import subprocess
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
import soundfile

from bot.lines import lines
from bot.photo_file import file_name
from bot.record import daily
from bot.record.daily import Rotation
from bot.settings import Settings
from bot.sheet.pages import pages
from bot.sheet.sheet import RowMark
from engine.crew.people import LONGEST_NAME, People, plain_name
from engine.crew.roles import PersonRole
from engine.database import open_database
from engine.document import Document, Media
from engine.errors import DatabaseError
from engine.history.export import written
from engine.history.store.journal import Journal
from speech.audio import MOST_SAMPLES, decode
from speech.errors import AudioError, AudioFault
from speech.synthesis.phrase_cache import _write as keep_phrase
from tests.helpers.process import ROOT
from tests.helpers.record import files_only
from tests.helpers.turns import new_turn
from tests.sheet.test_sheet import page, row

NOW = datetime(2027, 4, 21, 12, tzinfo=UTC)


# ---- names


@pytest.mark.parametrize(
    ("name", "kept"),
    [
        ("José  Ñandú", "José Ñandú"),
        ("\u202egrb\u202c\u2066x\u2069", "grbx"),
        ("An\u200bn\ufeff\u00ad", "Ann"),
        ("Ann\n/remove 1\r\0", "Ann/remove 1"),
        ("Ann\u2028Owner", "Ann Owner"),
        ("\u200f\u200e", ""),
        ("x" * 500, "x" * LONGEST_NAME),
    ],
)
def test_a_name_has_no_sign_that_nobody_sees(name: str, kept: str) -> None:
    assert plain_name(name) == kept


def test_who_joins_is_kept_by_a_plain_name(tmp_path: Path) -> None:
    database = open_database(tmp_path / "record.db")
    people = People(database)
    code = people.invite("north", PersonRole.OPERATOR, NOW + timedelta(days=1))
    joined = people.join("telegram:7", code, NOW, "\u202eeliforP\u202c\nOwner")
    assert joined and joined.name == "eliforPOwner"
    database.close()


@pytest.mark.parametrize("product", ["../../etc/passwd", "C:\\x", "/", "..", "a/b", "\u202egpj.x", "\0", "x" * 900])
def test_a_product_names_a_file_in_its_folder_and_no_other(product: str, tmp_path: Path) -> None:
    name = file_name(product, Document(sha256="0" * 64, media=Media.JPEG))
    assert name and len(name) <= 120
    assert (tmp_path / name).resolve().parent == tmp_path.resolve()
    assert set(name.removesuffix(".jpg")) <= set(name) - set("/\\.\0\u202e")


# ---- tables and pages


@pytest.mark.parametrize("cell", ["=1+1", "+1", "-cmd", "@SUM(A1)", "\t=1", "\r=1"])
def test_a_spreadsheet_runs_nothing_of_what_was_said(cell: str) -> None:
    assert written([{"product": cell}]).splitlines()[1].lstrip('"').startswith("'")


def test_a_page_holds_no_object_that_somebody_wrote_into_a_name() -> None:
    bad = "North) >> endobj 9 0 obj << /OpenAction << /S /JavaScript /JS (app.alert(1)) >> >> endobj (\\"
    sheet = page(row(1, 0.0, RowMark.ON_TARGET)).model_copy(update={"title": bad, "lines": (bad,)})
    content = pages(sheet)
    assert b"JavaScript" in content
    outside_of_texts = re.sub(rb"\((?:\\.|[^\\)])*\)", b"", content, flags=re.DOTALL)
    assert b"JavaScript" not in outside_of_texts
    assert b"/Type /Catalog" in outside_of_texts


# ---- sounds


@pytest.mark.parametrize("place", ["pipe", "/dev/zero", "folder"])
def test_what_is_no_file_is_not_waited_for(place: str, tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "folder").mkdir()
    with pytest.raises(AudioError) as caught:
        decode(tmp_path / place)
    assert caught.value.reason is AudioFault.UNREADABLE


def test_a_small_file_that_unpacks_to_a_huge_sound_is_refused() -> None:
    channels, rate = 8, 192_000
    seconds = MOST_SAMPLES // (channels * rate) + 2
    file = io.BytesIO()
    soundfile.write(file, np.zeros((seconds * rate, channels), np.int16), rate, format="FLAC")
    assert len(file.getvalue()) < 1_000_000
    with pytest.raises(AudioError) as caught:
        decode(file.getvalue())
    assert caught.value.reason is AudioFault.TOO_LONG


def test_a_byte_that_is_no_text_ends_nothing() -> None:
    typed = io.TextIOWrapper(io.BytesIO(b"spa\xf1ol\nset up\n"), encoding="utf-8", errors="surrogateescape")
    found = list(lines(typed))
    assert found == ["spa\ufffdol\n", "set up\n"]
    for line in found:
        line.encode("utf-8")


# ---- what others can read


@files_only
def test_a_record_and_what_stands_beside_it_are_their_owners_alone(tmp_path: Path) -> None:
    before = os.umask(0o022)
    try:
        database = open_database(tmp_path / "record.db")
        Journal(database).append(new_turn(1))
        modes = {file.name: stat.S_IMODE(file.stat().st_mode) for file in tmp_path.iterdir()}
        database.close()
    finally:
        os.umask(before)
    assert modes == {"record.db": 0o600, "record.db-wal": 0o600, "record.db-shm": 0o600}


def test_what_was_said_aloud_is_its_owners_alone(tmp_path: Path) -> None:
    keep_phrase(tmp_path / "said", b"sound")
    assert stat.S_IMODE((tmp_path / "said").stat().st_mode) == 0o600


def test_no_secret_is_given_on_a_command_line(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """What stands there, every program of the computer can read."""
    options = re.findall(r"--[a-z-]+", (ROOT / "bot/COMMANDS.md").read_text(encoding="utf-8"))
    assert "--db" in options
    assert not [name for name in options if any(word in name for word in ("token", "secret", "password"))]
    started = list[list[str]]()
    monkeypatch.setattr(subprocess, "Popen", lambda arguments, **_: started.append(arguments))
    settings = Settings(database=str(tmp_path / "record.db"), telegram_token="123456:hush-hush")  # type: ignore[arg-type]
    rotation = Rotation.of(settings)
    assert rotation
    with pytest.raises(AttributeError):  # there is no process to wait for
        daily.begin(rotation, tmp_path / "copy.db")
    assert started and "hush" not in " ".join(started[0])


# ---- the file goes away


@files_only
@pytest.mark.parametrize("moved", [False, True])
def test_a_record_that_is_gone_while_it_is_open_takes_no_turn(tmp_path: Path, moved: bool) -> None:
    place = tmp_path / "record.db"
    database = open_database(place)
    journal = Journal(database)
    journal.append(new_turn(1))
    for file in list(tmp_path.iterdir()):
        file.rename(tmp_path / f"away-{file.name}")
    with pytest.raises(DatabaseError, match="is gone: put it back"):
        journal.append(new_turn(2, name="u2"))
    if moved:
        for file in list(tmp_path.iterdir()):
            file.rename(tmp_path / file.name.removeprefix("away-"))
        assert journal.append(new_turn(2, name="u2")).seq == 2
    else:
        open_database(place).close()
        with pytest.raises(DatabaseError, match="another file than the one that was opened"):
            journal.append(new_turn(2, name="u2"))
    database.close()


@files_only
@pytest.mark.parametrize("name", ["a?b.db", "a%20b.db", "a?mode=memory.db", "a#b.db", "ñ 🌽.db"])
def test_a_record_has_the_name_that_was_given(name: str, tmp_path: Path) -> None:
    open_database(tmp_path / name).close()
    assert [file.name for file in tmp_path.iterdir()] == [name]
