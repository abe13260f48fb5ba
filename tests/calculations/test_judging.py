"""Judging a run: what was read becomes a catch, rows left out stay out, the drive comes before the dials."""

from __future__ import annotations

import pytest

from engine.calculations.advisor.observations import CatchGoal
from engine.calculations.advisor.starting import EarlierRates
from engine.calculations.advisor.verdict import Verdict
from engine.calculations.runs.run_verdict import (
    DrivenCourse,
    JudgedRuns,
    Rule,
    catch_check,
    caught_mass,
    drive_advice,
    judge_run,
    next_move,
    rates_along_row,
    run_pattern,
)
from engine.errors import InputError, OutOfDomain
from engine.quantities import Quantity, quantity
from engine.values import Dial

DIAL = Dial.numbered(0, 30, 1)
TARGET = quantity(40, "g")
TOLERANCE = quantity(5, "%")
GOAL = CatchGoal(TARGET, TOLERANCE)


def grams(*values: float) -> dict[int, Quantity]:
    return {row: quantity(value, "g") for row, value in enumerate(values, 1)}


@pytest.mark.parametrize(
    ("gross", "tare", "outcome", "net"),
    [(90, 40, "fine", 50), (40, 40, "nothing", 0), (39.9, 40, "lighter_than_container", -0.1), (50, None, "fine", 50)],
)
def test_a_reading_less_its_container(gross: float, tare: float | None, outcome: str, net: float) -> None:
    found = catch_check(quantity(gross, "g"), None if tare is None else quantity(tare, "g"))
    assert found.outcome == outcome
    assert found.net.to("gram").magnitude == pytest.approx(net)


def test_weighed_or_poured() -> None:
    weighed = caught_mass(grams(90, 95), quantity(40, "g"))
    poured = caught_mass(volumes={1: quantity(50, "mL")}, density=quantity(0.8, "g/mL"))
    assert [one.to("gram").magnitude for one in weighed.values()] == pytest.approx([50, 55])
    assert poured[1].to("gram").magnitude == pytest.approx(40)
    with pytest.raises(InputError, match="no row was caught"):
        caught_mass()


@pytest.mark.parametrize("rule", ["advise", "handbook"])
def test_a_row_left_out_of_the_last_run_has_no_verdict(rule: Rule) -> None:
    settings = {row: DIAL.setting(12) for row in (1, 2, 3)}
    runs = (grams(40, 40, 40), {1: TARGET, 2: TARGET})
    found = judge_run(rule, JudgedRuns(runs, (settings, settings)), GOAL, DIAL)
    assert set(found.verdicts) == {1, 2}


def test_rules_differ_where_evidence_counts() -> None:
    runs = JudgedRuns(({1: quantity(42.1, "g")},), ({1: DIAL.setting(12)},))
    handbook = judge_run("handbook", runs, GOAL, DIAL)
    advice = judge_run("advise", runs, GOAL, DIAL)
    assert handbook.probabilities is None
    assert advice.probabilities is not None
    assert handbook.next_settings[1].position == 11


def test_earlier_calibrations_make_the_advice_surer() -> None:
    course = quantity(300, "ft")
    settings = {row: DIAL.setting(12) for row in range(1, 5)}
    caught = (grams(47, 48, 47, 46),)
    earlier = tuple(
        rates_along_row({row: quantity(40 * at / 10.2, "g") for row in range(1, 5)}, course) for at in (8, 10, 12)
    )
    at = tuple({row: DIAL.setting(place) for row in range(1, 5)} for place in (8, 10, 12))
    runs, driven = JudgedRuns(caught, (settings,)), DrivenCourse(course)
    new = judge_run("advise", runs, GOAL, DIAL, driven=driven)
    known = judge_run("advise", runs, GOAL, DIAL, driven=driven, earlier=EarlierRates(earlier, at))
    assert known.probabilities is not None and new.probabilities is not None
    assert min(known.probabilities.values()) > max(new.probabilities.values())


def test_the_drive_comes_first_only_where_there_is_one() -> None:
    high = grams(47, 48, 47, 46, 47, 48)
    assert drive_advice(high, TARGET, TOLERANCE, "shared").outcome == "change_drive"
    assert drive_advice(high, TARGET, TOLERANCE, "shared").factor.magnitude == pytest.approx(40 / 47, rel=1e-3)
    assert drive_advice(high, TARGET, TOLERANCE, "each").outcome == "dials_only"
    assert drive_advice(grams(0, 0, 0), TARGET, TOLERANCE, "shared").outcome == "dials_only"


def test_two_rows_show_no_pattern() -> None:
    assert run_pattern(grams(50, 40), TARGET, TOLERANCE).outcome == "few"
    assert run_pattern(grams(40, 40, 60), TARGET, TOLERANCE).outcome == "one_row"
    assert run_pattern(grams(40, 40, 60), TARGET, TOLERANCE).row == 3


def test_rates_along_the_row_are_of_the_course() -> None:
    found = rates_along_row(grams(91.44), quantity(300, "ft"))
    assert found[1].to("gram / meter").magnitude == pytest.approx(1.0)
    with pytest.raises(OutOfDomain):
        rates_along_row(grams(1), quantity(0, "ft"))


def test_moving_comes_before_catching_again() -> None:
    assert next_move({1: Verdict.RUN_AGAIN, 2: Verdict.ADJUST}) == "adjust"
    assert next_move({1: Verdict.ON_TARGET, 2: Verdict.CLOSEST_NOTCH}) == "settled"
    with pytest.raises(InputError):
        next_move({})
