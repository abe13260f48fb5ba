"""One line typed at a terminal, with arrows, what was typed before, Tab, and calls that ring meanwhile."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterator
from functools import partial

from prompt_toolkit import PromptSession
from prompt_toolkit.application import get_app, run_in_terminal
from prompt_toolkit.completion import Completer
from prompt_toolkit.formatted_text import FormattedText
from prompt_toolkit.output import Output
from prompt_toolkit.output.defaults import create_output
from prompt_toolkit.shortcuts import CompleteStyle

from bot.bell.calls import Calls
from bot.lines import PAUSE_S
from bot.terminal.history import LineHistory
from engine.queues.outbox_message import OutboxMessage


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
