"""Test runs and shifts in a few lines, one that ended or the runs of a row: as recorded, nothing computed anew."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import engine.calculations.formulas  # noqa: F401
from bot.record.shift_words import RecordReport
from bot.sheet.sheet import RowMark, SheetHeader, SheetRow, judged, sheet
from bot.sheet.texts import SheetKey
from bot.sheet.words import SheetWords, spans
from bot.telegram.message import CAPTION, size
from bot.telegram.texts import ChatKey
from engine.calculations.catalogue import Argument, formulas
from engine.data.texts import Several
from engine.dialog.schema.slot_roles import Phase, Role
from engine.errors import InputError
from engine.history.records import Calibration, calibrations
from engine.history.shifts import ShiftRecord
from engine.history.store.journal import StoredTurn
from engine.history.store.turn_facts import facts_of
from engine.messages import Report
from engine.quantities import Measure
from engine.shift.record.shift_facts import Noted, OverLabel
from engine.values import Value

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
    who = ", ".join(filter(None, (about.who or words.say(SheetKey.AN_OPERATOR), about.planter)))
    first = words.say(SheetKey.FINISHED, who=who, run=str(judged(record).number))
    told = [told for told in (about.field, about.product, words.figure(record.values.get(Role.RATE))) if told]
    head = [first, f"{drawn.summary}.", *([f"{', '.join(told)}."] if told else [])]
    off = [row for mark in WORST for row in drawn.rows if row.mark is mark]
    return _short(head, off, words)


def _short(head: Sequence[str], off: Sequence[SheetRow], words: SheetWords) -> str:
    """What does not go under the picture stands in it, and is named."""
    for told in range(len(off), -1, -1):
        rest = spans(sorted(row.row for row in off[told:]))
        last = [words.say(SheetKey.ROWS_REST, rows=rest)] if rest else []
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


def row_told(row: int, runs: Sequence[Mapping[str, Value]], words: SheetWords, most: int) -> str:
    """The catches of a row and the settings that gave them, at ``most`` so many of the last ones."""
    return words.say(SheetKey.ROW_RUNS, row=str(row), runs=words.runs(runs, most) or "-")


def _row(row: SheetRow, words: SheetWords) -> str:
    """What it gave and what to do: a move says by itself that the dial is moved, a misfit what was weighed."""
    done = () if row.mark is RowMark.MOVE else (row.verdict,)
    gave = () if row.mark is RowMark.FAULT and row.verdict else (row.catch,)
    return words.say(SheetKey.ROW_TOLD, row=str(row.row), told=", ".join(filter(None, (*gave, row.setting, *done))))


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
