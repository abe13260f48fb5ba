"""A whole application of python-telegram-bot against the server: its own start, polling, answers and end."""

from __future__ import annotations

from typing import Any

from telegram import Update
from telegram.ext import Application, CommandHandler, ContextTypes, MessageHandler, filters

from tests.helpers.telegram_server import TelegramServer
from tests.helpers.telegram_server.fault import Cut


async def start(update: Update, context: ContextTypes.DEFAULT_TYPE) -> None:
    if update.message:
        await update.message.reply_text(f"welcome {context.args}")


async def echo(update: Update, context: ContextTypes.DEFAULT_TYPE) -> None:
    if update.message:
        await update.message.reply_text(f"you said {update.message.text}")


def application(server: TelegramServer) -> Application[Any, Any, Any, Any, Any, Any]:
    built = (
        Application.builder().token(server.token).base_url(server.base_url).base_file_url(server.base_file_url).build()
    )
    built.add_handler(CommandHandler("start", start))
    built.add_handler(MessageHandler(filters.TEXT, echo))
    return built


async def test_it_starts_answers_survives_a_cut_line_and_confirms_all(server: TelegramServer) -> None:
    running = application(server)
    async with running:
        assert running.updater
        await running.updater.start_polling(poll_interval=0, timeout=1)
        await running.start()
        person = server.user(5)
        person.says("/start code_1")
        assert (await person.receives()).text == "welcome ['code_1']"
        server.faults.plan("getUpdates", Cut(done=True))
        for number in range(3):
            person.says(str(number))
        assert [(await person.receives()).text for _ in range(3)] == [f"you said {n}" for n in range(3)]
        await running.updater.stop()
        await running.stop()
    assert server.updates.waiting == {}
    assert [call.method for call in server.calls[:3]] == ["getMe", "deleteWebhook", "getUpdates"]
