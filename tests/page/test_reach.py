"""Lost reach: what is said waits on the phone; each line is delivered once, in order, whoever is killed meanwhile."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from bot.page.visitors.phones import PhoneShelf
from engine.database import open_database
from engine.history.store.journal import Journal
from tests.helpers.browser import TestPhone
from tests.helpers.page_host import HERE, PageHost
from tests.helpers.process import ROOT, python
from tests.helpers.talking import beginnings


def test_what_is_said_out_of_reach_is_delivered_once_in_order(phone: TestPhone) -> None:
    phone.press("Set up", "#answers")
    phone.asked("How many rows?")
    phone.host.stop()
    phone.out_of_reach()
    phone.number("8")
    expect(phone.page.locator("#waiting li")).to_have_count(1)
    assert phone.page.locator("#answers").evaluate("one => one.inert"), "it is answered, though not delivered"
    phone.type("30 in")
    expect(phone.page.locator("#reach-count")).to_have_text("2 waiting here")
    said_at = time.time()
    time.sleep(2)
    phone.open_again()
    phone.out_of_reach()
    expect(phone.page.locator("#waiting li")).to_have_text(["Waiting: 8", "Waiting: 30 in"])
    phone.host.start()
    phone.in_reach()
    phone.asked("How is the meter dial marked?")
    expect(phone.page.locator("#waiting")).to_be_hidden()
    assert phone.host.heard() == ["set up", "8", "30 in"]
    last = phone.host.journal.turns("console")[-1].said_at.timestamp()
    assert abs(last - said_at) < 1.9, "it is told with the time at which it was said"


def test_an_answer_that_came_too_late_is_shown_and_not_kept(phone: TestPhone) -> None:
    phone.press("Set up", "#answers")
    phone.asked("How many rows?")
    phone.host.stop()
    phone.out_of_reach()
    phone.number("8")
    phone.host.elsewhere("twelve")
    phone.host.start()
    phone.in_reach()
    held = phone.page.locator(".held")
    expect(held).to_contain_text("Others went on talking")
    assert phone.host.heard() == ["set up", "twelve"]
    phone.asked("How far apart")
    phone.press("Drop it", "#held")
    expect(held).to_have_count(0)


def test_a_phone_that_is_not_known_any_more_says_so_and_keeps_what_waits(phone: TestPhone) -> None:
    phone.host.stop()
    phone.out_of_reach()
    phone.type("set up")
    phone.host.shelf.forget(1)
    phone.host.start()
    expect(phone.page.locator("#reach-text")).to_contain_text("does not know this phone")
    expect(phone.page.locator("#waiting li")).to_have_count(1)
    phone.page.goto(f"{phone.host.address}/pair?code={phone.host.code()}")
    phone.page.locator("button[type=submit]").tap()
    phone.asked("How many rows?")
    assert phone.host.heard() == ["set up"]
    assert all("403" in one for one in phone.troubles), "the browser notes that it was not let in"
    phone.troubles.clear()


@pytest.fixture
def killed(tmp_path: Path) -> Iterator[list[subprocess.Popen[str]]]:
    running: list[subprocess.Popen[str]] = []
    yield running
    for one in running:
        one.kill()
        one.wait()


def served(place: Path, port: int) -> subprocess.Popen[str]:
    """The real program; comes back when it can be asked."""
    command = python("-m", "bot.cli", "page", "--address", HERE, "--port", str(port), "--db", str(place))
    environment = os.environ | {"PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": "1"}
    made = subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.PIPE, text=True)
    assert made.stdout is not None
    for line in made.stdout:
        if line.startswith("one more phone"):
            return made
    raise AssertionError("the page was not served")


@pytest.mark.campaign
def test_a_server_that_is_killed_loses_nothing(
    browser: Browser, tmp_path: Path, killed: list[subprocess.Popen[str]]
) -> None:
    place, host = tmp_path / "record.db", PageHost(tmp_path / "other.db")
    port = host.port
    host.close()
    killed.append(served(place, port))
    shelf = PhoneShelf.of(str(place))
    host.shelf = shelf
    phone = TestPhone(browser, host)
    phone.pair(host.code())
    phone.press("Set up", "#answers")
    phone.asked("How many rows?")
    killed[0].send_signal(signal.SIGKILL)
    phone.number("8")
    phone.out_of_reach()
    phone.type("30 in")
    killed.append(served(place, port))
    phone.asked("How is the meter dial marked?")
    phone.close()
    record = open_database(str(place))
    assert [turn.heard for turn in Journal(record).turns("console")] == ["set up", "8", "30 in"]
    record.close()
    assert re.search(r"^[0-9a-f]{64}$", shelf.all()[0].token)


@pytest.mark.campaign
def test_a_recording_waits_like_a_line_and_is_heard(phone: TestPhone) -> None:
    phone.host.elsewhere(*beginnings()["prepared"], *beginnings()["catching"])
    before = phone.host.journal.last("console")
    phone.asked("Row 1?")
    phone.host.stop()
    phone.out_of_reach()
    phone.page.locator("#sound").set_input_files(ROOT / "demo" / "voice" / "row-three.ogg")
    expect(phone.page.locator("#waiting li")).to_have_text("Waiting: a recording")
    phone.host.start()
    phone.in_reach()
    expect(phone.page.locator("#waiting")).to_be_hidden(timeout=60_000)
    spoken = phone.host.journal.turns("console", before)
    assert [turn.spoken for turn in spoken] == [True] and spoken[0].utterance_id.startswith("page:1:")
    assert "three" in spoken[0].heard
