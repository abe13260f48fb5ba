"""Simulated planters: what they are, and what the advisor reaches on them."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from typing import Literal

import numpy as np
import pytest

from engine.calculations.advisor.verdict import Advice, NextCatch, Verdict
from engine.quantities import quantity
from engine.simulation.contest import Contest, contest
from engine.simulation.evening import MOST, Evening, evening
from engine.simulation.family import FOREIGN, Family, relative
from engine.simulation.planter import TARGET_G, Curve, Habits, OutputCurve, Row, RowFault, SimulatedPlanter, planter
from engine.simulation.tally import given_up, interval, mean_catches, mean_runs, tally, times_as_many, wrong_share
from engine.values import Dial

DIAL = Dial.numbered(1, 20, 1)


def drawn(seed: int, shape: OutputCurve = OutputCurve.PLAIN) -> SimulatedPlanter:
    return planter(np.random.default_rng(seed), 8, 0.02, shape)


def straight(fault: RowFault = RowFault.NONE) -> SimulatedPlanter:
    return SimulatedPlanter(DIAL, 9.0, Curve(10.0, 1.0), {1: Row(0.0, 0.0, fault)}, DIAL.setting(13), 0.02)


@pytest.mark.parametrize(("position", "error"), [(10, 0.0), (11, 0.1), (15, 0.5), (5, -0.5)])
def test_a_straight_curve_is_a_straight_line(position: float, error: float) -> None:
    assert straight().error(1, DIAL.setting(position)) == pytest.approx(error)


def test_kink_and_dead_zone_change_the_slope_where_they_say() -> None:
    kinked, dead = Curve(10.0, 1.0, kink_at=1.0, kink=2.0), Curve(10.0, 1.0, dead_at=1.0, dead=2.0)
    assert [math.exp(kinked.log_output(n)) for n in (0, 1, 2, 3)] == pytest.approx([1.0, 1.1, 1.3, 1.5])
    assert [math.exp(dead.log_output(n)) for n in (0, 1, 2, 3, 4)] == pytest.approx([1.0, 1.1, 1.1, 1.1, 1.2])


def test_faults_are_what_they_say() -> None:
    at, generator = DIAL.setting(10), np.random.default_rng(1)
    assert straight(RowFault.STOPPED).catch(1, at, generator) == 0
    assert straight(RowFault.STUCK).error(1, at) == pytest.approx(0.3)
    scatter = np.std([straight(RowFault.UNREPEATABLE).catch(1, at, generator) for _ in range(400)]) / TARGET_G
    assert scatter == pytest.approx(0.2, rel=0.1)


@pytest.mark.parametrize("shape", OutputCurve)
def test_catches_scatter_by_the_noise_and_come_in_grams(shape: OutputCurve) -> None:
    one = dataclasses.replace(straight(), shape=shape)
    caught = [one.catch(1, DIAL.setting(10), np.random.default_rng(n)) for n in range(4000)]
    assert all(grams == round(grams) for grams in caught)
    assert np.mean(caught) == pytest.approx(TARGET_G, rel=0.005)
    assert np.std(caught) / TARGET_G == pytest.approx(math.hypot(0.02, 12**-0.5 / TARGET_G), rel=0.15)


def test_planters_lie_where_the_benchmark_says() -> None:
    for seed in range(60):
        one = drawn(seed)
        middle = one.dial.low + round(one.middle) * one.dial.step
        row = SimulatedPlanter(one.dial, one.middle, one.curve, {1: Row(0.0, 0.0)}, one.start, 0.0)
        notch = row.error(1, one.dial.setting(middle + one.dial.step)) - row.error(1, one.dial.setting(middle))
        assert 0.024 < notch < 0.085
        assert abs(row.error(1, one.start)) < 0.35
        assert one.least_error(1) < 0.06 or one.rows[1].fault is not RowFault.NONE


def test_one_seed_is_one_planter() -> None:
    assert drawn(3) == drawn(3) != drawn(4)
    assert list(contest(Contest(3, 7))) == list(contest(Contest(4, 7)))[:3]


def test_an_evening_counts_what_was_passed_wrongly() -> None:
    """Two rows 10 % apart on a dial of 10 % notches: one on the target, one passed a notch too high."""
    two = dataclasses.replace(straight(), rows={1: Row(0.0, 0.0), 2: Row(0.0, 0.0)}, start=DIAL.setting(11))

    def careless(caught: object, settings: object, speeds: object) -> Advice:
        return Advice("settled", {1: Verdict.ON_TARGET, 2: Verdict.CANNOT_TELL}, {}, {})

    found = evening(two, careless, np.random.default_rng(1), 0.05)
    assert found == Evening(1, True, (pytest.approx(0.1),), 1, 1, (), sound=2, rows=2, catches=2)
    assert evening(two, careless, np.random.default_rng(1), 0.12).wrong == 0


def test_an_evening_ends_after_eight_runs() -> None:
    def never(caught: object, settings: object, speeds: object) -> Advice:
        return Advice("run_again", {1: Verdict.RUN_AGAIN}, {1: DIAL.setting(10)}, {})

    found = evening(straight(), never, np.random.default_rng(1), 0.05)
    assert (found.runs, found.done, found.errors) == (MOST, False, ())


@pytest.mark.parametrize(
    ("path", "returned"),
    [((10, 11, 10), 0), ((10, 10.5, 10), 1), ((10, 10.5, 10, 10.5), 2), ((10, 10.5, 10.5), 0), ((10, 9, 10), 0)],
)
def test_an_evening_counts_moves_back_of_rows_within_tolerance(path: tuple[float, ...], returned: int) -> None:
    """One notch from the target is 10 %, half a notch 5 % and so within 6 %; a row that is off may go back."""
    fine = Dial.numbered(1, 20, 0.5)
    one = dataclasses.replace(
        straight(), dial=fine, middle=18.0, curve=Curve(20.0, 1.0), noise=0.0, start=fine.setting(path[0])
    )

    def wandering(caught: Sequence[object], settings: object, speeds: object) -> Advice:
        over = len(caught) == len(path)
        after = fine.setting(path[len(caught) if not over else -1])
        off = one.error(1, fine.setting(path[len(caught) - 1]))
        return Advice(
            "settled" if over else "adjust",
            {1: Verdict.ON_TARGET if over else Verdict.ADJUST},
            {1: after},
            {1: quantity(off, "1")},
        )

    assert evening(one, wandering, np.random.default_rng(1), 0.06).returned == returned


def test_a_row_that_is_spared_is_not_caught() -> None:
    one = dataclasses.replace(straight(), rows={1: Row(0.0, 0.0), 2: Row(0.0, 0.0)}, start=DIAL.setting(10))

    def sure_of_one(caught: Sequence[object], settings: object, speeds: object) -> Advice:
        spare = {1: NextCatch.SPARE, 2: NextCatch.CATCH}
        on = {1: Verdict.ON_TARGET, 2: Verdict.ON_TARGET if len(caught) == 3 else Verdict.RUN_AGAIN}
        outcome: Literal["settled", "run_again"] = "settled" if len(caught) == 3 else "run_again"
        return Advice(outcome, on, {}, {}, next_catch=spare)

    for sparing, catches in ((False, 6), (True, 4)):
        assert evening(one, sure_of_one, np.random.default_rng(1), 0.05, sparing=sparing).catches == catches


DONE = Evening(2, True, (0.01, 0.03), 0, 0, ((0.9, True), (0.8, False)), sound=2, rows=2, catches=4)
NEVER = Evening(8, False, (0.08, 0.04), 1, 1, (), sound=4, rows=4, unsure=1, bad_last=1, catches=32, returned=1)


def test_tally() -> None:
    found = tally([DONE, DONE, NEVER])
    assert (found.runs_median, found.runs_mean, found.runs_p95) == (2, 4, 8)
    assert found.never == pytest.approx(1 / 3)
    assert (found.within_3, found.within_4, found.within_8) == pytest.approx((2 / 3, 2 / 3, 2 / 3))
    assert found.wrong_rows == pytest.approx(1 / 6)
    assert found.mean_error == pytest.approx((4 * 0.02 + 0.12) / 6)
    assert (found.given_up, found.unsure, found.bad_last) == (pytest.approx(1 / 8), pytest.approx(1 / 8), 1)
    assert (found.catches, found.returned) == (pytest.approx(40 / 3), pytest.approx(1 / 8))
    assert (found.stated, found.true) == pytest.approx((0.85, 0.5))
    assert given_up([DONE, DONE, NEVER]) == pytest.approx(1 / 3)


def test_the_interval_is_that_of_the_mean() -> None:
    """Reference: normal interval of a mean of 400 values."""
    values = [float(one) for one in np.random.default_rng(3).normal(5, 1, 400)]
    low, high = interval(values, lambda some: sum(some) / len(some))
    middle, reach = np.mean(values), 1.96 * np.std(values) / 20
    assert (low, high) == pytest.approx((middle - reach, middle + reach), abs=0.02)


def test_figures_that_get_an_interval() -> None:
    evenings = [DONE, NEVER]
    assert (mean_runs(evenings), mean_catches(evenings), wrong_share(evenings)) == (5, 18, 0.25)
    assert times_as_many([(DONE, NEVER), (DONE, DONE)]) == 2.5


def test_an_intermittent_row_that_is_passed_is_wrong() -> None:
    one = dataclasses.replace(straight(RowFault.INTERMITTENT), start=DIAL.setting(10))

    def careless(caught: object, settings: object, speeds: object) -> Advice:
        return Advice("settled", {1: Verdict.ON_TARGET}, {}, {})

    ends = [evening(one, careless, np.random.default_rng(seed), 0.05) for seed in range(2000)]
    assert {end.wrong for end in ends} == {1}
    assert np.mean([end.bad_last for end in ends]) == pytest.approx(0.35, abs=0.04)


@pytest.mark.parametrize("family", FOREIGN)
def test_families_lie_where_they_say(family: Family) -> None:
    for seed in range(20):
        one = relative(np.random.default_rng(seed), family)
        assert len(one.rows) in {6, 8, 12}
        assert 0.015 <= one.noise <= 0.03
        assert one.step <= 0.05 * one.target or one.target >= 4 * 15
        assert (
            abs(
                SimulatedPlanter(one.dial, one.middle, one.curve, {1: Row(0.0, 0.0)}, one.start, 0.0).error(
                    1, one.start
                )
            )
            < 0.4
        )
        assert one.least_error(1) < 0.08


def test_runs_driven_faster_give_less_by_the_meter() -> None:
    one = dataclasses.replace(straight(), noise=0.0, step=0.001, habits=Habits(speed=0.08, exponent=1.0))
    drive = one.drive(0, np.random.default_rng(1))
    assert abs(math.exp(drive.speed) - 1) <= 0.08
    at = DIAL.setting(10)
    assert one.catch(1, at, np.random.default_rng(2), drive) == pytest.approx(
        TARGET_G * math.exp(-drive.speed), abs=0.001
    )


def test_the_advisor_reaches_what_it_must() -> None:
    """150 planters; the limits of a larger trial, with room for the luck of so few."""
    pairs = list(contest(Contest(150, 2024)))
    advisor, handbook = (tally(evenings) for evenings in zip(*pairs, strict=True))
    assert advisor.runs_median <= 3
    assert advisor.runs_p95 <= 5
    assert advisor.never <= 0.02
    assert advisor.wrong_rows <= 0.02
    assert advisor.mean_error <= 0.02
    assert handbook.runs_mean >= 1.65 * advisor.runs_mean


@pytest.mark.campaign
def test_what_is_claimed_is_so() -> None:
    """Of the rows passed with a probability near p a share near p is within tolerance, and not less."""
    claims = [claim for one, _ in contest(Contest(150, 77)) for claim in one.claims]
    stated, true = np.array([p for p, _ in claims]), np.array([inside for _, inside in claims])
    assert np.mean(true) >= np.mean(stated) - 0.01
    for low, high in ((0.8, 0.95), (0.95, 0.99), (0.99, 1.01)):
        some = (stated >= low) & (stated < high)
        assert np.mean(true[some]) >= np.mean(stated[some]) - 0.05


@pytest.mark.campaign
@pytest.mark.parametrize("shape", [OutputCurve.KINKED, OutputCurve.DEAD_ZONE, OutputCurve.HEAVY_TAILS])
def test_it_holds_on_curves_that_the_model_does_not_contain(shape: OutputCurve) -> None:
    advisor = [one for one, _ in contest(Contest(60, 5, shape=shape))]
    found = tally(advisor)
    assert found.runs_median <= 4
    assert found.runs_p95 <= 6
    assert found.never <= 0.04
    assert found.wrong_rows <= 0.04
    assert given_up(advisor) <= 0.05
