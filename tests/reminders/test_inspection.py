"""When the hoppers are looked at next by each plan, held against arithmetic done by hand."""

from __future__ import annotations

from datetime import datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.errors import OutOfDomain
from engine.quantities import quantity
from engine.reminders.inspection import (
    DEFAULT,
    PACE_DOUBT,
    EachFilling,
    Filling,
    Limits,
    LookPlan,
    NextLook,
    Passes,
    RefillsOnly,
    Tightening,
    WithinArea,
    next_look,
)
from engine.reminders.rules import Decider, PlantingPace, Strain
from tests.helpers.quantities import q

# 30 ft at 5.5 mph and 50 % plants 30 x 5.5 x 0.5 / 8.25 = 10 acres an hour.
PACE = PlantingPace(q("5.5 mph"), q("30 ft"), q("50 %"))
PLAIN = Limits()


def filling(planted: float, left: float) -> Filling:
    return Filling(quantity(planted, "acre"), quantity(left, "acre"))


def found(plan: LookPlan, limits: Limits = PLAIN, at: Filling | None = None, passes: Passes | None = None) -> NextLook:
    look = next_look(PACE, plan, limits, at, passes)
    assert look is not None
    return look


def acres(look: NextLook) -> float:
    return float(look.area.to("acre").magnitude)


def test_once_in_the_middle_of_a_filling() -> None:
    """Full hoppers last 40 acres and are refilled by 32: the look is due after 16 acres, in 96 minutes."""
    look = found(DEFAULT, at=filling(0, 40))
    assert (look.decided_by, acres(look)) == (Decider.FILLING, pytest.approx(16))
    assert look.interval.total_seconds() == pytest.approx(96 * 60, abs=0.01)


def test_after_the_middle_the_refill_is_the_next_look() -> None:
    look = found(DEFAULT, at=filling(16, 24))
    assert (look.decided_by, acres(look)) == (Decider.RUN_OUT, pytest.approx(0.8 * 24))


@pytest.mark.parametrize(("planted", "ahead"), [(4, 14), (11, 10.5), (11.9, 10.05), (12.1, None), (31, None)])
def test_a_look_out_of_turn_spreads_the_others_anew(planted: float, ahead: float | None) -> None:
    """Refilled by 32 acres, planned 16 apart: up to 20 acres ahead of the refill no look is made in between."""
    look = found(DEFAULT, at=filling(planted, 40 - planted))
    assert look.decided_by is (Decider.RUN_OUT if ahead is None else Decider.FILLING)
    assert acres(look) == pytest.approx(ahead or 0.8 * (40 - planted))


def test_refills_only_asks_once_the_first_hopper_runs_out() -> None:
    look = found(RefillsOnly(), at=filling(0, 40))
    assert (look.decided_by, acres(look)) == (Decider.RUN_OUT, pytest.approx(32))
    assert next_look(PACE, RefillsOnly(), PLAIN) is None
    assert next_look(PACE, DEFAULT, PLAIN) is None


def test_acres_that_may_be_lost_are_acres_of_the_machine() -> None:
    """10 acres less 2 that go by unseen and 0.5 in three minutes, at a pace that may be 15 % faster."""
    limits = Limits(unseen=q("2 acre"), answer=timedelta(minutes=3))
    look = found(WithinArea(q("10 acre")), limits)
    assert (look.decided_by, acres(look)) == (Decider.ACRES, pytest.approx(7.5 / (1 + PACE_DOUBT)))


def test_what_an_eye_cannot_see_takes_half_at_most() -> None:
    look = found(WithinArea(q("6 acre")), Limits(unseen=q("5 acre")))
    assert acres(look) == pytest.approx(3 / (1 + PACE_DOUBT))


def test_the_growers_own_limit_and_the_floor_hold() -> None:
    own = found(DEFAULT, Limits(own=timedelta(minutes=60)), filling(0, 40))
    assert (own.decided_by, acres(own)) == (Decider.OWN, pytest.approx(10))
    floor = found(DEFAULT, at=filling(39.9, 0.1))
    assert (floor.decided_by, floor.interval, acres(floor)) == (
        Decider.FLOOR,
        timedelta(minutes=5),
        pytest.approx(10 / 12),
    )
    assert found(WithinArea(q("0.1 acre"))).decided_by is Decider.FLOOR


def test_nothing_comes_closer_at_night_unless_it_is_asked_for() -> None:
    late, long = datetime(2027, 4, 21, 23), timedelta(hours=9)
    plain = next_look(PACE, DEFAULT, PLAIN, filling(0, 40), local=late, on_shift=long)
    assert plain == found(DEFAULT, at=filling(0, 40))
    asked = Limits(tightening=Tightening())
    look = next_look(PACE, DEFAULT, asked, filling(0, 40), local=late, on_shift=long)
    assert look is not None
    assert (look.tightened, acres(look)) == ((Strain.LATE, Strain.LONG), pytest.approx(16 * 0.75**2))
    noon = next_look(PACE, DEFAULT, asked, filling(0, 40), local=datetime(2027, 4, 21, 12))
    assert noon == plain
    only = Limits(tightening=Tightening(late_from=time(1), late_until=time(5), long_after=None))
    at_two = next_look(PACE, DEFAULT, only, filling(0, 40), local=late, on_shift=long)
    assert at_two is not None
    assert at_two.tightened == ()


@pytest.mark.parametrize(
    ("one", "begun", "count", "area"), [(3, 0, 5, 15), (5, 0, 3, 15), (5, 3, 4, 17), (7, 0, 2, 14), (50, 0, None, 16)]
)
def test_a_look_in_a_filling_goes_to_the_nearest_end_of_a_pass(
    one: float, begun: float, count: int | None, area: float
) -> None:
    passes = Passes(quantity(one, "acre"), quantity(begun, "acre"))
    look = found(DEFAULT, at=filling(0, 40), passes=passes)
    assert (look.passes, acres(look)) == (count, pytest.approx(area))


def test_any_other_look_goes_to_the_end_of_the_pass_before() -> None:
    look = found(RefillsOnly(), at=filling(0, 40), passes=Passes(q("5 acre")))
    assert (look.passes, acres(look)) == (6, pytest.approx(30))
    exact = found(RefillsOnly(), at=filling(0, 40), passes=Passes(q("8 acre")))
    assert (exact.passes, acres(exact)) == (4, pytest.approx(32))
    own = found(DEFAULT, Limits(own=timedelta(minutes=97)), filling(0, 40), Passes(q("5.5 acre")))
    assert (own.passes, acres(own)) == (2, pytest.approx(11))


plans = st.one_of(
    st.builds(EachFilling, st.integers(1, 4)),
    st.just(RefillsOnly()),
    st.builds(lambda area: WithinArea(quantity(area, "acre")), st.floats(0.5, 60)),
)


@given(plans, st.floats(0, 50), st.floats(0.5, 50), st.floats(0.2, 8), st.integers(10, 300))
def test_no_look_comes_later_than_what_holds(plan: LookPlan, planted: float, left: float, one: float, own: int) -> None:
    """Neither past the hopper nor past the grower's own time, nor past the acres that may be lost."""
    limits = Limits(own=timedelta(minutes=own), floor=timedelta(0))
    for passes in (None, Passes(quantity(one, "acre"))):
        look = found(plan, limits, filling(planted, left), passes)
        assert acres(look) <= 0.8 * left * (1 + 1e-9)
        assert look.interval <= timedelta(minutes=own)
        if isinstance(plan, WithinArea):
            assert acres(look) <= plan.area.magnitude
        if look.passes is not None:
            assert acres(look) == pytest.approx(look.passes * one)


@given(st.integers(1, 5), st.floats(5, 60))
def test_looks_of_a_filling_are_as_many_as_planned(between: int, lasts: float) -> None:
    planted, looks, limits = 0.0, 0, Limits(floor=timedelta(0))
    while (
        look := found(EachFilling(between), limits, filling(planted, lasts - planted))
    ).decided_by is Decider.FILLING:
        planted, looks = planted + acres(look), looks + 1
    assert looks == between


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: next_look(PACE, EachFilling(0), PLAIN, filling(0, 40)),
        lambda: next_look(PACE, WithinArea(q("0 acre")), PLAIN),
        lambda: next_look(PACE, DEFAULT, PLAIN, filling(-1, 40)),
        lambda: next_look(PACE, DEFAULT, PLAIN, filling(1, -40)),
        lambda: next_look(PACE, DEFAULT, PLAIN, filling(0, 40), Passes(q("0 acre"))),
    ],
)
def test_what_means_nothing_is_refused(wrong: object) -> None:
    with pytest.raises(OutOfDomain):
        wrong()  # type: ignore[operator]
