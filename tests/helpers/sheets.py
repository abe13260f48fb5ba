"""Test runs as records, for tests of what is drawn: rows on target, off, not sure, and without a catch."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

from bot.sheet.sheet import RunSheet, SheetHeader, sheet
from bot.sheet.words import sheet_words
from engine.calculations.advisor.verdict import Verdict
from engine.dialog.schema.slot_roles import Role
from engine.history.records import Calibration, TestRun
from engine.history.store.segments import Ending
from engine.messages import Language, System
from engine.quantities import Measure
from engine.values import Rows, Setting

EVENING = datetime(2026, 4, 22, 1, 16, tzinfo=UTC)
LONG = SheetHeader(
    planter="The long red planter with new boxes", product="Product A of the northern cooperative, granules 15 %",
    field="North field behind the old river road", lot="4711-A, 4712-B", who="Maximiliana Longname-Somewhere",
)  # fmt: skip
SHORT = SheetHeader(planter="Big red", product="Product A", who="Otto")


def grams(value: float) -> Measure:
    return Measure(value=value, unit="g")


def _verdicts(rows: int) -> Iterator[tuple[int, Verdict, float]]:
    for row in range(1, rows + 1):
        if row == 3:
            yield row, Verdict.ADJUST, 79
        elif row == 5:
            yield row, Verdict.ADJUST, 60
        elif row == 6:
            yield row, Verdict.NOT_SURE, 70
        elif row == 8:
            yield row, Verdict.DOUBTFUL_CATCH, 35
        elif row != 7:
            yield row, Verdict.ON_TARGET, 67 + row % 3


def run(rows: int) -> Calibration:
    """So many rows at 8.7 lb/acre: 3 and 5 are off, 6 is not sure, 7 was not caught, 8 does not fit."""
    found = tuple(_verdicts(rows))
    rates = {row: Measure(value=8.7 * net / 68, unit="lb/acre") for row, _, net in found}
    by_role: dict[str, Rows] = {
        Role.NET: {row: grams(net) for row, _, net in found},
        Role.VERDICT: {row: verdict.value for row, verdict, _ in found},
        Role.SETTING: {row: Setting(position=12, label="12") for row in range(1, rows + 1)},
        Role.NEXT_SETTING: {3: Setting(position=10, label="10"), 5: Setting(position=14, label="14")},
        Role.EXPECTED_RATE: dict(rates),
        Role.EXPECTED_LOW: {row: rate.model_copy(update={"value": rate.value * 0.97}) for row, rate in rates.items()},
        Role.EXPECTED_HIGH: {row: rate.model_copy(update={"value": rate.value * 1.03}) for row, rate in rates.items()},
        Role.GAVE: {8: grams(35)},
        Role.GAVE_BEFORE: {8: grams(68)},
    }
    values = {
        Role.RATE: Measure(value=8.7, unit="lb/acre"),
        Role.LABEL_LOW: Measure(value=5, unit="lb/acre"),
        Role.LABEL_HIGH: Measure(value=10, unit="lb/acre"),
        Role.SPEED: Measure(value=5, unit="mph"),
        Role.COURSE: Measure(value=300, unit="ft"),
        Role.SPACING: Measure(value=30, unit="in"),
        Role.SCALE: "shop scale",
        Role.SCALE_STEP: grams(1),
        Role.TARGET: grams(68),
        Role.TOLERANCE: Measure(value=5, unit="%"),
    }
    return Calibration(
        conversation="c",
        dialog="test-run",
        first=1,
        last=9,
        started_at=EVENING - timedelta(minutes=20),
        ended_at=EVENING,
        ending=Ending.FINISHED,
        values=dict(values),
        runs=(TestRun(number=1, when=EVENING, rows=by_role, machine={}),),
        system=System.US,
    )


def run_sheet(rows: int, language: Language = "en", about: SheetHeader = SHORT) -> RunSheet:
    return sheet(run(rows), sheet_words(language, UTC), about)
