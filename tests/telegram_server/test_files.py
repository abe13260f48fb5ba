"""getFile and the download: links, sizes, life time, half files."""

from __future__ import annotations

from pathlib import Path

import pytest
from telegram import Bot
from telegram.error import BadRequest, InvalidToken, NetworkError

from tests.helpers.telegram_server import TelegramServer
from tests.helpers.telegram_server.fault import DOWNLOAD, Cut, Gateway, Half, Silent

VOICE = (Path(__file__).parents[2] / "demo/voice/yes.ogg").read_bytes()


async def test_a_voice_note_comes_with_its_length_and_downloads_whole(server: TelegramServer, bot: Bot) -> None:
    server.user(5).sends_voice(VOICE)
    message = (await bot.get_updates())[0].message
    assert message
    assert message.voice
    assert message.voice.file_size == len(VOICE)
    file = await message.voice.get_file()
    assert bytes(await file.download_as_bytearray()) == VOICE


async def test_photo_and_document_download_whole(server: TelegramServer, bot: Bot) -> None:
    content = b"\x89PNG\r\n\x1a\n" + b"\0\0\0\rIHDR" + (64).to_bytes(4, "big") + (48).to_bytes(4, "big")
    server.user(5).sends_photo(content, caption="row three")
    server.user(5).sends_document(b"rows", "rows.txt", "text/plain")
    photo, document = [update.message for update in await bot.get_updates()]
    assert photo
    assert document
    assert (photo.caption, photo.photo[0].width) == ("row three", 64)
    assert document.document
    assert bytes(await (await document.document.get_file()).download_as_bytearray()) == b"rows"


async def test_an_unknown_or_too_big_file_is_refused(server: TelegramServer, bot: Bot) -> None:
    with pytest.raises(BadRequest, match="Wrong file_id"):
        await bot.get_file("nothing")
    server.user(5).sends_document(b"\0" * (20 * 2**20 + 1), "big.bin", "application/octet-stream")
    document = (await bot.get_updates())[0].message.document  # type: ignore[union-attr]
    assert document
    with pytest.raises(BadRequest, match="File is too big"):
        await document.get_file()


async def test_a_link_lives_an_hour(server: TelegramServer, bot: Bot) -> None:
    server.user(5).sends_voice(VOICE)
    voice = (await bot.get_updates())[0].message.voice  # type: ignore[union-attr]
    assert voice
    file = await voice.get_file()
    server.clock.forward(3601)
    with pytest.raises(InvalidToken):
        await file.download_as_bytearray()
    assert bytes(await (await voice.get_file()).download_as_bytearray()) == VOICE


@pytest.mark.parametrize("fault", [Half(), Cut(), Gateway(502), Silent(3.0)], ids=["half", "cut", "gateway", "silent"])
async def test_a_broken_download_raises_and_can_be_tried_again(
    server: TelegramServer, bot: Bot, fault: Half | Cut | Gateway | Silent
) -> None:
    server.user(5).sends_voice(VOICE)
    file = await (await bot.get_updates())[0].message.voice.get_file()  # type: ignore[union-attr]
    server.faults.plan(DOWNLOAD, fault)
    with pytest.raises(NetworkError):
        await file.download_as_bytearray(read_timeout=0.5)
    assert bytes(await file.download_as_bytearray()) == VOICE
