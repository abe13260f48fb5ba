"""Whether every row is fit, and which need no second look."""

from __future__ import annotations

import pytest

from engine.calculations.fitness import Condition, row_fitness
from engine.errors import InputError


def test_one_row_that_is_not_fit_is_enough() -> None:
    found = row_fitness({1: Condition.FIT, 2: Condition.HOSE, 3: Condition.FIT})
    assert (found.outcome, found.fit) == ("unfit", {1: Condition.FIT, 3: Condition.FIT})
    assert row_fitness({1: Condition.LOOSE}).fit == {}


def test_all_rows_fit() -> None:
    assert row_fitness({1: Condition.FIT, 2: Condition.FIT}).outcome == "fit"


def test_no_row_was_looked_at() -> None:
    with pytest.raises(InputError):
        row_fitness({})
