"""The whole channel in this process against the chat server of the tests, over real HTTP."""

from __future__ import annotations

from collections.abc import AsyncIterator
from pathlib import Path

import pytest

from bot.settings import Settings
from engine.database import Database, open_database
from tests.helpers.chat_bot import settings_for, started
from tests.helpers.record import where
from tests.helpers.telegram_server import TelegramServer


@pytest.fixture
async def server() -> AsyncIterator[TelegramServer]:
    async with TelegramServer() as running:
        yield running


@pytest.fixture
def place(tmp_path: Path) -> Path:
    return tmp_path / "record.db"


@pytest.fixture
def settings(server: TelegramServer, place: Path) -> Settings:
    return settings_for(server, place)


@pytest.fixture
async def running(settings: Settings) -> AsyncIterator[None]:
    """A channel that runs for the length of a test."""
    async with started(settings):
        yield


@pytest.fixture
def database(place: Path) -> Database:
    return open_database(where(place))
