"""What leaves by the outbox: a closed union of messages, told apart by ``kind`` and kept as JSON."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import Annotated, Literal, assert_never

from pydantic import Field, JsonValue, TypeAdapter

from engine.document import Document
from engine.messages import Button, Language, Message, Reply
from engine.queues.outbox_formats import brought_up


class Audience(StrEnum):
    """Whom a reminder is for."""

    OPERATOR = "operator"
    FOREMAN = "foreman"


class _Outbound(Message):
    """``forget``: nothing of it is kept once it arrived."""

    forget: bool = False


class WordedMessage(_Outbound):
    """Words to read. ``silent``: comes without a sound; ``can_wait``: so where its reader wants quiet."""

    text: str
    silent: bool = False
    can_wait: bool = False


class TextMessage(WordedMessage):
    """Words alone. ``buttons`` answer the turn ``seq``; where that is not told, the turn that the message is of."""

    kind: Literal["text"] = "text"
    speech: str = ""
    buttons: tuple[Button, ...] = ()
    seq: int | None = None


class ReminderMessage(WordedMessage):
    """What rang: a call that asks the operator, or what a foreman hears of it.

    ``attempt`` counts from 1. ``aloud_too``: is said as well where the channel can. ``instead_of`` are the keys of the
    messages of which it takes the place. ``buttons`` answer the turn ``seq``.
    """

    kind: Literal["reminder"] = "reminder"
    speech: str = ""
    buttons: tuple[Button, ...] = ()
    seq: int | None = None
    language: Language
    audience: Audience
    attempt: int = Field(ge=1)
    aloud_too: bool = False
    instead_of: tuple[str, ...] = ()


class VoiceNoteMessage(_Outbound):
    """Words that are said: silent where their text came before."""

    kind: Literal["voice_note"] = "voice_note"
    said: str
    language: Language
    silent: bool = True


class PictureMessage(WordedMessage):
    """A summary as a picture under words. ``drawing`` is its data as JSON; what it shows, the channel knows."""

    kind: Literal["picture"] = "picture"
    drawing: JsonValue


class PagesMessage(WordedMessage):
    """The same as pages, a file called ``name``."""

    kind: Literal["pages"] = "pages"
    drawing: JsonValue
    name: str


class TableMessage(WordedMessage):
    """A table as comma-separated text, a file called ``name``."""

    kind: Literal["table"] = "table"
    table: str
    name: str


class DocumentMessage(WordedMessage):
    """A document of the record, a file called ``name``: what it holds is read when it is sent, ``instead`` is said
    where it is gone by then."""

    kind: Literal["document"] = "document"
    document: Document
    name: str
    instead: str


class WithdrawalMessage(_Outbound):
    """Takes messages out of a chat again, those of the outbox with these ``keys``."""

    kind: Literal["withdrawal"] = "withdrawal"
    keys: tuple[str, ...]


FileMessage = PictureMessage | PagesMessage | TableMessage | DocumentMessage
ShownMessage = TextMessage | ReminderMessage | VoiceNoteMessage | FileMessage
"""What can be read, seen or heard; the other kinds do something to what was sent."""
OutboxMessage = Annotated[ShownMessage | WithdrawalMessage, Field(discriminator="kind")]
_MESSAGE: TypeAdapter[OutboxMessage] = TypeAdapter(OutboxMessage)


def write_message(message: OutboxMessage) -> dict[str, object]:
    """A message as its row keeps it, JSON-ready."""
    return message.model_dump(mode="json")


def read_message(body: Mapping[str, object]) -> OutboxMessage:
    """A message out of its row, of this release or an earlier one. Raises ValueError for what is none."""
    return _MESSAGE.validate_python(brought_up(body))


def words_of(message: OutboxMessage) -> str:
    """What is to be read of a message; nothing of a voice note, whose words came before it."""
    match message:
        case WordedMessage(text=text):
            return text
        case VoiceNoteMessage() | WithdrawalMessage():
            return ""
        case _:
            assert_never(message)


def reply_of(message: OutboxMessage) -> Reply:
    """A message as a channel answers that has words and buttons alone."""
    if isinstance(message, TextMessage | ReminderMessage):
        return Reply(text=message.text, speech=message.speech, buttons=message.buttons)
    return Reply(text=words_of(message))


def attempt_of(message: OutboxMessage) -> int:
    """Which call a message is, from 1; 0 for what is no call."""
    return message.attempt if isinstance(message, ReminderMessage) else 0
