"""Advice on plain numbers: grams and dial positions in, advice out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from engine.calculations.advisor.verdict import Advice
from engine.calculations.formulas import formulas
from engine.quantities import quantity
from engine.values import Dial, Setting
from tests.helpers.quantities import q

DIAL = Dial.numbered(1, 40, 0.5)
TARGET, TOLERANCE, STEP = q("49.5 g"), q("5 %"), q("1 g")
Run = Mapping[int, float]


def grams(run: Run) -> dict[int, Any]:
    return {row: quantity(one, "g") for row, one in run.items()}


def advice(caught: Sequence[Run], positions: Sequence[Run], dial: Dial = DIAL, **more: Any) -> Advice:
    at = [{row: dial.setting(one) for row, one in run.items()} for run in positions]
    return advised([grams(run) for run in caught], at, dial, **more)


def advised(
    caught: Sequence[Mapping[int, Any]], settings: Sequence[Mapping[int, Setting]], dial: Dial, **more: Any
) -> Advice:
    """Advice on the arguments by name, those of the tests where nothing is said."""
    usual = {"target": TARGET, "tolerance": TOLERANCE, "scale_step": STEP}
    found: Advice = formulas()["advise"].reckon({"caught": caught, "settings": settings, "dial": dial} | usual | more)
    return found


def everywhere(value: float, rows: int = 8) -> dict[int, float]:
    return dict.fromkeys(range(1, rows + 1), value)


def probability(found: Advice, row: int = 1) -> float:
    assert found.probabilities is not None
    return float(found.probabilities[row].magnitude)
