"""What the bot sent, as the people in the chats saw it."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Sent:
    """One message, or one change of a message."""

    method: str
    chat_id: int
    message_id: int
    date: float
    text: str
    markup: dict[str, Any] | None = None
    silent: bool = False
    protected: bool = False
    file: bytes | None = None
    file_name: str | None = None

    @property
    def buttons(self) -> list[list[str]]:
        """The labels, row by row, of inline and of reply buttons alike."""
        rows = (self.markup or {}).get("inline_keyboard") or (self.markup or {}).get("keyboard") or []
        return [[button if isinstance(button, str) else button["text"] for button in row] for row in rows]


class Transcript:
    """All that was sent, in order."""

    def __init__(self) -> None:
        self.sent: list[Sent] = []
        self._chats: dict[int, list[Sent]] = defaultdict(list)

    def add(self, sent: Sent) -> None:
        self.sent.append(sent)
        self._chats[sent.chat_id].append(sent)

    def of(self, chat_id: int) -> list[Sent]:
        return self._chats[chat_id]

    def duplicates(self) -> Counter[int]:
        """For each chat, how often the same new message came twice in a row."""
        found: Counter[int] = Counter()
        last: dict[int, tuple[str, str, bytes | None]] = {}
        for one in self.sent:
            if one.method.startswith("send"):
                content = (one.method, one.text, one.file)
                found[one.chat_id] += last.get(one.chat_id) == content
                last[one.chat_id] = content
        return +found
