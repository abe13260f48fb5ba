"""The record as CSV: RFC 4180, one header line, UTF-8 when written, instants in UTC.

Everything stands in the units in which its conversation is held. A measure takes two columns, its number and its
unit; what was computed has the digits that scale and stopwatch carry. Text that a spreadsheet would run as a formula
gets an apostrophe in front.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import UTC, datetime
from decimal import Decimal

from engine.dialog.schema.slot_roles import Role
from engine.history.conversion import as_wanted, local
from engine.history.records import Calibration, TestRun
from engine.messages import System
from engine.quantities import Measure
from engine.values import Value

Cells = dict[str, object]
_MACHINE = "machine_"
RATES = frozenset({Role.ROW_RATE, Role.EXPECTED_RATE, Role.EXPECTED_LOW, Role.EXPECTED_HIGH})
MOST_GIVEN, DIGITS = 7, 4
"""Characters of a number that somebody said or typed, at most, and digits of one that was computed."""


def calibration_lines(records: Iterable[Calibration]) -> list[Cells]:
    """One line per row of every run: when, where, every per-row value, and the values of the whole machine."""
    return [
        {
            "planter": record.conversation,
            "dialog": record.dialog,
            "started_at": instant(record.started_at),
            "ended_at": instant(record.ended_at),
            "ending": str(record.ending),
            "run": run.number,
            "run_at": instant(run.when),
            "row": row,
            **cells(_rates_as_wanted(run, row), record.system),
            **{f"{_MACHINE}{name}": cell for name, cell in cells(run.machine, record.system).items()},
        }
        for record in records
        for run in record.runs
        for row in record.rows
        if run.of(row)
    ]


def _rates_as_wanted(run: TestRun, row: int) -> dict[str, Value]:
    """The values of a row, its rates in the unit of the rate that was wanted."""
    wanted, spacing, found = run.machine.get(Role.RATE), run.machine.get(Role.SPACING), run.of(row)
    if not isinstance(wanted, Measure):
        return found
    width = spacing if isinstance(spacing, Measure) else None
    rates = {name: one for name, one in found.items() if name in RATES and isinstance(one, Measure)}
    return found | {name: as_wanted(one, wanted, width) for name, one in rates.items()}


def written(lines: Sequence[Cells]) -> str:
    """Lines under one header; a column that a line lacks is empty there. Nothing for no lines."""
    columns = _columns(lines)
    out = io.StringIO(newline="")
    if lines:
        writer = csv.DictWriter(out, columns, restval="")
        writer.writeheader()
        writer.writerows({name: _safe(cell) for name, cell in line.items()} for line in lines)
    return out.getvalue()


def _columns(lines: Sequence[Cells]) -> list[str]:
    """Every column in order of its first line, a unit right after its number, the machine's last."""
    names = list(dict.fromkeys(name for line in lines for name in line))
    place = {name: number for number, name in enumerate(names)}
    place |= {name: place.get(name.removesuffix("_unit"), number) for name, number in place.items()}
    return sorted(names, key=lambda name: (name.startswith(_MACHINE), place[name], name))


def cells(
    values: Mapping[str, Value], system: System | None = None, shown: Callable[[Measure, System], Measure] = local
) -> Cells:
    """Values as cells: a measure as its number and its unit, as told or as it is ``shown`` in a system."""
    found: Cells = {}
    for name, value in values.items():
        if isinstance(value, Measure):
            held = shown(value, system) if system else value
            found |= {name: carried(held.value), f"{name}_unit": held.unit}
        else:
            found[name] = value if isinstance(value, int) else str(value)
    return found


def carried(value: float) -> float:
    """A number as it was given; one with more digits than anybody gives was computed, and has four that scale and
    stopwatch carry (own decision)."""
    return value if len(repr(abs(value))) <= MOST_GIVEN else float(f"{value:.{DIGITS}g}")


def decimal(value: float) -> str:
    """A number as a spreadsheet reads it everywhere: no exponent, and no point behind a whole one."""
    return f"{Decimal(repr(carried(value))):f}".removesuffix(".0")


def instant(moment: datetime) -> str:
    """A moment in UTC, to the second."""
    return moment.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


def _safe(cell: object) -> object:
    if isinstance(cell, float):
        return decimal(cell)
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(("=", "+", "-", "@", "\t", "\r")) else cell
