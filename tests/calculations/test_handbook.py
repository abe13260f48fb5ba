"""The handbook rule: new = old x target / caught, row by row."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.calculations.advisor.handbook import handbook_advice, overall
from engine.calculations.advisor.verdict import Advice, Verdict
from engine.errors import InputError, OutOfDomain
from engine.quantities import quantity
from engine.values import Dial, Setting
from tests.helpers.quantities import q

DIAL = Dial.numbered(1, 20, 0.5)
MARKS = Dial.marked(("A", "A+", "B", "B+", "C"))
TARGET, TOLERANCE = q("50 g"), q("5 %")


def judge(grams: float, at: float, dial: Dial = DIAL) -> Advice:
    return handbook_advice([{1: quantity(grams, "g")}], [{1: dial.setting(at)}], TARGET, TOLERANCE, dial)


@pytest.mark.parametrize(
    ("grams", "at", "verdict", "then"),
    [
        (50, 10, Verdict.ON_TARGET, 10),
        (52.5, 10, Verdict.ON_TARGET, 10),
        (47.5, 10, Verdict.ON_TARGET, 10),
        (52.51, 10, Verdict.ADJUST, 9.5),
        (47.49, 10, Verdict.ADJUST, 10.5),
        (40, 10, Verdict.ADJUST, 12.5),
        (25, 5, Verdict.ADJUST, 10),
        (53, 2, Verdict.CLOSEST_NOTCH, 2),
        (0, 10, Verdict.CANNOT_TELL, 10),
        (20, 10, Verdict.ADJUST, 20),
        (20, 20, Verdict.CANNOT_TELL, 20),
        (90, 1, Verdict.CANNOT_TELL, 1),
        (25, 1, Verdict.ADJUST, 2),
    ],
)
def test_one_row(grams: float, at: float, verdict: Verdict, then: float) -> None:
    advice = judge(grams, at)
    assert advice.verdicts == {1: verdict}
    assert advice.next_settings[1].position == then
    assert advice.errors[1].magnitude == pytest.approx(grams / 50 - 1)


@pytest.mark.parametrize(
    ("grams", "at", "verdict", "then"),
    [
        (25, "A", Verdict.ADJUST, "A+"),
        (19.95, "A", Verdict.ADJUST, "B"),
        (20.5, "A", Verdict.ADJUST, "A+"),
        (30, "A+", Verdict.ADJUST, "B"),
        (80, "C", Verdict.ADJUST, "B"),
        (30, "C", Verdict.CANNOT_TELL, "C"),
    ],
)
def test_marks_count_from_one(grams: float, at: str, verdict: Verdict, then: str) -> None:
    found = MARKS.find(at)
    assert found is not None
    advice = judge(grams, found.position, MARKS)
    assert (advice.verdicts[1], str(advice.next_settings[1])) == (verdict, then)


@pytest.mark.parametrize(("grams", "verdict", "then"), [(30, Verdict.ADJUST, 0.5), (80, Verdict.CANNOT_TELL, 0)])
def test_a_dial_at_zero_moves_one_notch(grams: float, verdict: Verdict, then: float) -> None:
    advice = judge(grams, 0, Dial.numbered(0, 10, 0.5))
    assert (advice.verdicts[1], advice.next_settings[1].position) == (verdict, then)


@pytest.mark.parametrize(
    ("grams", "verdict"),
    [(44.5, Verdict.CLOSEST_NOTCH), (50 / 1.125, Verdict.CLOSEST_NOTCH), (44, Verdict.CANNOT_TELL)],
)
def test_past_the_end_of_the_dial_is_more_than_half_a_notch(grams: float, verdict: Verdict) -> None:
    assert judge(grams, 2, Dial.numbered(1, 2, 0.5)).verdicts == {1: verdict}


def test_a_fine_dial_counts_from_its_own_zero() -> None:
    assert judge(25, 4, Dial.numbered(1, 20, 0.01)).next_settings[1].position == 8


def test_a_dial_below_zero_counts_from_its_low_end() -> None:
    assert judge(25, -5, Dial.numbered(-10, 10, 1)).next_settings[1].position == 0


def at(*positions: float) -> dict[int, Setting]:
    return {row: DIAL.setting(one) for row, one in enumerate(positions, start=1)}


def test_only_the_last_catch_counts() -> None:
    runs = [{1: q("30 g")}, {1: q("50 g")}]
    assert handbook_advice(runs, [at(10), at(10)], TARGET, TOLERANCE, DIAL).verdicts == {1: Verdict.ON_TARGET}


def test_a_row_not_caught_again_keeps_its_catch_while_its_dial_stays() -> None:
    runs = [{1: q("50 g"), 2: q("40 g")}, {2: q("50 g")}]
    advice = handbook_advice(runs, [at(10, 10), at(10, 12.5)], TARGET, TOLERANCE, DIAL)
    assert advice.outcome == "settled"
    assert set(advice.errors) == {1, 2}


def test_a_row_moved_and_not_caught_is_to_be_run_again() -> None:
    runs = [{1: q("50 g"), 2: q("40 g")}, {1: q("50 g")}]
    advice = handbook_advice(runs, [at(10, 10), at(10, 12.5)], TARGET, TOLERANCE, DIAL)
    assert advice.verdicts == {1: Verdict.ON_TARGET, 2: Verdict.RUN_AGAIN}
    assert advice.next_settings[2].position == 12.5
    assert set(advice.errors) == {1}
    assert advice.outcome == "run_again"


def test_a_dial_moved_after_the_last_catch_is_to_be_run_again() -> None:
    advice = handbook_advice([{1: q("50 g")}], [at(10), at(11)], TARGET, TOLERANCE, DIAL)
    assert advice.verdicts == {1: Verdict.RUN_AGAIN}
    assert advice.next_settings[1].position == 11


def test_rows_come_in_order() -> None:
    advice = handbook_advice([], [{3: DIAL.setting(2), 1: DIAL.setting(2)}], TARGET, TOLERANCE, DIAL)
    assert list(advice.verdicts) == [1, 3]


def test_a_catch_of_an_unknown_row_is_refused() -> None:
    with pytest.raises(InputError, match="row 9"):
        handbook_advice([{9: q("50 g")}], [at(10)], TARGET, TOLERANCE, DIAL)


@pytest.mark.parametrize(("caught", "target"), [("-1 g", "50 g"), ("50 g", "0 g")])
def test_impossible_masses_are_refused(caught: str, target: str) -> None:
    with pytest.raises(OutOfDomain):
        handbook_advice([{1: q(caught)}], [at(10)], q(target), TOLERANCE, DIAL)


@pytest.mark.parametrize(
    ("verdicts", "outcome"),
    [
        ([Verdict.ON_TARGET, Verdict.CLOSEST_NOTCH], "settled"),
        ([Verdict.ON_TARGET, Verdict.CANNOT_TELL], "cannot_tell"),
        ([Verdict.CANNOT_TELL, Verdict.RUN_AGAIN], "run_again"),
        ([Verdict.CANNOT_TELL, Verdict.RUN_AGAIN, Verdict.ADJUST], "adjust"),
        ([], "run_again"),
    ],
)
def test_the_planter_needs_what_its_neediest_row_needs(verdicts: list[Verdict], outcome: str) -> None:
    assert overall(verdicts) == outcome


@given(st.floats(1, 500), st.integers(2, 40))
def test_a_row_moves_only_when_off_and_the_right_way(grams: float, half: int) -> None:
    advice = judge(grams, half / 2)
    move = advice.next_settings[1].position - half / 2
    assert (advice.verdicts[1] is Verdict.ADJUST) is (move != 0)
    assert move == 0 or (move > 0) is (grams < 50)
