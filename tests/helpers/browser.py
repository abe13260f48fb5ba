"""A real browser as a phone: Chromium of the system, looked at and touched as a hand does it.

On Debian and Ubuntu it comes with ``apt-get install chromium``; where that may be done, it is done once.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache

import pytest
from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect, sync_playwright

from tests.helpers.page_host import PageHost

NAMES = ("chromium", "chromium-browser")
FLAGS = ("--no-sandbox", "--disable-dev-shm-usage", "--disable-gpu", "--autoplay-policy=no-user-gesture-required")
PATIENCE_MS = 20_000
INSTALL_S = 900


@cache
def program() -> str | None:
    """Where Chromium is; it is installed where it is missing and this may be done."""
    found = next(filter(None, map(shutil.which, NAMES)), None)
    if found is None and os.geteuid() == 0 and shutil.which("apt-get"):
        environment = os.environ | {"DEBIAN_FRONTEND": "noninteractive"}
        for command in (["apt-get", "update"], ["apt-get", "install", "-y", "--no-install-recommends", "chromium"]):
            subprocess.run(command, env=environment, capture_output=True, timeout=INSTALL_S, check=False)
        found = next(filter(None, map(shutil.which, NAMES)), None)
    return found


@contextmanager
def chromium() -> Iterator[Browser]:
    where = program()
    if where is None:
        pytest.skip("there is no Chromium here (apt-get install chromium)")
    with sync_playwright() as player:
        browser = player.chromium.launch(executable_path=where, args=list(FLAGS))
        yield browser
        browser.close()


class TestPhone:
    """One phone that is paired with a host."""

    __test__ = False

    def __init__(
        self, browser: Browser, host: PageHost, *, width: int = 360, height: int = 640, dark: bool = False
    ) -> None:
        self.host = host
        self.context: BrowserContext = browser.new_context(
            viewport={"width": width, "height": height},
            has_touch=True,
            is_mobile=True,
            device_scale_factor=2,
            color_scheme="dark" if dark else "light",
        )
        self.context.set_default_timeout(PATIENCE_MS)
        self.page: Page = self.context.new_page()
        self.troubles: list[str] = []
        self.context.on("console", self._note)
        self.context.on("weberror", lambda error: self.troubles.append(str(error.error)))

    def _note(self, message: object) -> None:
        text = getattr(message, "text", "")
        if getattr(message, "type", "") == "error" and "ERR_" not in text and "WebSocket" not in text:
            self.troubles.append(text)

    def pair(self, code: str) -> None:
        self.page.goto(f"{self.host.address}/pair?code={code}")
        self.page.locator("button[type=submit]").tap()
        self.in_reach()

    def open_again(self) -> None:
        """As a phone whose browser was ended: the page is opened from what is kept of it."""
        self.page.close()
        self.page = self.context.new_page()
        self.page.goto(self.host.address)

    def in_reach(self) -> None:
        expect(self.page.locator("body")).to_contain_class("near", timeout=PATIENCE_MS)

    def out_of_reach(self) -> None:
        expect(self.page.locator("body")).to_contain_class("far", timeout=PATIENCE_MS)

    def press(self, label: str, within: str = "body") -> None:
        """Tap a button by the name that a reader of the screen gives it."""
        self.page.locator(within).get_by_role("button", name=label, exact=True).first.tap()

    def number(self, text: str) -> None:
        """Tap a number on the pad, and that it is to be written down."""
        names = {".": "Point" if self.language == "en" else "Punto"}
        for sign in text:
            self.press(names.get(sign, sign), "#answers")
        self.press("Write down" if self.language == "en" else "Anotar", "#answers")

    def type(self, text: str) -> None:
        """Type where words are asked for, else on the sheet that is for any line."""
        place = "#answers" if self.page.locator("#words").count() else "#sheet"
        if place == "#sheet":
            self.page.locator("#type").tap()
        self.page.locator(f"{place} input").fill(text)
        self.page.locator(f"{place} button[type=submit]").tap()

    @property
    def language(self) -> str:
        return self.page.locator("html").get_attribute("lang") or ""

    def asked(self, text: str) -> None:
        """Wait until this is part of what is asked."""
        expect(self.page.locator("#question")).to_contain_text(text, timeout=PATIENCE_MS)

    def told(self, text: str) -> None:
        expect(self.page.locator("#said")).to_contain_text(text, timeout=PATIENCE_MS)

    def tile(self, row: int) -> Locator:
        return self.page.locator(f".tile[data-row='{row}']")

    def close(self) -> None:
        self.context.close()
