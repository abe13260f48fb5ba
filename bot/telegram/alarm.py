"""What is wrong on the machine: rows that stopped or give nothing, and rates over the label's highest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import engine.calculations.library  # noqa: F401
from bot.sheet.sheet import judged
from bot.telegram.texts import ChatKey
from engine.calculations.catalogue import Argument, formulas
from engine.dialog.roles import Phase, Role
from engine.errors import InputError
from engine.history.journal import StoredTurn
from engine.history.records import calibrations
from engine.history.turn_facts import facts_of
from engine.messages import Report
from engine.quantities import Measure
from engine.shift.facts import Noted, OverLabel
from engine.texts import Several
from engine.values import Value

BEFORE = Phase.SET_UP, Phase.CALIBRATION
LABEL = {"label_low": Role.LABEL_LOW, "label_high": Role.LABEL_HIGH, "spacing": Role.SPACING}
"""The arguments of the formula ``label-check`` beside the rate, and what they are."""


@dataclass(frozen=True)
class Alarm:
    """Something that is wrong, and with which rows."""

    key: ChatKey
    rows: tuple[int, ...]

    @property
    def named(self) -> str:
        named = ", ".join(map(str, self.rows))
        return Several(named) if len(self.rows) > 1 else named


def alarms(turns: Sequence[StoredTurn]) -> tuple[Alarm, ...]:
    """The alarms of the last test run in the turns of one conversation, given from its first turn on."""
    records = calibrations(turns)
    if not records:
        return ()
    run = judged(records[-1])
    stopped = tuple(
        row for row, net in run.rows.get(Role.NET, {}).items() if isinstance(net, Measure) and net.value <= 0
    )
    known = _known(turns)
    return _found(stopped, tuple(row for row, rate in run.rows.get(Role.ROW_RATE, {}).items() if _is_over(rate, known)))


def alarms_of_shift(turns: Sequence[StoredTurn]) -> tuple[Alarm, ...]:
    """The alarms in the last of these turns, during a shift: a row that stopped, a true rate over the label."""
    facts = facts_of(turns[-1]) if turns else ()
    stopped = tuple(row for one in facts if isinstance(one, Noted) and one.report is Report.STOPPED for row in one.rows)
    over = [row for one in facts if isinstance(one, OverLabel) for row in one.rows or _rows(turns)]
    return _found(stopped, tuple(over))


def _found(stopped: tuple[int, ...], over: tuple[int, ...]) -> tuple[Alarm, ...]:
    found = Alarm(ChatKey.ROW_STOPPED, stopped), Alarm(ChatKey.ROW_OVER_LABEL, over)
    return tuple(alarm for alarm in found if alarm.rows)


def _known(turns: Sequence[StoredTurn]) -> dict[str, Value]:
    """What set-up and test run left known of the whole machine."""
    last = [found[-1].values for phase in BEFORE if (found := calibrations(turns, phase))]
    return {name: value for values in last for name, value in values.items()}


def _rows(turns: Sequence[StoredTurn]) -> range:
    rows = _known(turns).get(Role.ROWS)
    return range(1, rows + 1) if isinstance(rows, int) else range(0)


def _is_over(rate: Value, known: dict[str, Value]) -> bool:
    """Whether a row gives more than the label's highest rate as it was entered; False where that is not known."""
    given = {"rate": rate, **{argument: known.get(role) for argument, role in LABEL.items()}}
    arguments: dict[str, Argument] = {name: value for name, value in given.items() if isinstance(value, Measure)}
    if len(arguments) < len(given):
        return False
    try:
        return formulas()["label-check"].evaluate(arguments).outcome == "above"
    except InputError:
        return False
