"""Test runs in a few lines, one that finished or those of a row: as recorded, nothing computed anew."""

from __future__ import annotations

from bot.sheet.sheet import judged
from bot.telegram.texts import ChatTexts, Key
from engine.dialog.roles import Role
from engine.history.records import Calibration, Run
from engine.history.rows import RowRun
from engine.messages import Language
from engine.quantities import Measure


def report(record: Calibration, texts: ChatTexts, language: Language) -> str:
    """The last run of a calibration: a line for the machine, and one for every row of the planter."""
    run = judged(record)
    head = texts.say(Key.RUN_FINISHED, language, run=str(run.number), target=_shown(record.values.get(Role.TARGET)))
    return "\n".join([head, *(_row(run, row, texts, language) for row in record.rows)])


def row_told(row: int, runs: tuple[RowRun, ...], texts: ChatTexts, language: Language, most: int | None = None) -> str:
    """The catches of a row and the settings that gave them, the last ones where there are more than ``most``."""
    weighed = [run for run in runs if isinstance(run.values.get(Role.NET), Measure)]
    told = ", ".join(_run(run, texts, language) for run in weighed[-(most or len(weighed)) :])
    return texts.say(Key.HISTORY_ROW, language, row=str(row), runs=told or "-")


def _run(run: RowRun, texts: ChatTexts, language: Language) -> str:
    error = run.values.get(Role.ERROR)
    off = f" ({error.to('%').value:+.1f} %)" if isinstance(error, Measure) else ""
    setting, net = str(run.values.get(Role.SETTING, "?")), _shown(run.values.get(Role.NET))
    return texts.say(Key.HISTORY_RUN, language, setting=setting, net=net, off=off)


def _row(run: Run, row: int, texts: ChatTexts, language: Language) -> str:
    values = run.of(row)
    setting, net, error = values.get(Role.SETTING, "?"), values.get(Role.NET), values.get(Role.ERROR)
    if not isinstance(net, Measure):
        return texts.say(Key.RUN_ROW_OPEN, language, row=str(row), setting=str(setting))
    off = f"{error.value * 100:+.1f} %" if isinstance(error, Measure) else "?"
    return texts.say(Key.RUN_ROW, language, row=str(row), setting=str(setting), net=_shown(net), off=off)


def _shown(value: object) -> str:
    return f"{value.value:.1f} {value.unit}" if isinstance(value, Measure) else "?"
