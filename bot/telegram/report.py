"""Test runs in a few lines, one that finished or those of a row: as recorded, nothing computed anew."""

from __future__ import annotations

from collections.abc import Sequence

from bot.sheet.sheet import About, Mark, SheetRow, sheet
from bot.sheet.words import SheetWords
from bot.telegram.texts import ChatTexts, Key
from engine.dialog.roles import Role
from engine.history.records import Calibration
from engine.history.rows import RowRun
from engine.messages import Language
from engine.quantities import Measure


def report(record: Calibration, words: SheetWords, about: About) -> str:
    """The last run of a calibration for who was not there: who and where, how many rows are on target, and a line for
    every row that is not."""
    drawn = sheet(record, words, about)
    first = words.say(Key.RUN_FINISHED, who=about.who or words.say(Key.AN_OPERATOR), run=drawn.title)
    told = filter(None, (about.product, words.figure(record.values.get(Role.RATE))))
    head = " ".join([first, f"{drawn.summary}.", f"{', '.join(told)}."])
    off = [row for row in drawn.rows if row.mark is not Mark.ON_TARGET]
    return "\n".join([head, *(_row(row, words) for row in off)])


def row_told(row: int, runs: tuple[RowRun, ...], texts: ChatTexts, language: Language, most: int | None = None) -> str:
    """The catches of a row and the settings that gave them, the last ones where there are more than ``most``."""
    told = runs_told(runs, texts, language, most)
    return texts.say(Key.HISTORY_ROW, language, row=str(row), runs=told or "-")


def runs_told(runs: Sequence[RowRun], texts: ChatTexts, language: Language, most: int | None = None) -> str:
    """The same without the row."""
    weighed = [run for run in runs if isinstance(run.values.get(Role.NET), Measure)]
    return ", ".join(_run(run, texts, language) for run in weighed[-(most or len(weighed)) :])


def _run(run: RowRun, texts: ChatTexts, language: Language) -> str:
    error = run.values.get(Role.ERROR)
    off = f" ({error.to('%').value:+.1f} %)" if isinstance(error, Measure) else ""
    setting, net = str(run.values.get(Role.SETTING, "?")), _shown(run.values.get(Role.NET))
    return texts.say(Key.HISTORY_RUN, language, setting=setting, net=net, off=off)


def _row(row: SheetRow, words: SheetWords) -> str:
    """What it gave and what to do: a move says by itself that the dial is moved, a misfit what was weighed."""
    done = () if row.mark is Mark.MOVE else (row.verdict,)
    gave = () if row.mark is Mark.FAULT and row.verdict else (row.catch,)
    return words.say(Key.RUN_ROW, row=str(row.row), told=", ".join(filter(None, (*gave, row.setting, *done))))


def _shown(value: object) -> str:
    return f"{value.value:.1f} {value.unit}" if isinstance(value, Measure) else "?"
