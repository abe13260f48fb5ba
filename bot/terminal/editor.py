"""One line typed at a terminal, with arrows, what was typed before, and calls that ring meanwhile; the Tab key gives
what may be said now: closed answers, reports, commands, and what opens a dialog."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Callable, Iterable, Iterator
from functools import partial

from prompt_toolkit import PromptSession
from prompt_toolkit.application import get_app, run_in_terminal
from prompt_toolkit.completion import CompleteEvent, Completer, Completion
from prompt_toolkit.document import Document
from prompt_toolkit.formatted_text import FormattedText
from prompt_toolkit.output import Output
from prompt_toolkit.output.defaults import create_output
from prompt_toolkit.shortcuts import CompleteStyle

from bot.bell.calls import Calls
from bot.lines import PAUSE_S
from bot.terminal.history import LineHistory
from engine.data.forms import Forms
from engine.entries.phrases.phrase import Phrases
from engine.entries.phrases.vocabulary import Vocabulary
from engine.expectation import Asking, Expectation
from engine.queues.outbox_message import OutboxMessage

_PATTERN = re.compile(r"[\[\]()|<>+]")


class LineEditor:
    """Reads lines; raises EOFError where the input ends, KeyboardInterrupt where it is stopped.

    What ``calls`` brings while a line is typed is given to ``show`` above it; all is done on one thread.
    """

    def __init__(
        self, history: LineHistory, completer: Completer, calls: Calls | None, show: Callable[[OutboxMessage], None]
    ) -> None:
        self._calls, self._show = calls, show
        self._session: PromptSession[str] = PromptSession(
            history=history,
            completer=completer,
            complete_style=CompleteStyle.READLINE_LIKE,
            complete_while_typing=False,
            output=_output(),
        )

    def read(self, prompt: str) -> Iterator[str]:
        """What was typed behind a prompt; several lines where they were pasted together."""
        asked = FormattedText([("bold ansigreen", prompt), ("", " ")])
        return (line for line in self._session.prompt(asked, pre_run=self._ring_meanwhile).splitlines() if line.strip())

    def _ring_meanwhile(self) -> None:
        if self._calls:
            get_app().create_background_task(self._ring(self._calls))

    async def _ring(self, calls: Calls) -> None:
        while True:
            due = calls.due()
            first = next(due, None)
            if first is not None:
                await run_in_terminal(partial(self._show_all, first, due))
            await asyncio.sleep(PAUSE_S)

    def _show_all(self, first: OutboxMessage, rest: Iterator[OutboxMessage]) -> None:
        """Each is marked as shown when the next one is asked for."""
        self._show(first)
        for message in rest:
            self._show(message)


def _output() -> Output:
    """The terminal, which is never asked where its cursor is: not every one answers."""
    output = create_output()
    if hasattr(output, "enable_cpr"):
        output.enable_cpr = False
    return output


def sayings(expected: Expectation, vocabulary: Vocabulary, forms: Forms) -> tuple[str, ...]:
    """Whole lines that may be said now, what is asked for first; each once."""
    commands = (phrases for _, phrases in vocabulary.orders.values())
    reports = (vocabulary.reports[report] for report in expected.reports)
    found = (
        *_closed(expected, forms),
        *(plain for phrases in (*reports, *commands) for plain in _plain(phrases)),
        *(words[0] for words in expected.dialogs.values()),
    )
    return tuple(dict.fromkeys(found))


def _closed(expected: Expectation, forms: Forms) -> Iterator[str]:
    """The closed answers to what is asked."""
    match expected.asking:
        case Asking.CONFIRM:
            yield from (forms.answers.yes.lower(), forms.answers.no.lower())
        case Asking.CHOOSE:
            yield from forms.order[: len(expected.candidates)]
        case Asking.SLOT:
            yield from (option.words[0] for option in expected.slots[0].options)
            yield from expected.slots[0].names
        case Asking.NOTHING | Asking.REPORT:
            return


def _plain(phrases: Phrases) -> Iterator[str]:
    """The first of some phrases that is words alone."""
    yield from [phrase.say for phrase in phrases if not _PATTERN.search(phrase.say)][:1]


class SayingCompleter(Completer):
    """Completes the whole line to something that may be said now; ``now`` gives all of it."""

    def __init__(self, now: Callable[[], Iterable[str]]) -> None:
        self._now = now

    def get_completions(self, document: Document, complete_event: CompleteEvent) -> Iterator[Completion]:  # noqa: ARG002
        begun = document.text_before_cursor.lstrip()
        for saying in self._now():
            if saying.casefold().startswith(begun.casefold()):
                yield Completion(saying, start_position=-len(begun))
