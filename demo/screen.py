"""What the demo shows of the talk as it goes: what is said and answered, the crash, the calls, what a look saved."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path
from typing import assert_never

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.panel import Panel
from rich.rule import Rule
from rich.table import Table
from rich.text import Text

from demo.letters import DemoCall, DemoTurn
from demo.palette import ALARM, FIELD, HAND, OPERATOR
from demo.play import Crash, DemoEvent, DemoSaid
from demo.rows_chart import record_table, rows_picture
from demo.saving import RowStops, Saved
from demo.script_lines import DemoPart
from demo.wording import DemoWording
from engine.expectation import Asking
from engine.history.records import Calibration

ASSISTANT = "rowhand"
COLUMNS = 80


class DemoScreen:
    """Prints an evening to a console; ``clock`` writes a moment as on the wall."""

    def __init__(self, console: Console, wording: DemoWording, clock: Callable[[datetime], str]) -> None:
        self._console = console
        self._words = wording
        self._clock = clock

    def opening(self, *lines: str) -> None:
        self._console.print(Text(self._words.title, style="bold"))
        for line in lines:
            self._console.print(Text(line, style="dim"))

    def part(self, part: DemoPart) -> None:
        self._console.print()
        self._console.print(Rule(Text(self._words.parts[part], style="bold"), style=FIELD))

    def show(self, event: DemoEvent) -> None:
        """Print what happened."""
        match event:
            case DemoSaid():
                self._said(event)
            case Crash():
                self._crash(event)
            case DemoCall():
                note = self._words.again.format(attempt=event.attempt)
                self._console.print(_turn(ASSISTANT, Text(event.text), ALARM, note, self._clock(event.at)))
            case RowStops(row, at):
                self._console.print(_turn("", Text(self._words.stops.format(row=row)), ALARM, "", self._clock(at)))
            case Saved():
                self._boxed(saved_table(event, self._words, self._clock), self._words.saved_title, HAND)
            case _:
                assert_never(event)

    def calibrated(self, record: Calibration, seconds: float) -> None:
        self._console.print(Padding(record_table(record, self._words), (1, 0, 0, 0)))
        self._console.print(Text(self._words.took.format(seconds=seconds), style="dim"))

    def foreman(self, *texts: str) -> None:
        """Messages on the phone of the foreman."""
        for text in texts:
            self._boxed(Text(text), self._words.foreman, OPERATOR)

    def files(self, files: Sequence[Path], commands: tuple[str, str], seconds: float) -> None:
        """Where the record lies, and how to look at it."""
        words, (look, ask) = self._words, commands
        for name, file in zip(words.files, files, strict=True):
            self._line(f"{name}: {file}")
        self._line(words.kept, "dim")
        self._line(f"{words.look}: {look}")
        self._line(f"{words.ask}: {ask}")
        self._line(f"  {words.question}", "dim")
        self._line(words.played.format(seconds=seconds), "dim")

    def _line(self, text: str, style: str = "") -> None:
        """A line that a terminal may break, and nobody else: it is to be copied."""
        self._console.print(Text(text, style=style), soft_wrap=True)

    def _said(self, said: DemoSaid) -> None:
        answered, words = said.answered, self._words
        at = self._clock(answered.at) if said.line.part is DemoPart.NIGHT else ""
        note = _ears(answered) if answered.ears or not said.line.typed else words.by_hand
        if said.line.brief and answered.standing.asking is Asking.SLOT:
            self._console.print(_brief(words.operator, answered, _sure(answered) or note, at))
            return
        self._console.print(_turn(words.operator, Text(answered.heard, style="bold"), OPERATOR, note, at))
        self._console.print(_turn(ASSISTANT, Text(answered.reply), HAND, "", " " if at else ""))
        if answered.result:
            self._console.print(Padding(rows_picture(answered.result, words), (1, 0, 1, 2)))

    def _crash(self, crash: Crash) -> None:
        words = self._words
        killed = words.killed.format(pid=crash.pid, text=crash.text)
        same = words.same if crash.resumed else words.other
        back = words.back.format(seconds=crash.seconds, turn=crash.after.turn, same=same)
        self._boxed(Group(Text(killed), Text(back), Text(crash.after.prompt, style=HAND)), words.crash, ALARM)

    def _boxed(self, body: RenderableType, title: str, style: str) -> None:
        self._console.print(Padding(Panel(body, title=title, title_align="left", border_style=style), (1, 0)))


def _turn(who: str, what: Text, style: str, note: str = "", at: str = "") -> Table:
    """Who says what, with what is to be noted of it; the hour in front where it matters."""
    table = _grid((*((9,) if at else ()), 9), bool(note))
    hour = (Text(at, style="dim"),) if at else ()
    table.add_row(*hour, Text(who, style=style), what, *((Text(note, style="dim"),) if note else ()))
    return table


def _brief(who: str, answered: DemoTurn, note: str, at: str) -> Table:
    """An answer to a plain question and what was kept of it, on one line."""
    said = answered.reply.removesuffix(answered.standing.prompt).split("\n")
    table = _grid((9, 9, 20) if at else (9, 30), bool(note))
    hour = (Text(at, style="dim"),) if at else ()
    heard, kept = Text(answered.heard, style="bold"), Text(" ".join(filter(None, said)), style=HAND)
    table.add_row(*hour, Text(who, style=OPERATOR), heard, kept, *((Text(note, style="dim"),) if note else ()))
    return table


def _grid(widths: Sequence[int], noted: bool) -> Table:
    """Columns of these widths, then what is said, then a note where there is one."""
    table = Table.grid(padding=(0, 1), expand=True)
    for width in widths:
        table.add_column(width=width, justify="right" if width == 9 else "left")
    table.add_column(ratio=1)
    if noted:
        table.add_column(justify="right", no_wrap=True)
    return table


def _ears(answered: DemoTurn) -> str:
    return f"{answered.ears} {_sure(answered)} {answered.seconds:.1f} s" if answered.ears else ""


def _sure(answered: DemoTurn) -> str:
    return f"{answered.sure:.0%}" if answered.ears else ""


def saved_table(saved: Saved, words: DemoWording, clock: Callable[[datetime], str]) -> Table:
    """What a look saved, in five lines."""
    row, over = saved.stopped.row, saved.over
    told = (
        words.secret.format(at=clock(saved.stopped.at)),
        ", ".join(clock(call.at) for call in saved.calls),
        words.feeds.format(found=clock(saved.found.until), over=clock(over.until)),
        words.in_doubt.format(since=clock(over.since), until=clock(over.until), area=over.area, short=over.short),
        words.without.format(at=clock(saved.found.empty_at), more=saved.found.more) if saved.found.empty_at else "",
    )
    table = Table.grid(padding=(0, 2))
    table.add_column(no_wrap=True)
    table.add_column()
    for name, text in zip(words.saved, told, strict=True):
        table.add_row(Text(name.format(row=row), style="dim"), Text(text))
    return table
