"""The common drive and the side from which a dial is turned."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.calculations.runs.approach import DialTurn, approach
from engine.calculations.runs.drive import drive_correction
from engine.errors import InputError, OutOfDomain
from engine.quantities import quantity
from engine.values import Dial
from tests.helpers.quantities import q, rows

TARGET, TOLERANCE = q("50 g"), q("5 %")
RATIOS = {1: q("80 %"), 2: q("100 %"), 3: q("125 %")}


def test_all_rows_off_by_the_same_share_are_a_matter_of_the_drive() -> None:
    found = drive_correction(rows("60 g", "61 g", "59 g", "60 g"), TARGET, TOLERANCE)
    assert found.outcome == "change_drive"
    assert found.factor.magnitude == pytest.approx(50 / 60)
    assert found.common.magnitude == pytest.approx(0.2)
    assert found.spread.magnitude == pytest.approx(0.0136, abs=1e-4)
    assert found.choice is None


@pytest.mark.parametrize(
    "caught",
    [
        rows("51 g", "50 g", "52 g", "49 g"),
        rows("60 g", "40 g", "50 g", "50 g"),
        rows("53 g", "53 g", "52 g", "52 g"),
        rows("75 g", "40 g", "80 g", "35 g", "62 g", "62 g"),
        rows("60 g", "60 g"),
    ],
)
def test_else_it_is_a_matter_of_the_dials(caught: Any) -> None:
    assert drive_correction(caught, TARGET, TOLERANCE).outcome == "dials_only"


def test_a_stopped_row_does_not_hide_the_drive() -> None:
    caught = rows("60 g", "61 g", "59 g", "60 g", "0 g")
    assert drive_correction(caught, TARGET, TOLERANCE).outcome == "change_drive"


@pytest.mark.parametrize(
    ("grams", "choice", "outcome"), [(60, 1, "change_drive"), (41, 3, "change_drive"), (54, 2, "dials_only")]
)
def test_the_nearest_ratio_of_the_machine_is_chosen(grams: float, choice: int, outcome: str) -> None:
    caught = {row: quantity(grams, "g") for row in range(1, 7)}
    found = drive_correction(caught, TARGET, TOLERANCE, ratio=q("100 %"), ratios=RATIOS)
    assert (found.choice, found.outcome) == (choice, outcome)


@given(st.floats(20, 120), st.integers(3, 12))
def test_the_factor_brings_rows_alike_onto_the_target(grams: float, count: int) -> None:
    found = drive_correction({row: quantity(grams, "g") for row in range(count)}, TARGET, TOLERANCE)
    assert found.factor.magnitude * grams == pytest.approx(50)
    assert (found.outcome == "change_drive") is (abs(grams / 50 - 1) > 0.05 if grams > 50 else grams * 1.05 < 50)


def test_wrong_input_is_refused() -> None:
    with pytest.raises(OutOfDomain):
        drive_correction(rows("0 g", "0 g"), TARGET, TOLERANCE)
    with pytest.raises(OutOfDomain):
        drive_correction(rows("60 g"), TARGET, TOLERANCE, ratios=RATIOS)
    with pytest.raises(OutOfDomain):
        drive_correction(rows("60 g"), TARGET, TOLERANCE, ratio=q("100 %"), ratios={})
    with pytest.raises(OutOfDomain):
        drive_correction(rows("60 g"), q("0 g"), TOLERANCE)


def test_dials_come_to_their_position_from_below() -> None:
    dial = Dial.numbered(1, 20, 0.5)
    now = {row: dial.setting(10) for row in (1, 2, 3)}
    then = {1: dial.setting(10), 2: dial.setting(11), 3: dial.setting(9)}
    found = approach(now, then)
    assert found.turns == {1: DialTurn.STAY, 2: DialTurn.UP, 3: DialTurn.PAST_AND_UP}
    assert found.outcome == "from_below"
    assert approach({1: now[1], 2: now[2]}, {1: then[1], 2: then[2]}).outcome == "up"
    assert approach({1: now[1]}, {1: then[1]}).outcome == "stay"
    with pytest.raises(InputError):
        approach(now, {1: then[1]})
