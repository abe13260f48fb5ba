"""Whether every row is fit, and which need no second look."""

from __future__ import annotations

import pytest

from engine.calculations.runs.fitness import RowCondition, row_fitness, scale_check
from engine.errors import InputError, OutOfDomain
from tests.helpers.quantities import q


def test_one_row_that_is_not_fit_is_enough() -> None:
    found = row_fitness({1: RowCondition.FIT, 2: RowCondition.HOSE, 3: RowCondition.FIT})
    assert (found.outcome, found.fit) == ("unfit", {1: RowCondition.FIT, 3: RowCondition.FIT})
    assert row_fitness({1: RowCondition.LOOSE}).fit == {}


def test_all_rows_fit() -> None:
    assert row_fitness({1: RowCondition.FIT, 2: RowCondition.FIT}).outcome == "fit"


def test_no_row_was_looked_at() -> None:
    with pytest.raises(InputError):
        row_fitness({})


@pytest.mark.parametrize(
    ("shown", "step", "outcome", "off"),
    [
        ("200 g", "1 g", "agrees", 0.0),
        ("199 g", "1 g", "agrees", 1.0),
        ("201 g", "1 g", "agrees", 1.0),
        ("198 g", "1 g", "off", 2.0),
        ("199.8 g", "0.1 g", "off", 0.2),
        ("7 oz", "0.25 oz", "agrees", 1.553),
        ("0 g", "1 g", "off", 200.0),
    ],
)
def test_a_scale_agrees_with_a_known_weight_within_one_step(shown: str, step: str, outcome: str, off: float) -> None:
    found = scale_check(q("200 g"), q(shown), q(step))
    assert found.outcome == outcome
    assert found.off is not None and found.off.to("g").magnitude == pytest.approx(off, abs=1e-3)


def test_without_weight_or_reading_nothing_is_said_of_a_scale() -> None:
    assert scale_check().outcome == "no_weight"
    assert scale_check(None, q("200 g"), q("1 g")).outcome == "no_weight"
    assert scale_check(q("200 g")).outcome == "not_shown"
    assert scale_check(q("200 g"), q("200 g")).off is None


@pytest.mark.parametrize("given", [("0 g", "1 g", "1 g"), ("1 g", "-1 g", "1 g"), ("1 g", "1 g", "0 g")])
def test_a_weight_or_step_of_nothing_and_a_reading_below_zero_are_refused(given: tuple[str, str, str]) -> None:
    with pytest.raises(OutOfDomain):
        scale_check(*map(q, given))
