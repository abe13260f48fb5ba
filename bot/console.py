"""Talking on standard input: one utterance a line, at a terminal or in a pipe."""

from __future__ import annotations

import json
import uuid
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from typing import Any, TextIO

from rich.console import Console
from rich.markup import escape

from bot.bell.calls import Calls
from bot.lines import lines
from bot.settings import CONVERSATION
from bot.terminal.texts import TerminalTexts
from engine.assistant import Assistant
from engine.data.forms import load_forms
from engine.entries.phrases.vocabulary import Vocabulary
from engine.errors import WorldError
from engine.expectation import Expectation, ExpectedSlot
from engine.history.store.journal import StoredTurn
from engine.messages import Language, Reply, System, Utterance
from engine.queues.outbox_message import OutboxMessage, attempt_of, reply_of, write_message


class Talk:
    """One session at the console. Its utterances are numbered, so that the same session can be delivered again."""

    def __init__(self, assistant: Assistant, session: str | None = None, conversation: str = CONVERSATION) -> None:
        self._assistant = assistant
        self._session = session or uuid.uuid4().hex
        self._conversation = conversation
        self._count = 0

    def hear(self, text: str) -> StoredTurn:
        self._count += 1
        return self._hear(TerminalTexts.load().meant(text, self.language), str(self._count))

    def speak(self, language: Language) -> None:
        """Begin in this language. Not one of the numbered lines, which are the same in any language."""
        if self.language != language:
            self._hear(load_forms(language).called[0], f"language:{language}")

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

    @property
    def system(self) -> System:
        return self._assistant.state(self._conversation).system

    @property
    def is_new(self) -> bool:
        """Whether nothing was ever said here."""
        return self._assistant.is_new(self._conversation)

    def opened(self) -> tuple[str, datetime] | None:
        """The dialog that is open, by its name, and since when."""
        return self._assistant.opened(self._conversation)

    @property
    def first_opening(self) -> str:
        """What somebody says who never talked to it: it opens the first dialog of the work."""
        return self._assistant.first_opening(self.language)

    def vocabulary(self) -> Vocabulary:
        """The words of the language that is spoken; raises DefinitionError."""
        return self._assistant.vocabulary(self.language)

    def prompt(self) -> Reply:
        return self._assistant.prompt(self._conversation, datetime.now(UTC))

    def apology(self) -> Reply:
        return self._assistant.apology(self._conversation)

    def expectation(self) -> Expectation:
        return self._assistant.expectation(self._conversation)


def run(talk: Talk, as_json: bool, source: TextIO, calls: Calls | None = None) -> None:
    """Talk until the input ends; what ``calls`` brings is shown in between."""
    terminal = source.isatty() and not as_json
    page = Page(Console(highlight=False, emoji=False), as_json, terminal)
    if terminal:
        page.reply(talk.prompt())
    talk.vocabulary()
    page.ask()
    for line in lines(source, partial(page.rings, calls) if calls else None):
        if text := line.strip():
            answer(talk, text, page)
        page.ask()


def answer(talk: Talk, text: str, page: Page) -> None:
    """Hear one utterance and show what is answered; at a terminal an apology where it could not be kept."""
    try:
        turn = talk.hear(text)
    except WorldError:
        if not page.terminal:
            raise
        page.reply(talk.apology())
        return
    page.turn(turn, talk.expectation)


@dataclass(frozen=True)
class Page:
    """Where a talk is shown: at a terminal behind a prompt, in a pipe, or as one JSON object a line."""

    console: Console
    as_json: bool
    terminal: bool

    def ask(self) -> None:
        if self.terminal:
            self.console.print("[bold green]you[/bold green] ", end="")

    def turn(self, turn: StoredTurn, expectation: Callable[[], Expectation]) -> None:
        if self.as_json:
            self._line(turn_json(turn, expectation()))
            return
        if not self.terminal:
            self.console.print(f"[bold]>[/bold] {escape(turn.heard)}", soft_wrap=True)
        self.reply(turn.reply)

    def reply(self, reply: Reply, style: str = "cyan") -> None:
        """In a pipe as it is; at a terminal broken between words, with closed answers that the text does not name."""
        self.console.print(escape(reply.text), style=style, soft_wrap=not self.terminal)
        if self.terminal:
            for line in lined_up(unsaid(reply), self.console.width):
                self.console.print("  ".join(f"[reverse] {escape(label)} [/reverse]" for label in line))
        elif reply.buttons:
            self.console.print("   ".join(f"[reverse] {escape(button.label)} [/reverse]" for button in reply.buttons))

    def rings(self, calls: Calls) -> None:
        """Show what rings now."""
        for call in calls.due():
            if self.terminal:
                self.console.print()
            self.ring(call)
            if not self.as_json:
                self.ask()

    def ring(self, call: OutboxMessage) -> None:
        """Show one call, the more striking the more often it was called."""
        if self.as_json:
            self._line({"ring": write_message(call)})
            return
        if self.terminal:
            self.console.bell()
        self.reply(reply_of(call), "bold yellow" if attempt_of(call) == 1 else "bold white on red")

    def _line(self, said: dict[str, Any]) -> None:
        print(json.dumps(said, ensure_ascii=False), flush=True)  # noqa: T201


def unsaid(reply: Reply) -> tuple[str, ...]:
    """The labels of closed answers, none where the last line of the text names them all."""
    asked = reply.text.rpartition("\n")[2].casefold()
    labels = tuple(button.label for button in reply.buttons)
    return () if all(label.casefold() in asked for label in labels) else labels


def lined_up(labels: Sequence[str], width: int) -> Iterator[tuple[str, ...]]:
    """The labels in lines of at most ``width`` columns, each label with a column on both sides and two between."""
    line: tuple[str, ...] = ()
    for label in labels:
        if line and sum(len(one) + 4 for one in (*line, label)) - 2 > width:
            yield line
            line = ()
        line = (*line, label)
    if line:
        yield line


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
