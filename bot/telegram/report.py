"""Test runs and shifts in a few lines, one that ended or the runs of a row: as recorded, nothing computed anew."""

from __future__ import annotations

from collections.abc import Sequence

from bot.record.account import RecordReport
from bot.sheet.sheet import RowMark, SheetHeader, SheetRow, judged, sheet
from bot.sheet.words import SheetWords, spans
from bot.telegram.message import CAPTION, size
from bot.telegram.texts import ChatKey, ChatTexts
from engine.dialog.roles import Role
from engine.history.records import Calibration
from engine.history.rows import RowRun
from engine.history.shifts import ShiftRecord
from engine.messages import Language
from engine.quantities import Measure

WORST = (
    RowMark.FAULT,
    RowMark.NO_CATCH,
    RowMark.MOVE,
    RowMark.AGAIN,
    RowMark.LEFT_OUT,
    RowMark.NOT_SURE,
    RowMark.CLOSEST,
)
"""Rows that are not on target, in the order in which a foreman wants to hear of them."""


def report(record: Calibration, words: SheetWords, about: SheetHeader) -> str:
    """The last run of a calibration for who was not there: who and which planter, how many rows are on target, what was
    calibrated, and a line for every row that is not, the worst first; as many as go under a picture."""
    drawn = sheet(record, words, about)
    who = ", ".join(filter(None, (about.who or words.say(ChatKey.AN_OPERATOR), about.planter)))
    first = words.say(ChatKey.RUN_FINISHED, who=who, run=str(judged(record).number))
    told = [told for told in (about.field, about.product, words.figure(record.values.get(Role.RATE))) if told]
    head = [first, f"{drawn.summary}.", *([f"{', '.join(told)}."] if told else [])]
    off = [row for mark in WORST for row in drawn.rows if row.mark is mark]
    return _short(head, off, words)


def _short(head: Sequence[str], off: Sequence[SheetRow], words: SheetWords) -> str:
    """What does not go under the picture stands in it, and is named."""
    for told in range(len(off), -1, -1):
        rest = spans(sorted(row.row for row in off[told:]))
        last = [words.say(ChatKey.RUN_REST, rows=rest)] if rest else []
        text = "\n".join([*head, *(_row(row, words) for row in off[:told]), *last])
        if size(text) <= CAPTION:
            break
    return text


def over(record: ShiftRecord, told: RecordReport, head: str, lacking: Sequence[str]) -> str:
    """A shift for who was not there: what was planted where, rates over the label, rows in doubt with the stopped ones
    first, then the shift in words and what its application record lacks."""
    planted = ", ".join([*record.fields, *record.products, told.rough(record.state.wanted)])
    first = [*told.label(record), *told.scouting([record], stopped_first=True)]
    rest = [line for line in told.shift(record) if line not in first]
    return "\n".join([head, f"{planted}.", *first, *rest, *lacking])


def row_told(row: int, runs: tuple[RowRun, ...], texts: ChatTexts, language: Language, most: int | None = None) -> str:
    """The catches of a row and the settings that gave them, the last ones where there are more than ``most``."""
    told = runs_told(runs, texts, language, most)
    return texts.say(ChatKey.HISTORY_ROW, language, row=str(row), runs=told or "-")


def runs_told(runs: Sequence[RowRun], texts: ChatTexts, language: Language, most: int | None = None) -> str:
    """The same without the row."""
    weighed = [run for run in runs if isinstance(run.values.get(Role.NET), Measure)]
    return ", ".join(_run(run, texts, language) for run in weighed[-(most or len(weighed)) :])


def _run(run: RowRun, texts: ChatTexts, language: Language) -> str:
    error = run.values.get(Role.ERROR)
    off = f" ({error.to('%').value:+.1f} %)" if isinstance(error, Measure) else ""
    setting, net = str(run.values.get(Role.SETTING, "?")), _shown(run.values.get(Role.NET))
    return texts.say(ChatKey.HISTORY_RUN, language, setting=setting, net=net, off=off)


def _row(row: SheetRow, words: SheetWords) -> str:
    """What it gave and what to do: a move says by itself that the dial is moved, a misfit what was weighed."""
    done = () if row.mark is RowMark.MOVE else (row.verdict,)
    gave = () if row.mark is RowMark.FAULT and row.verdict else (row.catch,)
    return words.say(ChatKey.RUN_ROW, row=str(row.row), told=", ".join(filter(None, (*gave, row.setting, *done))))


def _shown(value: object) -> str:
    return f"{value.value:.1f} {value.unit}" if isinstance(value, Measure) else "?"
