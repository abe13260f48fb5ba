"""The page served in this process, and a browser for the tests of one module: it keeps a loop of its own."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from tests.helpers.browser import TestPhone, chromium
from tests.helpers.page_host import PageHost
from tests.helpers.talking import library


@pytest.fixture(autouse=True)
def _dialogs_read_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("engine.assistant.load_library", library)


@pytest.fixture
def host(tmp_path: Path) -> Iterator[PageHost]:
    running = PageHost(tmp_path / "record.db")
    yield running
    running.close()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as running:
        yield running


@pytest.fixture
def phone(browser: Browser, host: PageHost) -> Iterator[TestPhone]:
    """An operator's phone of 360 by 640 that is paired."""
    one = TestPhone(browser, host)
    one.pair(host.code())
    yield one
    assert one.troubles == []
    one.close()
