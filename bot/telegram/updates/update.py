"""Raw updates of the Bot API, taken for what they mean to a private conversation, and from whom they came."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from engine.crew.people import Barred, Member
from engine.messages import LANGUAGES, Language, Utterance
from engine.queues.inbox import Incoming
from engine.queues.outbox import Outgoing
from engine.queues.outbox_message import OutboxMessage, TextMessage, VoiceNoteMessage

PREFIX = "telegram:"
ALOUD = "voice:"
"""How the keys of spoken answers begin."""
LARGEST = 2**53
"""Numbers of chats and messages lie below it, as the Bot API promises."""
KINDS = ("message", "edited_message", "callback_query", "my_chat_member")
"""The kinds of update to ask the server for; the order of ``content`` below."""


@dataclass(frozen=True)
class TypedText:
    """A typed text; ``command`` is the menu command in front of it, without the slash."""

    text: str

    @property
    def command(self) -> str | None:
        first = self.text.split(maxsplit=1)[0] if self.text.strip() else ""
        return first[1:].split("@")[0].lower() if first.startswith("/") else None

    @property
    def code(self) -> str | None:
        """The invitation behind /start, as a deep link sends it."""
        words = self.text.split()
        return words[1] if self.command == "start" and len(words) == 2 else None


@dataclass(frozen=True)
class IncomingVoice:
    """A voice note: seconds long, bytes large where the server says so."""

    file_id: str
    seconds: float
    size: int


@dataclass(frozen=True)
class Photo:
    """A photo or a file with the words under it; ``size`` in bytes where the server says so."""

    file_id: str
    size: int
    caption: str = ""


@dataclass(frozen=True)
class Pressed:
    """A button; ``data`` came from the client and may be forged."""

    query: str
    data: str
    message: int | None = None
    """The number of the message under which it stands, where the server says so."""


@dataclass(frozen=True)
class Edited:
    """A text that replaces one sent before."""

    text: str


@dataclass(frozen=True)
class Blocked:
    """The person blocked the bot (or let it in again)."""

    gone: bool


@dataclass(frozen=True)
class Elsewhere:
    """Something from a chat of several people."""


@dataclass(frozen=True)
class Unusable:
    """What no server of the chat sends: it is not answered."""


@dataclass(frozen=True)
class Other:
    """A kind of message that no dialog asks for, without words under it."""


Content = TypedText | IncomingVoice | Photo | Pressed | Edited | Blocked | Elsewhere | Unusable | Other


def incoming(raw: dict[str, Any], received_at: datetime) -> Incoming:
    """The raw update with its place in the inbox."""
    message = _message(raw)
    edits = "message" in raw or "edited_message" in raw
    number, slow = _number(message.get("message_id")) if edits else None, takes_long(raw)
    return Incoming(int(raw["update_id"]), f"{PREFIX}{_chat(message) or 0}", number, raw, received_at, slow)


def said_at(one: Incoming) -> datetime:
    """When it was sent: the server's date for a message, never after it came; a button press has none."""
    message = _part(one.body, "message") or _part(one.body, "edited_message")
    moment = message.get("edit_date") or message.get("date")
    if not isinstance(moment, int):
        return one.received_at
    return min(datetime.fromtimestamp(moment, UTC), one.received_at)


def client_language(one: Incoming) -> Language | None:
    """The language the client is set to, where it is one of ours."""
    kind = next((_part(one.body, name) for name in KINDS if name in one.body), {})
    code = str(_part(kind, "from").get("language_code", "")).partition("-")[0]
    return next((language for language in LANGUAGES if language == code), None)


def content(one: Incoming) -> Content:
    """What the update means."""
    raw, message = one.body, _message(one.body)
    if _chat(message) is None:
        return Unusable()
    if _part(message, "chat").get("type") != "private":
        return Elsewhere()
    if "callback_query" in raw:
        return _of_press(raw["callback_query"])
    if "my_chat_member" in raw:
        return Blocked(raw["my_chat_member"]["new_chat_member"]["status"] in ("kicked", "left"))
    if "edited_message" in raw:
        words = raw["edited_message"].get("text") or raw["edited_message"].get("caption")
        return Edited(words) if words else Other()
    return _of_message(raw.get("message", {}))


def _of_press(press: dict[str, Any]) -> Pressed:
    return Pressed(str(press["id"]), str(press.get("data", "")), _number(_part(press, "message").get("message_id")))


def takes_long(raw: dict[str, Any]) -> bool:
    """Whether something has to be brought and looked into before it can be answered: sound, a photo, a file."""
    message = raw.get("message")
    return isinstance(message, dict) and any(name in message for name in ("voice", "audio", "photo", "document"))


def _of_message(message: dict[str, Any]) -> Content:
    if "text" in message:
        return TypedText(message["text"])
    voice = message.get("voice") or message.get("audio")
    if voice:
        return IncomingVoice(voice["file_id"], float(voice.get("duration", 0)), int(voice.get("file_size", 0)))
    sizes = message.get("photo") or []
    photo = max(sizes, key=lambda one: one.get("width", 0) * one.get("height", 0)) if sizes else message.get("document")
    if photo:
        return Photo(str(photo["file_id"]), int(photo.get("file_size", 0)), str(message.get("caption", "")))
    return TypedText(message["caption"]) if message.get("caption") else Other()


def _message(raw: dict[str, Any]) -> dict[str, Any]:
    """The part of an update that names the chat; a press without a message is from a private chat."""
    for kind in ("message", "edited_message", "my_chat_member"):
        if kind in raw:
            return _part(raw, kind)
    press = _part(raw, "callback_query")
    return _part(press, "message") or {"chat": {"id": _part(press, "from").get("id"), "type": "private"}}


def _part(raw: dict[str, Any], name: str) -> dict[str, Any]:
    """A part of an update, empty where it is not there or not of that kind."""
    found = raw.get(name)
    return found if isinstance(found, dict) else {}


def _chat(message: dict[str, Any]) -> int | None:
    """The number of the chat, None where there is none."""
    return _number(_part(message, "chat").get("id"))


def _number(given: object) -> int | None:
    """A number that can be kept; None for what is none."""
    if not isinstance(given, int) or isinstance(given, bool):
        return None
    return given if abs(given) < LARGEST else None


@dataclass(frozen=True)
class Addressed:
    """An answer that goes to another chat."""

    message: TextMessage
    to: str


Answer = OutboxMessage | Addressed


@dataclass(frozen=True)
class Visit:
    """What came, what it means, and who it came from."""

    update: Incoming
    what: Content
    member: Member
    barred: Barred | None = None
    """Why the invitation with which they came did not let them in."""

    @property
    def chat(self) -> str:
        return self.update.conversation

    @property
    def talk(self) -> str:
        """The conversation that the person takes part in."""
        return self.member.conversation

    @property
    def id(self) -> str:
        """Names the turn that this update makes; the same whenever it is handled."""
        return f"telegram:{self.update.update_id}"

    @property
    def said_at(self) -> datetime:
        return said_at(self.update)

    @property
    def spoken(self) -> bool:
        return isinstance(self.what, IncomingVoice)

    def utterance(self, language: Language, text: str | None = None, part: str = "") -> Utterance:
        """What was typed, as the engine takes it; ``part`` names a step on the way to the turn of this update."""
        words = text if text is not None else getattr(self.what, "text", "")
        return Utterance(
            id=f"{self.id}{part}", conversation=self.talk, text=words, language=language, said_at=self.said_at
        )

    def line(self, message: OutboxMessage) -> Outgoing:
        """The message to this chat that answers the update alone."""
        return Outgoing(f"notice:{self.update.update_id}", self.chat, message, self.update.received_at)

    def aloud(self, text: str, language: Language) -> tuple[Outgoing, ...]:
        """The text as a voice note to this chat."""
        note = VoiceNoteMessage(said=text, language=language)
        return (Outgoing(f"{ALOUD}{self.update.update_id}", self.chat, note, self.update.received_at),)

    def lines(self, answers: Sequence[Answer], seq: int) -> tuple[Outgoing, ...]:
        """Several, in order; their buttons answer the turn ``seq`` where they do not say which."""
        return tuple(self._numbered(number, answer, seq) for number, answer in enumerate(answers))

    def _numbered(self, number: int, answer: Answer, seq: int) -> Outgoing:
        message, to = (answer.message, answer.to) if isinstance(answer, Addressed) else (answer, self.chat)
        if isinstance(message, TextMessage) and message.seq is None:
            message = message.model_copy(update={"seq": seq})
        return Outgoing(f"notice:{self.update.update_id}:{number}", to, message, self.update.received_at)
