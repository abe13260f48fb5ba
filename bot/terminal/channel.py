"""``rowhand talk`` at a terminal: greeting, lines one after the other, and how it ends."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from rich.console import Console
from rich.markup import escape

from bot.bell.calls import Calls
from bot.console import Page, Talk, answer
from bot.terminal.editor import LineEditor, SayingCompleter, sayings
from bot.terminal.history import LineHistory
from bot.terminal.texts import OwnLine, TerminalKey, TerminalTexts
from engine.data.forms import load_forms
from engine.dialog.reply.wording import Wording

LONG_AGO = timedelta(days=300)
"""From so long ago a date says the wrong year to somebody (own decision)."""
HISTORY = ".said"
"""What the file of typed lines has behind the name of the record."""


def run(talk: Talk, zone: str, record: Path | None, calls: Calls | None) -> None:
    """Talk until the input ends or somebody ends it; what was typed is kept beside the file of the ``record``.

    Raises KeyboardInterrupt, after a word that all is kept, where it is stopped.
    """
    page = Page(Console(highlight=False, emoji=False), as_json=False, terminal=True)
    history = LineHistory(record.with_name(record.name + HISTORY) if record else None)
    completer = SayingCompleter(lambda: sayings(talk.expectation(), talk.vocabulary(), load_forms(talk.language)))
    editor = LineEditor(history, completer, calls, page.ring)
    _Sitting(talk, page, history, editor, TerminalTexts.load(), zone).through()


@dataclass
class _Sitting:
    """One sitting at a terminal, from its greeting to its end."""

    talk: Talk
    page: Page
    history: LineHistory
    editor: LineEditor
    texts: TerminalTexts
    zone: str

    def through(self) -> None:
        """From greeting to end."""
        try:
            self._greet()
            self.talk.vocabulary()
            self._talk()
        except KeyboardInterrupt:
            self._tell(TerminalKey.INTERRUPTED)
            raise
        self._tell(TerminalKey.ENDED)

    def _greet(self) -> None:
        if self.talk.is_new:
            self._tell(TerminalKey.STRANGER, opening=self.talk.first_opening)
            return
        self._tell_open(datetime.now(UTC))
        self.page.reply(self.talk.prompt())

    def _tell_open(self, now: datetime) -> None:
        opened = self.talk.opened()
        if opened is None:
            return
        name, since = opened
        called = self.talk.expectation().dialogs.get(name, (name,))[0]
        if now - since > LONG_AGO:
            self._tell(TerminalKey.OPEN_FOR, dialog=called, days=str((now - since).days))
            return
        wording = Wording(self.talk.language, self.talk.system, self.zone)
        self._tell(TerminalKey.OPEN, dialog=called, since=wording.clock(since, now))

    def _talk(self) -> None:
        for line in self._lines():
            if self.texts.ends(line) and not self.talk.expectation().asks_name:
                return
            said = self._meant(line) if self.texts.ends(line) else line
            if said is None:
                return
            self.history.said(said)
            self._answer(said)

    def _answer(self, said: str) -> None:
        try:
            answer(self.talk, said, self.page)
        except KeyboardInterrupt:
            self.page.console.print()  # what the terminal showed of the key stands alone
            raise

    def _lines(self) -> Iterator[str]:
        while True:
            try:
                yield from self.editor.read(self._say(TerminalKey.PROMPT))
            except EOFError:
                return

    def _meant(self, word: str) -> str | None:
        """What a word for leaving was, where a name is asked: None the end, else what is said, the name in quotes."""
        self._tell(TerminalKey.NAME_OR_END, word=word)
        answered = next(self._lines(), None)
        if answered is None or self.texts.answers(answered, OwnLine.YES, self.talk.language):
            return None
        if self.texts.answers(answered, OwnLine.NO, self.talk.language):
            return f"“{word}”"
        return None if self.texts.ends(answered) else answered

    def _tell(self, key: TerminalKey, **values: str) -> None:
        self.page.console.print(escape(self._say(key, **values)), style="cyan")

    def _say(self, key: TerminalKey, **values: str) -> str:
        return self.texts.say(key, self.talk.language, **values)
