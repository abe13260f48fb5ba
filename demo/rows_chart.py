"""The rows of a calibration: how far each is from the target in a run, and the record of all runs."""

from __future__ import annotations

from rich.table import Table
from rich.text import Text

from demo.letters import DemoResult, RowResult
from demo.palette import ALARM, FIELD, HAND
from demo.wording import DemoWording
from engine.dialog.schema.slot_roles import Role
from engine.history.records import Calibration

HALF = 20
"""Columns to either side of the target."""
WIDEST = 0.40
"""Share of the target that the outermost column stands for."""
TOLERANCE = 0.05
VERDICT_STYLE = {"on_target": "bold #7fb069", "closest_notch": "bold #7fb069", "adjust": "bold #e0a526"}


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
