"""From the outlook of a row to its verdict: rows as they might be, each rule alone."""

from __future__ import annotations

import dataclasses

import pytest

from engine.calculations.advisor.forecast import window
from engine.calculations.advisor.judgement import Prospect, judged
from engine.calculations.advisor.verdict import Verdict

WITHIN = window(0.05)
PASSING = Prospect(
    now=12,
    best=13,
    last=24,
    been=False,
    here=1,
    all=2,
    stopped=False,
    stuck=False,
    strange=0,
    doubtful=False,
    clean=2,
    coarse=False,
    blunt=False,
    mean=0.0,
    chance=0.92,
    chance_now=0.9,
    centred=0.99,
    gain=0.01,
    strays=0.0,
)
FAR_OFF = dataclasses.replace(PASSING, chance_now=0.1, chance=0.9)


def beside_a_row_to_move(one: Prospect) -> Verdict:
    """The verdict of a row where the planter is run again for another."""
    return judged({1: one, 2: FAR_OFF}, WITHIN)[1]


@pytest.mark.parametrize("rise", [0.005, 0.02])
def test_nothing_is_moved_for_little_where_no_other_row_needs_a_run(rise: float) -> None:
    one = dataclasses.replace(PASSING, chance=PASSING.chance_now + rise)
    assert judged(dict.fromkeys(range(1, 9), one), WITHIN) == dict.fromkeys(range(1, 9), Verdict.ON_TARGET)


@pytest.mark.parametrize(
    ("been", "rise", "verdict"),
    [
        (False, 0.02, Verdict.ADJUST),
        (False, 0.005, Verdict.ON_TARGET),
        (True, 0.02, Verdict.ON_TARGET),
        (True, 0.09, Verdict.ON_TARGET),
        (True, 0.11, Verdict.ADJUST),
    ],
)
def test_a_row_goes_back_to_a_notch_only_for_more(been: bool, rise: float, verdict: Verdict) -> None:
    one = dataclasses.replace(PASSING, been=been, chance_now=0.88, chance=0.88 + rise)
    assert beside_a_row_to_move(one) is verdict


def test_a_row_that_is_off_goes_back_where_that_is_worth_a_run() -> None:
    off = dataclasses.replace(PASSING, been=True, chance_now=0.5, chance=0.9)
    assert judged({1: off}, WITHIN) == {1: Verdict.ADJUST}
