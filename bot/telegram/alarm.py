"""What a test run that ended or was left leaves wrong: rows that give nothing, rows over the label's highest rate."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import engine.calculations.library  # noqa: F401
from bot.sheet.sheet import judged
from bot.telegram.texts import Key
from engine.calculations.catalogue import Argument, formulas
from engine.errors import InputError
from engine.history.journal import StoredTurn
from engine.history.records import calibrations
from engine.quantities import Measure
from engine.values import Value

SET_UP = "set-up"


@dataclass(frozen=True)
class Alarm:
    """Something that is wrong, and with which rows."""

    key: Key
    rows: tuple[int, ...]

    @property
    def named(self) -> str:
        return ", ".join(map(str, self.rows))


def alarms(turns: Sequence[StoredTurn]) -> tuple[Alarm, ...]:
    """The alarms of the last test run in the turns of one conversation, given from its first turn on."""
    records, before = calibrations(turns), calibrations(turns, SET_UP)
    if not records:
        return ()
    run = judged(records[-1])
    known = {**(before[-1].values if before else {}), **records[-1].values}
    stopped = tuple(row for row, net in run.rows.get("net", {}).items() if isinstance(net, Measure) and net.value <= 0)
    over = tuple(row for row, rate in run.rows.get("row_rate", {}).items() if _is_over(rate, known))
    found = Alarm(Key.ROW_STOPPED, stopped), Alarm(Key.ROW_OVER_LABEL, over)
    return tuple(alarm for alarm in found if alarm.rows)


def _is_over(rate: Value, known: dict[str, Value]) -> bool:
    """Whether a row gives more than the label's highest rate as it was entered; False where that is not known."""
    given = {"rate": rate, **{name: known.get(name) for name in ("label_low", "label_high", "spacing")}}
    arguments: dict[str, Argument] = {name: value for name, value in given.items() if isinstance(value, Measure)}
    if len(arguments) < len(given):
        return False
    try:
        return formulas()["label-check"].evaluate(arguments).outcome == "above"
    except InputError:
        return False
