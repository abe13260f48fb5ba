"""The chat server, and the real client of python-telegram-bot against it."""

from __future__ import annotations

from collections.abc import AsyncIterator

import pytest
from telegram import Bot
from telegram.request import HTTPXRequest

from tests.helpers.telegram_server import TelegramServer


@pytest.fixture
async def server() -> AsyncIterator[TelegramServer]:
    async with TelegramServer() as running:
        yield running


@pytest.fixture
async def bot(server: TelegramServer) -> AsyncIterator[Bot]:
    request = HTTPXRequest(read_timeout=30.0, connection_pool_size=8)
    polling = HTTPXRequest(read_timeout=30.0)
    client = Bot(
        server.token,
        base_url=server.base_url,
        base_file_url=server.base_file_url,
        request=request,
        get_updates_request=polling,
    )
    async with client:
        yield client
