"""The methods this server has, each with the parameters it heeds; anything else is a complaint, never an ok."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from tests.helpers.telegram_server.account import BOT, Account, Message
from tests.helpers.telegram_server.markup import checked, shown
from tests.helpers.telegram_server.refusal import bad_request
from tests.helpers.telegram_server.request import Call
from tests.helpers.telegram_server.sending import Sending, checked_text
from tests.helpers.telegram_server.transcript import Sent

ANY_MESSAGE = frozenset({"chat_id", "reply_markup", "disable_notification", "protect_content", "reply_parameters"})
WITH_FILE = ANY_MESSAGE | {"caption"}
ACTIONS = frozenset({"typing", "upload_photo", "record_voice", "upload_voice", "upload_document"})
ANSWER_LENGTH, MOST_COMMANDS = 200, 100


@dataclass(frozen=True)
class Method:
    """What a method does, and what it heeds."""

    work: Callable[[Call], Any]
    heeds: frozenset[str]


class Methods:
    """All but getUpdates and the webhook, which have their own modules."""

    def __init__(self, account: Account, sending: Sending) -> None:
        self.account, self.sending = account, sending

    def table(self) -> dict[str, Method]:
        edit = frozenset({"chat_id", "message_id", "reply_markup"})
        menu = frozenset({"scope", "language_code"})
        return {
            "getMe": Method(lambda _call: BOT, frozenset()),
            "sendMessage": Method(self.sending.text, ANY_MESSAGE | {"text", "link_preview_options"}),
            "sendVoice": Method(self.sending.voice, WITH_FILE | {"voice", "duration"}),
            "sendPhoto": Method(self.sending.picture, WITH_FILE | {"photo"}),
            "sendDocument": Method(self.sending.document, WITH_FILE | {"document", "disable_content_type_detection"}),
            "sendChatAction": Method(self.act, frozenset({"chat_id", "action"})),
            "getFile": Method(lambda call: self.account.open_link(str(call.get("file_id"))), frozenset({"file_id"})),
            "editMessageText": Method(self.edit_text, edit | {"text", "link_preview_options"}),
            "editMessageReplyMarkup": Method(self.edit_markup, edit),
            "deleteMessage": Method(self.delete, frozenset({"chat_id", "message_id"})),
            "answerCallbackQuery": Method(
                self.answer, frozenset({"callback_query_id", "text", "show_alert", "cache_time"})
            ),
            "setMyCommands": Method(self.set_commands, menu | {"commands"}),
            "getMyCommands": Method(lambda call: self.account.commands.get(_menu(call), []), menu),
            "deleteMyCommands": Method(self.delete_commands, menu),
            "leaveChat": Method(self.leave, frozenset({"chat_id"})),
        }

    def act(self, call: Call) -> bool:
        chat_id, action = self.account.writable(call.chat_id), str(call.get("action"))
        if action not in ACTIONS:
            raise bad_request("wrong parameter action in request")
        self.account.actions.append((chat_id, action))
        return True

    def edit_text(self, call: Call) -> Message:
        message = self.account.own_message(call.chat_id, call.get("message_id"))
        text, markup = checked_text(call), checked(call.get("reply_markup"))
        return self._change(call, message, text, markup)

    def edit_markup(self, call: Call) -> Message:
        message = self.account.own_message(call.chat_id, call.get("message_id"))
        return self._change(call, message, message.get("text"), checked(call.get("reply_markup")))

    def _change(self, call: Call, message: Message, text: str | None, markup: dict[str, Any] | None) -> Message:
        inline = shown(markup) if markup and markup["inline_keyboard"] else None
        if (text, inline) == (message.get("text"), message.get("reply_markup")):
            raise bad_request(
                "message is not modified: specified new message content and reply markup are exactly the same as "
                "a current content and reply markup of the message"
            )
        message.pop("reply_markup", None)
        changes = {"text": text, "reply_markup": inline, "edit_date": self.account.date()}
        message.update({name: value for name, value in changes.items() if value is not None})
        chat_id, number, now = message["chat"]["id"], message["message_id"], self.account.clock.now()
        self.sending.transcript.add(Sent(call.method, chat_id, number, now, text or "", inline, silent=True))
        return message

    def delete(self, call: Call) -> bool:
        place = (self.account.writable(call.chat_id), call.get("message_id"))
        if self.account.messages.pop(place, None) is None:
            raise bad_request("message to delete not found")
        return True

    def answer(self, call: Call) -> bool:
        number = str(call.get("callback_query_id"))
        if self.account.callbacks.get(number, 0) <= self.account.clock.now():
            raise bad_request("query is too old and response timeout expired or query ID is invalid")
        if len(str(call.get("text", ""))) > ANSWER_LENGTH:
            raise bad_request("MESSAGE_TOO_LONG")
        self.account.answered[number] = dict(call.parameters)
        return True

    def set_commands(self, call: Call) -> bool:
        commands = call.get("commands")
        if not isinstance(commands, list) or len(commands) > MOST_COMMANDS:
            raise bad_request("BOT_COMMANDS_TOO_MUCH")
        for one in commands:
            if not re.fullmatch(r"[a-z0-9_]{1,32}", one["command"]):
                raise bad_request("BOT_COMMAND_INVALID")
            if not 1 <= len(one["description"]) <= 256:
                raise bad_request("BOT_COMMAND_DESCRIPTION_INVALID")
        self.account.commands[_menu(call)] = commands
        return True

    def delete_commands(self, call: Call) -> bool:
        self.account.commands.pop(_menu(call), None)
        return True

    def leave(self, call: Call) -> bool:
        chat = self.account.chats[self.account.writable(call.chat_id)]
        if chat.content["type"] == "private":
            raise bad_request("chat member status can't be changed in private chats")
        chat.open = False
        return True


def _menu(call: Call) -> tuple[str, str]:
    scope = call.get("scope") or {"type": "default"}
    return ":".join(str(scope[name]) for name in sorted(scope)), str(call.get("language_code", ""))
