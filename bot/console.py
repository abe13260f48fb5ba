"""Talking on standard input: one utterance a line, at a terminal or in a pipe."""

from __future__ import annotations

import json
import sys
import uuid
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any, TextIO

from rich.console import Console
from rich.markup import escape

from engine.assistant import Assistant
from engine.errors import WorldError
from engine.expectation import Expectation, ExpectedSlot
from engine.history.journal import StoredTurn
from engine.messages import Language, Reply, Utterance

CONVERSATION = "console"


class Talk:
    """One session at the console. Its utterances are numbered, so that the same session can be delivered again."""

    def __init__(self, assistant: Assistant, session: str | None = None, conversation: str = CONVERSATION) -> None:
        self._assistant = assistant
        self._session = session or uuid.uuid4().hex
        self._conversation = conversation
        self._count = 0

    def hear(self, text: str) -> StoredTurn:
        self._count += 1
        return self._hear(text, str(self._count))

    def speak(self, language: Language) -> None:
        """Begin in this language. Not one of the numbered lines, which are the same in any language."""
        if self.language != language:
            self._hear({"en": "english", "es": "español"}[language], f"language:{language}")

    def _hear(self, text: str, name: str) -> StoredTurn:
        utterance = Utterance(
            id=f"console:{self._session}:{name}",
            conversation=self._conversation,
            text=text,
            language=self.language,
            said_at=datetime.now(UTC),
        )
        return self._assistant.hear(utterance)

    @property
    def language(self) -> Language:
        return self._assistant.state(self._conversation).language

    def prompt(self) -> Reply:
        return self._assistant.prompt(self._conversation)

    def apology(self) -> Reply:
        return self._assistant.apology(self._conversation)

    def expectation(self) -> Expectation:
        return self._assistant.expectation(self._conversation)


def run(talk: Talk, as_json: bool, source: TextIO = sys.stdin) -> None:
    """Talk until the input ends."""
    terminal = source.isatty() and not as_json
    console = Console(highlight=False, emoji=False)
    if terminal:
        _show(console, talk.prompt())
    for text in _lines(source, console if terminal else None):
        try:
            turn = talk.hear(text)
        except WorldError:
            if not terminal:
                raise
            _show(console, talk.apology())
            continue
        if as_json:
            print(json.dumps(turn_json(turn, talk.expectation()), ensure_ascii=False), flush=True)  # noqa: T201
        else:
            if not terminal:
                console.print(f"[bold]>[/bold] {escape(text)}", soft_wrap=True)
            _show(console, turn.reply)


def _lines(source: TextIO, console: Console | None) -> Iterator[str]:
    """Lines that say something; at a terminal behind a prompt."""
    while True:
        if console is not None:
            console.print("[bold green]you[/bold green] ", end="")
        line = source.readline()
        if not line:
            return
        if line.strip():
            yield line.strip()


def _show(console: Console, reply: Reply) -> None:
    console.print(escape(reply.text), style="cyan", soft_wrap=True)
    if reply.buttons:
        console.print("   ".join(f"[reverse] {escape(button.label)} [/reverse]" for button in reply.buttons))


def turn_json(turn: StoredTurn, expects: Expectation) -> dict[str, Any]:
    """One turn as scripts read it: heard, reply, facts, expects."""
    return {
        "heard": turn.heard,
        "reply": turn.reply.text,
        "facts": list(turn.facts),
        "expects": _expects(expects),
    }


def _expects(expects: Expectation) -> dict[str, Any]:
    return {
        "asking": expects.asking.value,
        "slots": [_slot(slot) for slot in expects.slots],
        "candidates": list(expects.candidates),
        "dialogs": {name: words[0] for name, words in expects.dialogs.items()},
    }


def _slot(slot: ExpectedSlot) -> dict[str, Any]:
    return {
        "slot": slot.name,
        "kind": slot.kind.value,
        "units": list(slot.units),
        "default_unit": slot.default_unit,
        "options": [option.key for option in slot.options],
        "rows": list(slot.open_rows),
        "next_row": slot.next_row,
    }
