"""What the demo shows: the talk as it goes, the rows closing in on the target after each run, the record at the end."""

from __future__ import annotations

from rich.console import Console, Group
from rich.padding import Padding
from rich.panel import Panel
from rich.rule import Rule
from rich.table import Table
from rich.text import Text

from demo.letters import DemoResult, DemoTurn, RowResult
from demo.play import Crash, DemoSaid
from demo.wording import DemoWording
from engine.dialog.schema.slot_roles import Role
from engine.history.records import Calibration

HALF = 20
"""Columns to either side of the target."""
WIDEST = 0.40
"""Share of the target that the outermost column stands for."""
TOLERANCE = 0.05
OPERATOR, HAND, FIELD, ALARM = "bold #e0a526", "#7fb069", "#5c6f57", "bold #d1495b"
VERDICT_STYLE = {"on_target": "bold #7fb069", "closest_notch": "bold #7fb069", "adjust": "bold #e0a526"}


class DemoScreen:
    """Prints an evening to a console."""

    def __init__(self, console: Console, wording: DemoWording) -> None:
        self._console = console
        self._words = wording

    def opening(self, how: str) -> None:
        self._console.print(Rule(Text(self._words.title, style="bold"), style=FIELD))
        self._console.print(Text(how, style="dim"))
        self._console.print()

    def show(self, event: DemoSaid | Crash) -> None:
        if isinstance(event, Crash):
            self._crash(event)
            return
        self._console.print(self._operator(event))
        self._console.print(self._hand(event.answered.reply))
        if event.answered.result:
            self._console.print(Padding(rows_picture(event.answered.result, self._words), (1, 0, 1, 2)))

    def summary(self, record: Calibration, seconds: float) -> None:
        self._console.print(Padding(record_table(record, self._words), (1, 0, 0, 0)))
        self._console.print(Text(self._words.took.format(seconds=seconds), style="dim"))

    def _operator(self, said: DemoSaid) -> Table:
        return _turn(self._words.operator, Text(said.answered.heard, style="bold"), OPERATOR, _ears(said.answered))

    def _hand(self, reply: str) -> Table:
        return _turn("rowhand", Text(reply), HAND)

    def _crash(self, crash: Crash) -> None:
        words = self._words
        killed = words.killed.format(pid=crash.pid, text=crash.text)
        same = words.same if crash.resumed else words.other
        back = words.back.format(seconds=crash.seconds, turn=crash.after.turn, same=same)
        body = Group(Text(killed), Text(back), Text(crash.after.prompt, style=HAND))
        self._console.print(Padding(Panel(body, title=words.crash, title_align="left", border_style=ALARM), (1, 0)))


def _turn(who: str, what: Text, style: str, note: str = "") -> Table:
    table = Table.grid(padding=(0, 1), expand=True)
    table.add_column(width=9, justify="right")
    table.add_column(ratio=1)
    table.add_column(justify="right")
    table.add_row(Text(who, style=style), what, Text(note, style="dim"))
    return table


def _ears(answered: DemoTurn) -> str:
    return f"{answered.ears} {answered.sure:.0%} {answered.seconds:.1f} s" if answered.ears else ""


def rows_picture(result: DemoResult, words: DemoWording) -> Table:
    """One line for each row of a run: how far it is from the target, and where its dial goes."""
    table = Table.grid(padding=(0, 2))
    title = Text(words.run.format(run=result.run, target=result.target_g), style="bold")
    table.add_row("", title, "", "")
    for row in result.rows:
        style = VERDICT_STYLE.get(row.verdict, ALARM)
        off = Text(f"{row.off:+.1%}", style=style)
        table.add_row(Text(f"{words.row} {row.row}", style="dim"), track(row.off, style), off, _dial(row))
    return table


def track(off: float, style: str) -> Text:
    """A row's place on a line whose middle is the target and whose bright part is the tolerance."""
    at = round(max(-1.0, min(1.0, off / WIDEST)) * HALF)
    line = Text()
    for column in range(-HALF, HALF + 1):
        inside = abs(column) <= TOLERANCE / WIDEST * HALF
        if column == at:
            line.append("●", style=style)
        elif column == 0:
            line.append("┃", style=HAND)
        else:
            line.append("━" if inside else "─", style=HAND if inside else FIELD)
    return line


def _dial(row: RowResult) -> Text:
    moved = row.next != row.setting
    return Text(f"{row.setting} → {row.next}" if moved else row.setting, style="" if moved else "dim")


def record_table(record: Calibration, words: DemoWording) -> Table:
    """The record of the calibration, row by row: dial and catch of every run, and how it ended."""
    table = Table(title=words.record, title_justify="left", title_style="bold", border_style=FIELD, header_style=HAND)
    table.add_column(words.row, justify="right")
    for run in record.runs:
        table.add_column(words.dial_and_catch.format(run=run.number), justify="right")
    table.add_column(words.ended)
    for row in record.rows:
        cells = [f"{run.of(row)[Role.SETTING]} · {run.of(row)[Role.CATCH_MASS]}" for run in record.runs]
        last = record.runs[-1].of(row)
        table.add_row(str(row), *cells, Text(words.verdicts[str(last[Role.VERDICT])], style=HAND))
    return table
