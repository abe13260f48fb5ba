"""``rowhand doctor`` against real records, models, clocks and chat servers, some of them broken."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
from collections.abc import AsyncIterator, Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from typer.testing import CliRunner

from bot import cli
from bot.doctor import chat, command, recognizers, record
from bot.doctor.finding import Finding, FindingMark, ok
from engine.database import open_database
from engine.history.store.upgrades import current
from tests.helpers.chat_bot import free_port
from tests.helpers.telegram_server import TelegramServer

NOW = datetime(2027, 5, 1, 4, tzinfo=UTC)
TOKEN = "123456:not-a-real-token"
FIRST = Path(__file__).parents[1] / "history/version_1.sql"


@pytest.fixture
async def server() -> AsyncIterator[TelegramServer]:
    async with TelegramServer() as running:
        yield running


@pytest.fixture(autouse=True)
def alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in [name for name in os.environ if name.startswith("ROWHAND_") and name != "ROWHAND_TELEGRAM_API"]:
        monkeypatch.delenv(name)
    monkeypatch.setenv("ROWHAND_SETTINGS", str(tmp_path / "settings.toml"))


@pytest.fixture
def place(tmp_path: Path) -> Path:
    file = tmp_path / "record.db"
    open_database(file).close()
    return file


def marks(findings: list[Finding], subject: str) -> list[tuple[FindingMark, str]]:
    return [(one.mark, one.told) for one in findings if one.subject == subject]


def about(place: Path | str, subject: str = "record") -> Finding:
    (found,) = [one for one in record.examine(str(place)) if one.subject == subject]
    return found


# ---- the command


def run(*arguments: str, environment: dict[str, str]) -> tuple[int, str]:
    done = CliRunner().invoke(cli.app, ["doctor", *arguments], env=environment)
    return done.exit_code, done.output


def test_a_whole_examination(place: Path) -> None:
    nowhere = f"http://127.0.0.1:{free_port()}"
    code, told = run(
        "--db", str(place), "--json", environment={"ROWHAND_TELEGRAM_URL": nowhere, "TZ": "America/Chicago"}
    )
    body = json.loads(told)
    found = {one["subject"]: one for one in body["findings"]}
    assert (code, body["wrong"]) == (0, 0)
    assert list(found) == [
        "settings",
        "dialogs",
        "folder",
        "disk",
        "record",
        "copies",
        "time zone",
        "hearing English",
        "speaking English",
        "hearing Spanish",
        "speaking Spanish",
        "sound",
        "network",
        "chat",
        "clock",
    ]
    assert found["hearing English"] | {"todo": ""} == {
        "subject": "hearing English",
        "mark": "ok",
        "told": "panel loads and listens",
        "todo": "",
    }
    assert found["network"]["mark"] == found["chat"]["mark"] == "note"


def test_what_is_wrong_has_a_line_and_a_code_and_no_secret(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    place.write_bytes(b"something else " * 500)
    monkeypatch.setattr(recognizers, "hears", lambda *_: ok("hearing", "not tried"))
    environment = {
        "ROWHAND_TELEGRAM_URL": f"http://127.0.0.1:{free_port()}",
        "ROWHAND_TELEGRAM_TOKEN": TOKEN,
        "ROWHAND_WEBHOOK_SECRET": "a-secret_of-the-test",
    }
    code, told = run("--db", str(place), environment=environment)
    assert code == 5
    assert f"wrong  record: {place} is not a record of this program (set ROWHAND_DATABASE to another file)" in told
    assert "wrong  network: the chat server cannot be reached: no line (ConnectError) (look at the network" in told
    assert told.endswith("2 wrong\n")
    assert TOKEN not in told and "a-secret" not in told


@pytest.mark.parametrize(
    ("name", "value", "told"),
    [
        ("TIME_ZONE", "Iowa", "time_zone: name a time zone like America/Chicago"),
        ("TELEGRAM_RATE", "none", "telegram_rate"),
        ("WEBHOOK_SECRET", "short-one", "webhook_secret: take 16 to 256"),
        ("ACCEPTANCE", "nowhere.yaml", "nowhere.yaml"),
    ],
)
def test_wrong_settings_end_it(name: str, value: str, told: str) -> None:
    code, printed = run(environment={f"ROWHAND_{name}": value})
    assert code == 5
    assert printed.startswith("wrong  settings: ") and told in printed
    assert "short-one" not in printed


def test_a_look_that_breaks_is_a_finding(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def breaks(*_: object) -> Finding:
        raise RuntimeError(TOKEN)

    for name in ("hears", "speaks", "devices"):
        monkeypatch.setattr(recognizers, name, breaks)
    monkeypatch.setattr(chat, "examine", breaks)
    found = list(command.examine(str(place)))
    assert marks(found, "doctor") == [(FindingMark.WRONG, "a look failed: RuntimeError")] * 6
    assert marks(found, "clock")[0][0] is FindingMark.OK


def test_a_settings_file_with_a_secret_is_nobody_elses(tmp_path: Path) -> None:
    file = tmp_path / "settings.toml"
    file.write_text(f'telegram_token = "{TOKEN}"\n')
    for mode, mark in ((0o644, FindingMark.NOTE), (0o600, FindingMark.OK)):
        file.chmod(mode)
        (found,) = command._file()
        assert found.mark is mark
        assert TOKEN not in str(found)
    file.write_text('language = "es"\n')
    file.chmod(0o644)
    assert next(command._file()).mark is FindingMark.OK


# ---- the record


def test_a_record_is_looked_at_and_not_changed(place: Path) -> None:
    before = place.read_bytes()
    assert about(place) == ok("record", f"{place} opens and can be written, format {current()}")
    assert place.read_bytes() == before
    assert about(f"sqlite:///{place}") == ok("record", f"the database server answers, format {current()}")


def test_a_record_that_is_not_there_is_not_made(tmp_path: Path) -> None:
    missing = tmp_path / "far/away/record.db"
    assert about(missing).mark is FindingMark.NOTE
    assert about(missing, "folder") == ok("folder", f"{tmp_path} can be written")
    assert list(tmp_path.iterdir()) == []


def test_an_older_record_is_told_and_not_brought_up(tmp_path: Path) -> None:
    old = tmp_path / "old.db"
    with sqlite3.connect(old) as file:
        file.executescript(FIRST.read_text(encoding="utf-8"))
    file.close()
    assert about(old).mark is FindingMark.NOTE
    assert "format 1" in about(old).told
    assert record.times(str(old)) is None


def _newer(place: Path) -> None:
    with sqlite3.connect(place) as file:
        file.execute("UPDATE rowhand_format SET version = 99")
    file.close()


def _foreign(place: Path) -> None:
    place.unlink()
    with sqlite3.connect(place) as file:
        file.execute("CREATE TABLE other (id INTEGER)")
    file.close()


def _torn(place: Path) -> None:
    content = bytearray(place.read_bytes())
    content[4096 : 4096 * 6] = b"\x77" * 4096 * 5
    place.write_bytes(bytes(content))


def _folder(place: Path) -> None:
    place.unlink()
    place.mkdir()


@pytest.mark.parametrize(
    ("breaks", "told"),
    [
        (_newer, "has format 99"),
        (_foreign, "holds the data of another program"),
        (_torn, "is damaged"),
        (_folder, "is a folder"),
    ],
)
def test_broken_records(place: Path, breaks: Callable[[Path], None], told: str) -> None:
    breaks(place)
    found = about(place)
    assert found.mark is FindingMark.WRONG and told in found.told and found.todo


def test_a_record_that_another_program_holds(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(record, "BUSY_SECONDS", 0.1)
    holder = sqlite3.connect(place, isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    assert "held by another program" in about(place).told
    holder.close()
    assert about(place).mark is FindingMark.OK


def test_a_folder_that_takes_nothing(place: Path) -> None:
    assert about("/proc/rowhand/record.db", "folder").mark is FindingMark.WRONG
    assert about(place, "folder").mark is FindingMark.OK


@pytest.mark.parametrize(
    ("free", "mark"), [(10**6, FindingMark.WRONG), (10**8, FindingMark.NOTE), (10**10, FindingMark.OK)]
)
def test_free_space(place: Path, free: int, mark: FindingMark, monkeypatch: pytest.MonkeyPatch) -> None:
    real = shutil.disk_usage(place)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: real._replace(free=free))
    assert about(place, "disk").mark is mark


@pytest.mark.parametrize("url", ["postgresql+nothing://me:pass-word@db/x", "://", "sqlite:////nowhere/at/all.db"])
def test_an_address_that_cannot_be_used(url: str) -> None:
    found = about(url)
    assert found.mark is FindingMark.WRONG and "pass-word" not in str(found)
    assert record.times(url) is None
