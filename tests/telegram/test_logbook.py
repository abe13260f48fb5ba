"""What the channel writes down: lines a program can read, and nothing that anybody said, is called or must hide."""

from __future__ import annotations

import asyncio
import logging
import re
import subprocess
import sys
from pathlib import Path

import pytest

from bot.telegram.logbook import LogLine
from tests.helpers.chat_bot import SECRET, bot_process, free_port
from tests.helpers.process import ROOT
from tests.helpers.telegram_server import TelegramServer
from tests.helpers.telegram_server.fault import DOWNLOAD, Cut, Gateway, Half
from tests.helpers.telegram_server.person import Person

VOICE = (ROOT / "demo/voice/yes.ogg").read_bytes()
PICTURE = b"\x89PNG\r\n\x1a\n" + b"\0\0\0\rIHDR" + (64).to_bytes(4, "big") * 2
VALUE = r'(?:"(?:[^"\\]|\\.)*"|[^\s="]+)'
PAIRS = re.compile(rf"time=\S+ level=[a-z]+ from=[\w.]+ event={VALUE}(?: \w+={VALUE})*")
TOKEN = "123456:not-a-real-token"


def record(name: str, said: str, *values: object, error: BaseException | None = None) -> logging.LogRecord:
    trace = (type(error), error, error.__traceback__) if error else None
    return logging.LogRecord(name, logging.WARNING, "client.py", 7, said, values, trace)


def test_an_event_and_its_values() -> None:
    line = LogLine().format(record("rowhand.telegram", "poll failed error=%s wait_s=%.1f", "TimedOut", 0.5))
    assert re.fullmatch(
        r"time=\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}\+00:00 level=warning from=rowhand.telegram "
        r'event="poll failed" error=TimedOut wait_s=0.5',
        line,
    )


@pytest.mark.parametrize("name", ["httpx", "telegram.Bot", "tornado.general", "asyncio", "py.warnings", "rowhander"])
def test_words_of_libraries_are_withheld(name: str) -> None:
    line = LogLine().format(record(name, "HTTP Request: POST https://x/bot%s/getMe", TOKEN))
    assert PAIRS.fullmatch(line), line
    assert TOKEN not in line and "https" not in line
    assert line.endswith("at=client:7")


def test_of_an_error_its_kind_and_place_are_written() -> None:
    try:
        raise ValueError(f"the row says {TOKEN}\nand more")
    except ValueError as error:
        line = LogLine().format(record("rowhand.telegram", "turn broke", error=error))
    assert PAIRS.fullmatch(line), line
    assert "error=ValueError at=test_logbook.py:" in line and TOKEN not in line


def test_an_end_that_nobody_expected_says_nothing_either() -> None:
    program = f"""
import asyncio, threading, warnings
from bot.telegram.logbook import write_log
write_log()
warnings.warn("{TOKEN}")
def fails(): raise ValueError("{TOKEN}")
thread = threading.Thread(target=fails); thread.start(); thread.join()
async def task():
    asyncio.ensure_future(asyncio.sleep(0)).add_done_callback(lambda _: fails())
    await asyncio.sleep(0.05)
asyncio.run(task())
fails()
"""
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=False, timeout=120
    )
    lines = done.stderr.splitlines()
    assert done.returncode == 1
    assert [line.split(" event=")[1].split(" at=")[0] for line in lines] == [
        '"words withheld"',
        '"thread ended" error=ValueError',
        '"words withheld"',
        '"ended" error=ValueError',
    ]
    assert TOKEN not in done.stderr + done.stdout


async def trouble(server: TelegramServer, person: Person) -> None:
    """Much that can be said and pressed, and lines that break meanwhile."""
    for word in ("/english", "set up", "forty furlongs", "/units metric"):
        person.says(word)
        await person.receives()
    four = person.says("four")
    await person.receives()
    server.faults.plan("sendMessage", Cut(done=True))
    server.faults.plan("getFile", Gateway(502))
    server.faults.plan(DOWNLOAD, Half())
    person.sends_voice(VOICE)
    while not any("twice" in one.text for one in person.received):
        await person.receives()
    seen = len(person.received)
    forged = person.calls_back("forged words", person.received[0].message_id)
    person.sends_photo(PICTURE, caption="my photo")
    person.edits(four, "five")
    while len(person.received) < seen + 2:
        await person.receives()
    while forged not in server.account.answered:
        await asyncio.sleep(0.02)


@pytest.mark.parametrize("webhook", [False, pytest.param(True, marks=pytest.mark.campaign)], ids=["polling", "webhook"])
async def test_a_conversation_with_all_its_troubles_leaves_no_words(tmp_path: Path, webhook: bool) -> None:
    log = tmp_path / "bot.log"
    async with TelegramServer() as server:
        person = server.user(40717, name="Evangelina", language="es")
        async with bot_process(server, tmp_path / "record.db", log, free_port() if webhook else None) as bot:
            await trouble(server, person)
            bot.terminate()
            assert await bot.wait() == 0
        told = [sentence for one in person.received for sentence in re.split(r"(?<=[.?!]) ", one.text)]
    written = log.read_text(encoding="utf-8")
    lines = written.splitlines()
    assert [line for line in lines if not PAIRS.fullmatch(line)] == []
    events = [re.search(r'event="(.*?)"', line)[1] for line in lines]  # type: ignore[index]
    assert {"started", "received", "send failed", "download failed", "stopped"} <= set(events)
    secrets = [server.token, server.token.split(":")[1], SECRET, "Evangelina", "40717", "furlongs", "forged", "photo"]
    assert len(told) > 8
    assert [word for word in (*secrets, *told) if word and word in written] == []
