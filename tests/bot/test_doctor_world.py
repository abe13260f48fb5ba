"""The examination of clock, ears, voices and the chat's server."""

from __future__ import annotations

import asyncio
import os
import stat
from collections.abc import AsyncIterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import delete, insert
from typer.testing import CliRunner

from bot import cli
from bot.doctor import chat, recognizers, record, wall_clock
from bot.doctor.finding import Finding, FindingMark, ok
from bot.handsfree import sound
from bot.settings import Settings, load_settings
from engine.database import open_database
from engine.history.store import tables
from tests.helpers.chat_bot import free_port, settings_for
from tests.helpers.telegram_server import TelegramServer
from tests.helpers.telegram_server.fault import Gateway

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


# ---- the clock


def clocked(place: Path, now: datetime) -> Finding:
    return next(wall_clock.examine(now, record.times(str(place)), wall_clock.ClockWatch()))


def test_a_clock_before_what_is_known_is_wrong(place: Path) -> None:
    database = open_database(place)
    assert clocked(place, NOW) == ok("clock", "2027-05-01 04:00 UTC")
    with database.begin() as connection:
        connection.execute(insert(tables.heartbeat).values(id=1, seen_at=NOW))
    assert "last awake" in clocked(place, NOW - timedelta(hours=1)).told
    with database.begin() as connection:
        connection.execute(delete(tables.heartbeat))
        connection.execute(insert(tables.conversation).values(id="c", created=NOW))
        turn = {"conversation": "c", "seq": 1, "utterance_id": "u", "said_at": NOW, "language": "en", "heard": ""}
        connection.execute(insert(tables.turn).values(**turn, spoken=False, confidence=1, reply={}))
    database.close()
    assert "newest turn" in clocked(place, NOW - timedelta(hours=1)).told
    assert clocked(place, NOW).mark is clocked(place, NOW - timedelta(minutes=1)).mark is FindingMark.OK
    assert "before this program was made" in clocked(place, datetime(2020, 1, 1, tzinfo=UTC)).told


def test_a_jump_is_seen() -> None:
    steady = wall_clock.ClockWatch()
    assert len(list(wall_clock.examine(NOW, None, steady))) == 1
    jumped = list(wall_clock.examine(NOW, None, wall_clock.ClockWatch(steady.begun - 3600)))
    assert [one.mark for one in jumped] == [FindingMark.OK, FindingMark.NOTE]
    assert "+3600 s" in jumped[1].told


@pytest.mark.parametrize(
    ("zone", "mark"), [("America/Chicago", FindingMark.OK), ("UTC", FindingMark.NOTE), ("Etc/UTC", FindingMark.NOTE)]
)
def test_the_zone(zone: str, mark: FindingMark) -> None:
    found = wall_clock.zone(load_settings(time_zone=zone), NOW)
    assert found.mark is mark
    assert ("2027-04-30 23:00" if mark is FindingMark.OK else "2027-05-01 04:00") in found.told


# ---- hearing, speaking, sound


@pytest.mark.campaign
def test_a_model_that_is_broken_or_asked_for_and_missing(tmp_path: Path) -> None:
    broken = tmp_path / "models/es"
    (broken / "am").mkdir(parents=True)
    (broken / "am/final.mdl").write_bytes(b"no model")
    found = recognizers.hears(load_settings(models=tmp_path / "models"), "es")
    assert found.mark is FindingMark.WRONG and found.todo
    assert recognizers.hears(load_settings(models=tmp_path), "es").mark is FindingMark.OK
    assert recognizers.hears(load_settings(models=tmp_path, recognizer="pocketsphinx"), "es").mark is FindingMark.WRONG


def test_a_language_that_no_model_came_for_is_typed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(recognizers, "ProcessPoolExecutor", lambda *_: ThreadPoolExecutor(1))
    monkeypatch.setattr(recognizers.recognizer_choice, "SHIPPED", tmp_path)
    found = recognizers.hears(load_settings(models=tmp_path), "es")
    assert (found.mark, found.told) == (FindingMark.NOTE, "typed only, no model is there")


def test_voices(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert recognizers.speaks(load_settings(voice="none"), "en").mark is FindingMark.NOTE
    monkeypatch.setenv("PATH", str(tmp_path))
    assert recognizers.speaks(load_settings(voice="espeak-ng"), "en").mark is FindingMark.WRONG
    silent = tmp_path / "espeak-ng"
    silent.write_text("#!/bin/sh\nexit 1\n")
    silent.chmod(silent.stat().st_mode | stat.S_IXUSR)
    assert recognizers.speaks(load_settings(voice="espeak-ng"), "en").mark is FindingMark.WRONG


def test_without_portaudio_only_hands_free_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    def missing() -> None:
        raise sound.SoundMissing(sound.ADVICE)

    monkeypatch.setattr(recognizers, "portaudio", missing)
    (found,) = recognizers.devices()
    assert (found.mark, found.todo) == (FindingMark.NOTE, sound.ADVICE)


# ---- the chat


async def asked(settings: Settings) -> list[Finding]:
    return await asyncio.to_thread(lambda: list(chat.examine(settings)))


async def test_a_token_that_is_known(server: TelegramServer, place: Path) -> None:
    found = await asked(settings_for(server, place))
    assert marks(found, "network") == [(FindingMark.OK, "127.0.0.1 answers")]
    assert marks(found, "chat") == [(FindingMark.OK, "the token is that of @rowhand_test_bot")]
    assert marks(found, "webhook") == [(FindingMark.OK, "none, updates are asked for, 0 updates wait")]
    assert marks(found, "clock") == []


async def test_a_token_that_is_not_known(server: TelegramServer, place: Path) -> None:
    found = await asked(
        settings_for(server, place).model_copy(update={"telegram_token": Settings(telegram_token=TOKEN).telegram_token})
    )
    assert marks(found, "chat") == [(FindingMark.WRONG, "the server does not know this token")]
    assert TOKEN not in " ".join(map(str, found))


async def test_a_server_that_is_none_or_unwell(server: TelegramServer, place: Path) -> None:
    server.faults.plan("getMe", Gateway(502))
    assert marks(await asked(settings_for(server, place)), "chat") == [(FindingMark.WRONG, "the server answers 502")]
    server.faults.network_down = True
    wrong = [one for one in await asked(settings_for(server, place)) if one.mark is FindingMark.WRONG]
    assert [one.subject for one in wrong] == ["chat"]
    assert server.token not in str(wrong)


async def test_a_clock_that_differs_from_the_servers(
    server: TelegramServer, place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(chat, "parsedate_to_datetime", lambda _: datetime.now(UTC) - timedelta(minutes=5))
    ((mark, told),) = marks(await asked(settings_for(server, place)), "clock")
    assert mark is FindingMark.NOTE and told in (
        "300 s after that of the chat server",
        "301 s after that of the chat server",
    )


async def test_the_webhook_as_the_server_sees_it(server: TelegramServer, place: Path) -> None:
    mine = f"http://127.0.0.1:{free_port()}/updates"
    settings = settings_for(server, place, webhook_url=mine)
    assert marks(await asked(settings), "webhook") == [(FindingMark.OK, "is not set at the server now, 0 updates wait")]
    server.webhook.url = mine
    assert marks(await asked(settings), "webhook") == [(FindingMark.OK, "set, 0 updates wait")]
    server.webhook.error = (int(server.clock.now()), "Connection failed: ClientConnectorError")
    assert marks(await asked(settings), "webhook")[0][0] is FindingMark.NOTE
    server.webhook.url = "http://127.0.0.1:1/other"
    assert "another address" in marks(await asked(settings), "webhook")[0][1]
