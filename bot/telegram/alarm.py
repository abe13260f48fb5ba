"""What is wrong on the machine: rows that stopped or give nothing, and rates over the label's highest."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import engine.calculations.library  # noqa: F401
from bot.sheet.sheet import judged
from bot.telegram.texts import Key
from engine.calculations.catalogue import Argument, formulas
from engine.errors import InputError
from engine.facts import read_fact
from engine.history.journal import StoredTurn
from engine.history.records import TEST_RUN, calibrations
from engine.messages import Report
from engine.quantities import Measure
from engine.shift.facts import Noted, RateFound
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
    records = calibrations(turns)
    if not records:
        return ()
    run = judged(records[-1])
    stopped = tuple(row for row, net in run.rows.get("net", {}).items() if isinstance(net, Measure) and net.value <= 0)
    return _found(stopped, run.rows.get("row_rate", {}), _known(turns))


def alarms_of_shift(turns: Sequence[StoredTurn]) -> tuple[Alarm, ...]:
    """The alarms in the last of these turns, during a shift: a row that stopped, a true rate over the label."""
    facts = [read_fact(fact) for fact in turns[-1].facts] if turns else []
    stopped = tuple(row for one in facts if isinstance(one, Noted) and one.report is Report.STOPPED for row in one.rows)
    rates: dict[int, Value] = {}
    for one in facts:
        if isinstance(one, RateFound):
            rates |= one.rows or dict.fromkeys(_rows(turns), one.rate)
    return _found(stopped, rates, _known(turns)) if stopped or rates else ()


def _found(stopped: tuple[int, ...], rates: Mapping[int, Value], known: dict[str, Value]) -> tuple[Alarm, ...]:
    over = tuple(row for row, rate in rates.items() if _is_over(rate, known))
    found = Alarm(Key.ROW_STOPPED, stopped), Alarm(Key.ROW_OVER_LABEL, over)
    return tuple(alarm for alarm in found if alarm.rows)


def _known(turns: Sequence[StoredTurn]) -> dict[str, Value]:
    """What set-up and test run left known of the whole machine."""
    last = [found[-1].values for dialog in (SET_UP, TEST_RUN) if (found := calibrations(turns, dialog))]
    return {name: value for values in last for name, value in values.items()}


def _rows(turns: Sequence[StoredTurn]) -> range:
    rows = _known(turns).get("rows")
    return range(1, rows + 1) if isinstance(rows, int) else range(0)


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
