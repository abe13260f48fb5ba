"""A finished test run in a few lines for the foreman: as it was recorded, nothing computed anew."""

from __future__ import annotations

from bot.sheet.sheet import judged
from bot.telegram.texts import Key, Texts
from engine.history.records import Calibration, Run
from engine.messages import Language
from engine.quantities import Measure


def report(record: Calibration, texts: Texts, language: Language) -> str:
    """The last run of a calibration: a line for the machine, and one for every row of the planter."""
    run = judged(record)
    head = texts.say(Key.RUN_FINISHED, language, run=str(run.number), target=_shown(record.values.get("target")))
    return "\n".join([head, *(_row(run, row, texts, language) for row in record.rows)])


def _row(run: Run, row: int, texts: Texts, language: Language) -> str:
    values = run.of(row)
    setting, net, error = values.get("dial_setting", "?"), values.get("net"), values.get("error")
    if not isinstance(net, Measure):
        return texts.say(Key.RUN_ROW_OPEN, language, row=str(row), setting=str(setting))
    off = f"{error.value * 100:+.1f} %" if isinstance(error, Measure) else "?"
    return texts.say(Key.RUN_ROW, language, row=str(row), setting=str(setting), net=_shown(net), off=off)


def _shown(value: object) -> str:
    return f"{value.value:.1f} {value.unit}" if isinstance(value, Measure) else "?"
