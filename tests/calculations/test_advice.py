"""Advice by estimation: verdicts, laws, and what it may never claim."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import stats

from engine.calculations.advisor.verdict import NextCatch, Verdict
from engine.calculations.catalogue import formulas
from engine.errors import InputError, OutOfDomain
from engine.quantities import Measure
from engine.values import Dial, Setting
from tests.helpers.advising import DIAL, TARGET, TOLERANCE, advice, advised, everywhere, grams, probability
from tests.helpers.quantities import q

COARSE = Dial.marked(tuple("ABCDEFGH"))


def test_rows_that_keep_catching_the_target_are_on_target() -> None:
    found = advice([everywhere(49.5)] * 2, [everywhere(12)] * 2)
    assert found.outcome == "settled"
    assert set(found.verdicts.values()) == {Verdict.ON_TARGET}
    assert probability(found) > 0.99


def test_rows_far_off_are_moved_the_right_way() -> None:
    found = advice([{**everywhere(62), 5: 45.0}], [everywhere(12)])
    assert found.outcome == "adjust"
    assert set(found.verdicts.values()) == {Verdict.ADJUST}
    assert found.next_settings[1].position == pytest.approx(12 * 49.5 / 62, abs=0.5)
    assert found.next_settings[5].position == pytest.approx(12 * 49.5 / 45, abs=1.5)
    assert found.errors[5].magnitude == pytest.approx(45 / 49.5 - 1)


def test_catches_at_one_setting_are_combined_and_not_replaced() -> None:
    """53, 49, 49: the first alone says too much, the last alone on target; together the probability falls."""
    clean = advice([everywhere(49)] * 3, [everywhere(12)] * 3)
    mixed = advice([{**everywhere(49), 1: 53.0}, everywhere(49), everywhere(49)], [everywhere(12)] * 3)
    assert mixed.verdicts[1] is Verdict.ON_TARGET
    assert probability(mixed) < probability(clean)


def test_a_bad_last_catch_overrules_all_before_it() -> None:
    found = advice([everywhere(49.5), everywhere(49.5), {**everywhere(49.5), 1: 33.0}], [everywhere(12)] * 3)
    assert found.verdicts[1] is Verdict.DOUBTFUL_CATCH
    assert found.outcome == "run_again"
    assert found.next_settings[1].position == 12
    assert {row: one.magnitude for row, one in found.gave.items()} == {1: pytest.approx(33)}
    assert {row: one.magnitude for row, one in found.before.items()} == {1: pytest.approx(49.5)}
    assert {found.verdicts[row] for row in range(2, 9)} == {Verdict.ON_TARGET}


@pytest.mark.parametrize("last", [56.5, 43.0])
def test_a_row_is_not_on_target_farther_off_than_tolerance_and_noise_allow(last: float) -> None:
    found = advice([everywhere(49.5)] * 4 + [{**everywhere(49.5), 1: last}], [everywhere(12)] * 5)
    assert found.verdicts[1] is Verdict.DOUBTFUL_CATCH


def test_a_catch_that_does_not_fit_is_no_reason_to_move() -> None:
    found = advice([{**everywhere(49.5), 5: 30.0}], [everywhere(12)])
    assert found.verdicts[5] is Verdict.DOUBTFUL_CATCH
    assert found.before[5].magnitude == pytest.approx(49.5, rel=0.03)


def test_a_row_that_gave_too_little_once_is_left_as_not_sure_after_two_catches_that_fit() -> None:
    bad, good = {**everywhere(49.5), 1: 33.0}, everywhere(49.5)
    found = [advice([good, bad, *[good] * more], [everywhere(12)] * (2 + more)).verdicts[1] for more in (1, 2, 3)]
    assert found == [Verdict.RUN_AGAIN, Verdict.NOT_SURE, Verdict.NOT_SURE]


def test_a_second_catch_that_does_not_fit_makes_the_row_intermittent() -> None:
    bad, good = {**everywhere(49.5), 1: 33.0}, everywhere(49.5)
    found = advice([good, bad, good, bad], [everywhere(12)] * 4)
    assert found.verdicts[1] is Verdict.INTERMITTENT
    assert found.outcome == "cannot_tell"


def test_a_row_surely_on_target_need_not_be_caught_again() -> None:
    found = advice([{**everywhere(49.5), 8: 60.0}] * 2, [everywhere(12)] * 2)
    assert {row for row, one in found.next_catch.items() if one is NextCatch.CATCH} == {8}


def test_the_closest_notch_is_only_so_where_a_notch_is_coarser_than_the_tolerance() -> None:
    """Within tolerance by its catches, but one notch is 4 %: what is missing is certainty, not a notch."""
    runs = [everywhere(one) for one in (47.2, 47.2, 47.2, 47.2)]
    found = advice(runs, [everywhere(12)] * 4, Dial.numbered(1, 40, 6))
    fine = advice(runs, [everywhere(12)] * 4, Dial.numbered(0, 24, 0.5), scale_step=q("6 g"))
    assert Verdict.CLOSEST_NOTCH not in fine.verdicts.values()
    assert Verdict.NOT_SURE not in found.verdicts.values()


def test_one_catch_near_the_edge_is_not_enough() -> None:
    found = advice([everywhere(47.5)], [everywhere(30)], Dial.numbered(1, 60, 0.5))
    assert found.verdicts[1] in {Verdict.ADJUST, Verdict.RUN_AGAIN}


@pytest.mark.parametrize(("step", "verdict"), [("0.1 g", Verdict.ON_TARGET), ("25 g", None)])
def test_a_scale_step_too_coarse_is_never_enough(step: str, verdict: Verdict | None) -> None:
    """A step of half the target: 50 g read nine times over may be 38 g or 62 g."""
    found = advice([everywhere(50)] * 9, [everywhere(12)] * 9, scale_step=q(step))
    if verdict is None:
        assert found.outcome != "settled"
        assert probability(found) < 0.4
    else:
        assert found.verdicts[1] is verdict


def test_a_container_weighed_too_coarsely_is_never_enough() -> None:
    found = advice([everywhere(50)] * 9, [everywhere(12)] * 9, container_step=q("25 g"))
    assert found.outcome != "settled"
    assert probability(found) < 0.6


def test_a_dial_coarser_than_the_tolerance_ends_at_the_closest_notch() -> None:
    """Marks 30 % apart: 43 g on C and 56 g on D, neither within 5 %."""
    at_c, at_d = {1: 43.0, 2: 43.0}, {1: 56.0, 2: 56.0}
    positions = [everywhere(2, 2), everywhere(3, 2), everywhere(2, 2), everywhere(2, 2)]
    found = advice([at_c, at_d, at_c, at_c], positions, COARSE)
    assert found.outcome in {"settled", "adjust"}
    best = advice(
        [at_d, at_c, at_d, at_d], [everywhere(3, 2), everywhere(2, 2), everywhere(3, 2), everywhere(3, 2)], COARSE
    )
    assert Verdict.CLOSEST_NOTCH in {*found.verdicts.values(), *best.verdicts.values()}
    assert Verdict.ON_TARGET not in {*found.verdicts.values(), *best.verdicts.values()}


@pytest.mark.parametrize(("caught", "at"), [(30.0, 40.0), (80.0, 1.0)])
def test_a_target_past_the_end_of_the_dial_cannot_be_told(caught: float, at: float) -> None:
    found = advice([everywhere(caught)] * 4, [everywhere(at)] * 4)
    assert found.outcome == "cannot_tell"
    assert found.next_settings[1].position == at


@pytest.mark.parametrize("nothing", [0.0, 5.0])
def test_a_stopped_row_cannot_be_told_and_spoils_no_other(nothing: float) -> None:
    healthy = advice([everywhere(49.5, 7)] * 2, [everywhere(12, 7)] * 2)
    found = advice([{**everywhere(49.5, 7), 8: nothing}] * 2, [everywhere(12)] * 2)
    assert found.verdicts[8] is Verdict.CANNOT_TELL
    assert found.outcome == "cannot_tell"
    assert {found.verdicts[row] for row in range(1, 8)} == {Verdict.ON_TARGET}
    assert probability(found) == pytest.approx(probability(healthy), abs=0.01)


def test_a_row_that_runs_again_is_told_again() -> None:
    found = advice([{**everywhere(49.5), 8: 0.0}, everywhere(49.5), everywhere(49.5)], [everywhere(12)] * 3)
    assert found.verdicts[8] is Verdict.ON_TARGET


def test_a_row_that_does_not_follow_its_dial_cannot_be_told() -> None:
    caught = [{**everywhere(62), 4: 60.0}, {**everywhere(50), 4: 60.0}, {**everywhere(49.5), 4: 61.0}]
    found = advice(caught, [everywhere(12), everywhere(9.5), {**everywhere(9.5), 4: 8.0}])
    assert found.verdicts[4] is Verdict.CANNOT_TELL
    assert {found.verdicts[row] for row in range(1, 9) if row != 4} == {Verdict.ON_TARGET}


def test_a_row_that_scatters_is_intermittent() -> None:
    caught = [{**everywhere(49.5), 2: one} for one in (36.0, 62.0, 65.0, 33.0, 60.0)]
    found = advice(caught, [everywhere(12)] * 5)
    assert found.verdicts[2] is Verdict.INTERMITTENT


def test_a_row_moved_and_not_caught_is_run_again() -> None:
    found = advice([everywhere(49.5)] * 2 + [everywhere(49.5, 7)], [everywhere(12)] * 2 + [{**everywhere(12), 8: 12.5}])
    assert found.verdicts[8] is Verdict.RUN_AGAIN
    assert found.next_settings[8].position == 12.5
    assert set(found.errors) == set(range(1, 8))


def test_a_setting_stands_until_the_next_one() -> None:
    short = advice([everywhere(49.5)] * 2, [everywhere(12), {}])
    assert probability(short) == pytest.approx(probability(advice([everywhere(49.5)] * 2, [everywhere(12)] * 2)))


def test_no_catch_yet() -> None:
    found = advice([], [everywhere(12)])
    assert found.outcome == "run_again"
    assert not found.errors


def test_expected_rates_hold_the_wanted_rate_and_come_in_its_kind() -> None:
    found = advice([everywhere(50)] * 2, [everywhere(12)] * 2, rate=q("8 oz/1000 ft"))
    assert found.expected is not None
    assert found.expected_low is not None
    assert found.expected_high is not None
    low, middle, high = (
        one[1].to("ounce_per_thousand_feet").magnitude
        for one in (found.expected_low, found.expected, found.expected_high)
    )
    assert low < middle < high
    assert middle == pytest.approx(8 * 50 / 49.5, rel=0.01)
    assert middle**2 == pytest.approx(low * high)
    assert (high / low - 1) / 2 == pytest.approx(1.7 * 0.025 / 2**0.5, rel=0.4)
    assert advice([everywhere(50)], [everywhere(12)]).expected is None


def test_probability_and_interval_belong_together() -> None:
    """Reference: Student's t with the 12 + 16 degrees of freedom that 12 believed and 16 true catches give."""
    found = advice([everywhere(51)] * 2, [everywhere(12)] * 2, rate=q("10 kg/ha"))
    assert found.expected is not None
    assert found.expected_high is not None
    middle, high = (
        float(np.log(one[1].to("kilogram / hectare").magnitude / 10)) for one in (found.expected, found.expected_high)
    )
    deviation = (high - middle) / stats.t.ppf(0.95, 28)
    inside = stats.t.cdf((np.log(1.05) - middle) / deviation, 28) - stats.t.cdf((np.log(0.95) - middle) / deviation, 28)
    assert probability(found) == pytest.approx(inside, abs=1e-6)


def test_history_narrows_the_first_move() -> None:
    past = [everywhere(50 * (p / 12) ** 0.6) for p in (9.0, 12.0, 15.0)]
    at = [{row: DIAL.setting(p) for row in range(1, 9)} for p in (9.0, 12.0, 15.0)]
    more = {"earlier_caught": [grams(run) for run in past], "earlier_settings": at}
    alone, taught = (advice([everywhere(60)], [everywhere(12)], **some) for some in ({}, more))
    assert probability(taught) > probability(alone) + 0.1
    assert taught.next_settings[1].position == pytest.approx(12 * (49.5 / 60) ** (1 / 0.6), abs=0.5)


def test_catches_at_another_speed_are_brought_to_planting_speed() -> None:
    """SPEED-LAW: a gravity meter gives 6 / 5 of its catch when the course is driven at 5 / 6 of the speed."""
    slow = [dict.fromkeys(range(1, 9), q("5 mph"))] * 2
    more = {"speeds": slow, "planting_speed": q("6 mph"), "rate": q("10 kg/ha")}
    gravity = advice([everywhere(49.5 * 1.2)] * 2, [everywhere(12)] * 2, speed_exponent=q("100 %"), **more)
    assert gravity.outcome == "settled"
    roll = advice([everywhere(49.5)] * 2, [everywhere(12)] * 2, speed_exponent=q("0 %"), **more)
    assert roll.outcome == "settled"


def test_known_noise_sharpens_the_probability() -> None:
    sharp, blunt = (advice([everywhere(51)] * 2, [everywhere(12)] * 2, noise=q(one)) for one in ("1 %", "6 %"))
    assert probability(sharp) > probability(blunt)


def test_wrong_input_is_refused() -> None:
    with pytest.raises(InputError, match="row 9"):
        advice([{9: 50.0}], [{1: 12}])
    with pytest.raises(InputError, match="setting"):
        advice([], [])
    with pytest.raises(OutOfDomain):
        advice([{1: -1.0}], [{1: 12}])
    for target, tolerance in ((q("0 g"), TOLERANCE), (TARGET, q("0 %"))):
        with pytest.raises(OutOfDomain):
            advised([grams({1: 50.0})], [{1: DIAL.setting(12)}], DIAL, target=target, tolerance=tolerance)


def test_it_stands_in_the_catalogue() -> None:

    formula = formulas()["advise"]
    assert formula.outcomes == ("settled", "adjust", "run_again", "cannot_tell")
    mass, at = Measure(value=49.5, unit="g"), DIAL.setting(12)
    given_values: Any = {
        "caught": [{1: mass, 2: mass}] * 2,
        "settings": [{1: at, 2: at}] * 2,
        "target": mass,
        "tolerance": Measure(value=5, unit="%"),
        "dial": DIAL,
        "rate": Measure(value=5, unit="lb/acre"),
        "scale_step": None,
        "earlier_caught": None,
    }
    found = formula.evaluate(given_values)
    assert found.outcome == "settled"
    assert found.results["next_settings"] == {1: at, 2: at}
    expected: Any = found.results["expected"]
    assert expected[1].to("lb/acre").value == pytest.approx(5, rel=0.01)
    by_row = formula.evaluate({**given_values, "rate": Measure(value=8, unit="oz/1000 ft")}).results["expected"]
    assert by_row[1].to("oz/1000 ft").value == pytest.approx(8, rel=0.01)  # type: ignore[index,union-attr]


def test_a_setting_is_a_setting() -> None:
    found = advice([everywhere(62)], [everywhere(12)])
    assert all(isinstance(one, Setting) for one in found.next_settings.values())
