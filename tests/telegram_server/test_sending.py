"""What the bot sends: limits, buttons, edits, files, blocked chats, the command menu."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path

import pytest
from telegram import (
    Bot,
    BotCommand,
    InlineKeyboardButton,
    InlineKeyboardMarkup,
    KeyboardButton,
    ReplyKeyboardMarkup,
    ReplyParameters,
)
from telegram.error import BadRequest, Forbidden

from tests.helpers.telegram_server import TelegramServer

VOICE = (Path(__file__).parents[2] / "demo/voice/yes.ogg").read_bytes()
YES_NO = InlineKeyboardMarkup(
    [[InlineKeyboardButton("Yes", callback_data="y"), InlineKeyboardButton("No", callback_data="n")]]
)


def png(width: int, height: int) -> bytes:
    """A grey picture of this size."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0))
    pixels = chunk(b"IDAT", zlib.compress((b"\0" + b"\x80" * width) * height))
    return b"\x89PNG\r\n\x1a\n" + head + pixels + chunk(b"IEND", b"")


async def test_who_the_bot_is(bot: Bot) -> None:
    me = await bot.get_me()
    assert me.is_bot
    assert me.username == "rowhand_test_bot"


async def test_a_person_sees_text_buttons_and_silence(server: TelegramServer, bot: Bot) -> None:
    person = server.user(5)
    asked = person.says("hello")
    reply = ReplyParameters(asked["message_id"])
    sent = await bot.send_message(5, "Ready?", reply_markup=YES_NO, disable_notification=True, reply_parameters=reply)
    seen = await person.receives()
    assert (seen.text, seen.buttons, seen.silent, seen.message_id) == ("Ready?", [["Yes", "No"]], True, sent.message_id)
    assert sent.reply_to_message
    assert sent.reply_to_message.text == "hello"
    assert sent.reply_markup == YES_NO


async def test_an_inline_press_calls_back_and_a_reply_button_writes(server: TelegramServer, bot: Bot) -> None:
    person = server.user(5)
    person.says("hello")
    sent = await bot.send_message(5, "Ready?", reply_markup=YES_NO)
    person.presses("No")
    query = (await bot.get_updates())[-1].callback_query
    assert query
    assert query.message
    assert (query.data, query.message.message_id) == ("n", sent.message_id)
    assert await query.answer("noted")
    assert server.account.answered[query.id]["text"] == "noted"
    keyboard = ReplyKeyboardMarkup([[KeyboardButton("Next")]], resize_keyboard=True)
    await bot.send_message(5, "Go on?", reply_markup=keyboard)
    person.presses("Next")
    last = (await bot.get_updates())[-1].message
    assert last
    assert last.text == "Next"


async def test_a_late_answer_to_a_press_is_refused(server: TelegramServer, bot: Bot) -> None:
    person = server.user(5)
    person.says("hello")
    sent = await bot.send_message(5, "Ready?", reply_markup=YES_NO)
    number = person.calls_back("forged", sent.message_id)
    server.clock.forward(151)
    with pytest.raises(BadRequest, match="Query is too old"):
        await bot.answer_callback_query(number)


@pytest.mark.parametrize(
    ("text", "data", "says"),
    [("", "y", "text is empty"), ("x" * 4097, "y", "is too long"), ("ok", "é" * 33, "button_data_invalid")],
)
async def test_limits_of_text_and_buttons(server: TelegramServer, bot: Bot, text: str, data: str, says: str) -> None:
    server.user(5).says("hello")
    markup = InlineKeyboardMarkup([[InlineKeyboardButton("Yes", callback_data=data)]])
    with pytest.raises(BadRequest, match=f"(?i){says}"):
        await bot.send_message(5, text, reply_markup=markup)
    assert server.transcript.sent == []
    server.complaints.clear()


async def test_the_longest_text_and_button_pass(server: TelegramServer, bot: Bot) -> None:
    server.user(5).says("hello")
    markup = InlineKeyboardMarkup([[InlineKeyboardButton("Yes", callback_data="é" * 32)]])
    assert await bot.send_message(5, "x" * 4096, reply_markup=markup)


async def test_edits_change_own_messages_only_and_only_when_different(server: TelegramServer, bot: Bot) -> None:
    theirs = server.user(5).says("hello")
    sent = await bot.send_message(5, "Ready?", reply_markup=YES_NO)
    edited = await bot.edit_message_text("Done", 5, sent.message_id)
    assert (edited.text, edited.reply_markup) == ("Done", None)  # type: ignore[union-attr]
    with pytest.raises(BadRequest, match="not modified"):
        await bot.edit_message_text("Done", 5, sent.message_id)
    with pytest.raises(BadRequest, match="can't be edited"):
        await bot.edit_message_text("Done", 5, theirs["message_id"])
    with pytest.raises(BadRequest, match="to edit not found"):
        await bot.edit_message_text("Done", 5, 999)
    marked = await bot.edit_message_reply_markup(5, sent.message_id, reply_markup=YES_NO)
    assert marked.reply_markup == YES_NO  # type: ignore[union-attr]
    assert [one.method for one in server.transcript.of(5)] == [
        "sendMessage",
        "editMessageText",
        "editMessageReplyMarkup",
    ]


async def test_a_blocked_bot_is_told_so_and_may_come_back(server: TelegramServer, bot: Bot) -> None:
    person = server.user(5)
    person.says("hello")
    person.blocks()
    with pytest.raises(Forbidden, match="bot was blocked by the user"):
        await bot.send_message(5, "are you there?")
    change = (await bot.get_updates())[-1].my_chat_member
    assert change
    assert (change.old_chat_member.status, change.new_chat_member.status) == ("member", "kicked")
    person.unblocks()
    assert await bot.send_message(5, "welcome back")


async def test_voice_picture_and_document_arrive_whole(server: TelegramServer, bot: Bot) -> None:
    person = server.user(5)
    person.says("hello")
    voice = await bot.send_voice(5, VOICE, caption="spoken")
    picture = await bot.send_photo(5, png(40, 30), caption="rows")
    document = await bot.send_document(5, io.BytesIO(b"a,b\n1,2\n"), filename="rows.csv", protect_content=True)
    assert voice.voice
    assert voice.voice.mime_type == "audio/ogg"
    assert [(size.width, size.height) for size in picture.photo] == [(40, 30)]
    assert document.document
    assert document.document.file_name == "rows.csv"
    seen = [await person.receives() for _ in range(3)]
    assert [one.file for one in seen] == [VOICE, png(40, 30), b"a,b\n1,2\n"]
    assert [one.text for one in seen] == ["spoken", "rows", ""]
    again = await bot.send_voice(5, voice.voice.file_id)
    assert again.voice
    assert (await person.receives()).file == VOICE


async def test_a_voice_that_is_not_opus_comes_as_a_file(server: TelegramServer, bot: Bot) -> None:
    server.user(5).says("hello")
    message = await bot.send_voice(5, b"RIFF....WAVE")
    assert message.voice is None
    assert message.document


@pytest.mark.parametrize("content", [b"not a picture", png(2100, 100), png(9990, 20)])
async def test_a_picture_that_is_none_or_misshapen_is_refused(server: TelegramServer, bot: Bot, content: bytes) -> None:
    server.user(5).says("hello")
    with pytest.raises(BadRequest):
        await bot.send_photo(5, content)


async def test_the_command_menu_is_kept_per_language(server: TelegramServer, bot: Bot) -> None:
    assert await bot.set_my_commands([BotCommand("help", "What I can do")])
    assert await bot.set_my_commands([BotCommand("help", "Lo que sé hacer")], language_code="es")
    assert [one.description for one in await bot.get_my_commands(language_code="es")] == ["Lo que sé hacer"]
    assert [one.description for one in await bot.get_my_commands()] == ["What I can do"]
    with pytest.raises(BadRequest, match=r"(?i)command_invalid"):
        await bot.set_my_commands([BotCommand("Help", "upper case")])


async def test_typing_and_leaving_a_group(server: TelegramServer, bot: Bot) -> None:
    member = server.member(-100, 5)
    member.says("/start before it was invited")
    member.invites()
    member.says("hello all, this is not for a bot")
    member.says("/help@rowhand_test_bot")
    invited, asked = await bot.get_updates()
    assert invited.my_chat_member
    assert asked.message
    assert (asked.message.chat.type, asked.message.text) == ("group", "/help@rowhand_test_bot")
    assert await bot.send_chat_action(-100, "typing")
    assert server.account.actions == [(-100, "typing")]
    assert await bot.leave_chat(-100)
    with pytest.raises(BadRequest, match="Chat not found"):
        await bot.send_message(-100, "still here?")


async def test_the_same_message_twice_in_a_row_is_counted(server: TelegramServer, bot: Bot) -> None:
    server.user(5).says("hello")
    for text in ("a", "b", "b", "a"):
        await bot.send_message(5, text)
    assert server.transcript.duplicates() == {5: 1}
