"""The books of the hoppers: loaded + added - left = used, to the gram, whatever is told in whatever order."""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import cache

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from engine.dialog.facts.state import ConversationState
from engine.dialog.interpreter import Turn
from engine.quantities import Measure
from engine.shift.record.shift_facts import OverLabel, RateFound
from engine.shift.record.shift_ledger import Basis, HopperLedger, HopperLevel, Round, in_pounds, pounds
from tests.dialog.test_laws import Pure
from tests.dialog.test_shift import Night
from tests.helpers.talking import beginnings

LAW = settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
START = datetime.fromisoformat("2026-04-22T02:00:00+00:00")
GRAM = 1 / 453.59237
"""A gram in pounds: the international pound is 453.59237 g by definition (NIST Handbook 44, appendix C)."""
ROWS = st.integers(1, 12)
MASS = st.floats(0.1, 60.0)


def after(minutes: int) -> datetime:
    return START + timedelta(minutes=minutes)


# ---------------------------------------------------------------- the books by themselves


class Scales:
    """Every hopper on a scale of its own: what truly lies in it, and the ledger that hears of it."""

    def __init__(self, loaded: dict[int, float]) -> None:
        self.holds = dict(loaded)
        self.loaded, self.added, self.minutes = sum(loaded.values()), 0.0, 0
        self.ledger = HopperLedger.of({row: pounds(mass) for row, mass in loaded.items()}, START)

    def use(self, share: float) -> None:
        self.minutes += 30
        self.holds = {row: mass * (1 - share) for row, mass in self.holds.items()}

    def fill(self, mass: float, rows: tuple[int, ...], *, each: bool) -> None:
        one = mass if each else mass / len(rows)
        self.holds |= {row: self.holds[row] + one for row in rows}
        self.added += one * len(rows)
        self.ledger = (
            self.ledger.adding(dict.fromkeys(rows, pounds(one))) if each else self.ledger.pouring(pounds(mass), rows)
        )

    def weigh(self, rows: tuple[int, ...]) -> None:
        at = after(self.minutes)
        self.ledger = self.ledger.reading({row: HopperLevel(mass=pounds(self.holds[row]), at=at) for row in rows})

    @property
    def left(self) -> float:
        return sum(self.holds.values())


def balanced(found: Round) -> bool:
    """Whether what one round says it used is what its own levels and additions come to."""
    start, end = (sum(in_pounds(one.mass) for one in ends) for ends in zip(*levels(found), strict=True))
    used = found.used
    return used is not None and abs(start + in_pounds(found.added) - end - in_pounds(used)) < GRAM


def levels(found: Round) -> list[tuple[HopperLevel, HopperLevel]]:
    return [(one.start, one.end) for one in found.intervals.values()]


@st.composite
def nights(draw: st.DrawFn) -> Scales:
    """A night of several rounds: in each some product is used, some is added, and every hopper is weighed, in one
    breath or in two."""
    rows = tuple(range(1, draw(ROWS) + 1))
    scales = Scales({row: draw(MASS) for row in rows})
    for _ in range(draw(st.integers(1, 4))):
        scales.use(draw(st.floats(0.0, 0.9)))
        for _ in range(draw(st.integers(0, 2))):
            some = tuple(sorted(draw(st.sets(st.sampled_from(rows), min_size=1))))
            scales.fill(draw(MASS), some, each=draw(st.booleans()))
            scales.use(draw(st.floats(0.0, 0.5)))
        first = tuple(draw(st.sets(st.sampled_from(rows))))
        if first:
            scales.weigh(first)
        scales.weigh(tuple(row for row in rows if row not in first) or rows)
        scales.ledger = scales.ledger.closing()
    return scales


@LAW
@given(nights())
def test_loaded_and_added_less_left_is_used_to_the_gram(scales: Scales) -> None:
    whole = scales.ledger.whole
    assert whole is not None
    assert whole.used is not None
    assert in_pounds(whole.added) == pytest.approx(scales.added, abs=GRAM)
    assert in_pounds(whole.used) == pytest.approx(scales.loaded + scales.added - scales.left, abs=GRAM)
    assert all(map(balanced, (*scales.ledger.rounds, whole)))


@LAW
@given(nights())
def test_the_rounds_add_up_to_the_whole(scales: Scales) -> None:
    whole, used = scales.ledger.whole, [one.used for one in scales.ledger.rounds]
    assert whole is not None
    assert whole.used is not None
    assert sum(in_pounds(one) for one in used if one is not None) == pytest.approx(in_pounds(whole.used), abs=GRAM)
    for one, two in zip(scales.ledger.rounds, scales.ledger.rounds[1:], strict=False):
        assert {row: each.end for row, each in one.intervals.items()} == {
            row: each.start for row, each in two.intervals.items()
        }


@LAW
@given(nights(), MASS)
def test_what_went_into_several_together_is_known_of_no_row(scales: Scales, mass: float) -> None:
    rows = tuple(scales.holds)
    scales.fill(mass, rows, each=False)
    scales.use(0.2)
    scales.weigh(rows)
    found = scales.ledger.round
    assert found is not None
    assert found.own == {}
    assert balanced(found)


@LAW
@given(nights(), st.data())
def test_what_nobody_weighed_gives_no_figure_until_the_hoppers_were_told_anew(
    scales: Scales, data: st.DataObject
) -> None:
    rows = tuple(scales.holds)
    rounds = len(scales.ledger.rounds)
    some = data.draw(st.sets(st.sampled_from(rows), min_size=1))
    scales.ledger = scales.ledger.unweighed(some)
    scales.use(0.2)
    scales.weigh(rows)
    assert scales.ledger.round is not None
    assert scales.ledger.round.used is None
    scales.use(0.2)
    before = scales.left / 0.8
    scales.weigh(rows)
    found = scales.ledger.round
    assert found is not None
    assert found.used is not None
    assert in_pounds(found.used) == pytest.approx(before - scales.left, abs=GRAM), "the next round begins after it"
    scales.ledger = scales.ledger.closing()
    assert scales.ledger.whole is not None
    assert scales.ledger.whole.used is None, "the whole shift has a gap"
    assert len(scales.ledger.rounds) == rounds + 2


@LAW
@given(nights(), st.data())
def test_a_round_is_known_once_every_hopper_was_told(scales: Scales, data: st.DataObject) -> None:
    rows = tuple(scales.holds)
    some = data.draw(st.sets(st.sampled_from(rows), max_size=len(rows) - 1))
    before = len(scales.ledger.rounds)
    if some:
        scales.weigh(tuple(some))
    assert scales.ledger.round is None
    assert scales.ledger.closing() == scales.ledger
    assert len(scales.ledger.rounds) == before


# ---------------------------------------------------------------- worked examples, through the dialog

TARGET = 8 / 16 / (1000 * 2.5 / 43560)
"""8 oz over 1000 ft of a row that serves 30 in [lb/acre]."""
WORDS = {4: "four", 8: "eight"}


@cache
def planting(rows: int, high: str) -> ConversationState:
    """Rows of 30 in, 8 oz/1000 ft, 5 mph, 40 lb loaded in each; the catch of 300 ft was on target."""
    talk = Pure()
    talk.say_all(["set up", WORDS[rows], "thirty inches", "zero to thirty by one", "no", "skip", "skip"])
    talk.say_all(
        ["two pounds an acre", f"{high} pounds an acre", "eight ounces per thousand feet", "five miles an hour"]
    )
    talk.say_all(["three hundred feet", "scale", "forty grams", "one gram", "test run", "all at twelve"])
    catches = ", ".join(f"row {row} one hundred eight grams" for row in range(1, rows + 1))
    talk.say_all([f"forty one seconds, {catches}", "enough", *beginnings()["planting"]])
    return talk.state


def night(rows: int, high: str = "twenty") -> Night:
    """A night in the minute in which planting begins."""
    found = Night()
    found.state = planting(rows, high)
    found.now = found.shift.started
    assert [in_pounds(one.level.mass) for one in found.shift.ledger.accounts.values()] == [40.0] * rows
    return found


def played(found: Night, *said: tuple[int, str]) -> list[Turn]:
    """Turns of sentences, each so many minutes after the one before."""
    turns = []
    for minutes, text in said:
        found.now += timedelta(minutes=minutes)
        turns.append(found.say(text))
    return turns


def per_acre(one: RateFound) -> float:
    return one.rate.to("lb/acre").value


def test_a_perfect_planter_refilled_on_top_is_on_target() -> None:
    """Eight hoppers of 40 lb; 7.2 acres at 8.712 lb/acre; 20 lb on top of each; 4.74 acres more: 480 lb less 8.7123
    lb/acre times 11.94 acres is 376 lb, 47 lb in each."""
    assert pytest.approx(8.712, abs=1e-3) == TARGET
    assert pytest.approx(8.7102, abs=1e-4) == (8 * 60 - 8 * 47) / 11.94
    found = night(8)
    said = (60, "7.2 acres done"), (1, "refilled all with twenty pounds each on top"), (40, "11.94 acres done")
    played(found, *said)
    (turn,) = played(found, (0, "all forty seven pounds left"))
    (one,) = found.shift.rates
    assert "Is that right?" not in turn.reply.text
    assert per_acre(one) == pytest.approx(8.71, abs=0.005)
    assert one.outcome == "on_target"
    assert not one.reckoned
    assert found.shift.over is None


def test_a_shift_that_used_a_fifth_too_much_is_told_so() -> None:
    """320 lb loaded, 400 lb on top, 592 lb left over 12 acres: 128 lb, 10.67 lb/acre, 22 % over 8.712."""
    found = night(8)
    played(found, (60, "7.2 acres done"), (1, "refilled all with fifty pounds each on top"), (40, "12 acres done"))
    (turn,) = played(found, (0, "all seventy four pounds left"))
    (one,) = found.shift.rates
    assert in_pounds(one.used) == pytest.approx(320 + 400 - 592)
    assert per_acre(one) == pytest.approx(128 / 12)
    assert one.off.to("%").value == pytest.approx((128 / 12 / TARGET - 1) * 100, abs=0.1)
    assert "22% high" in turn.reply.text
    assert one.outcome == "too_much"
    assert found.shift.over is None


def test_the_same_shift_over_a_label_of_ten_stops() -> None:
    found = night(8, "ten")
    played(found, (60, "7.2 acres done"), (1, "refilled all with fifty pounds each on top"), (40, "12 acres done"))
    (turn,) = played(found, (0, "all seventy four pounds left"))
    (over,) = (fact for fact in turn.facts if isinstance(fact, OverLabel))
    assert over.rate.to("lb/acre").value == pytest.approx(128 / 12)
    assert over.limit == Measure(value=10.0, unit="lb/acre")
    assert found.shift.over == over


def test_four_hoppers_that_used_too_little_are_told_so() -> None:
    """Four hoppers of 40 lb, 50 lb on top of each, 79 lb left in each over 8 acres: 44 lb, 5.5 lb/acre."""
    found = night(4)
    played(found, (60, "5 acres done"), (1, "refilled all with fifty pounds each on top"), (60, "8 acres done"))
    (turn,) = played(found, (0, "all seventy nine pounds left"))
    (one,) = found.shift.rates
    assert in_pounds(one.used) == pytest.approx(4 * 40 + 4 * 50 - 4 * 79)
    assert per_acre(one) == pytest.approx(5.5)
    assert "5.5 lb/acre, 37% low" in turn.reply.text
    assert one.outcome == "too_little"


def test_hoppers_filled_up_without_a_weight_give_no_rate() -> None:
    found = night(8)
    played(found, (60, "7.2 acres done"), (1, "refilled"), (40, "12 acres done"), (0, "all twenty four pounds left"))
    found.settle()
    assert [in_pounds(one.used) for one in found.shift.rates] in ([], [pytest.approx(8 * 16)])
    assert all(one.basis is Basis.ASSUMED for one in found.shift.rates)


# ---------------------------------------------------------------- nothing that was reckoned is booked
