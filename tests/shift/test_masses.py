"""Every mass that stands in the books was said by somebody, or is the load or the mark."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from engine.shift.record.shift_ledger import Basis, in_pounds
from tests.shift.test_ledger import balanced, levels, night, played

WORDED: dict[str, Callable[[float], str]] = {
    "left": lambda mass: f"all {mass:.0f} pounds left",
    "each": lambda mass: f"refilled all with {mass:.0f} pounds each on top",
    "together": lambda mass: f"refilled all with {mass:.0f} pounds together on top",
    "row": lambda mass: f"row two {mass:.0f} pounds left",
    "full": lambda mass: f"row three filled up with {mass:.0f} pounds",
    "acres": lambda mass: f"{mass / 2:.1f} acres done",
    "good": lambda _: "all good",
    "lunch": lambda _: "lunch",
    "on": lambda _: "planting again",
}
TOLD = st.lists(st.tuples(st.integers(0, 60), st.sampled_from(sorted(WORDED)), st.floats(1, 60)), max_size=8)


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(TOLD)
@example([(60, "acres", 14.4), (1, "each", 20.0), (40, "acres", 23.88), (0, "left", 47.0)])
def test_every_mass_in_the_books_was_said(told: list[tuple[int, str, float]]) -> None:
    """A level is that of the load, one that was said, or the mark, whatever the clock would have it be."""
    found, said = night(8), {40.0}
    for minutes, kind, mass in told:
        played(found, (minutes, WORDED[kind](mass)))
        found.settle()
        said |= {float(f"{mass:.0f}")}
    ledger = found.shift.ledger
    ends = [level for one in ledger.rounds for pair in levels(one) for level in pair]
    for level in (*ends, *(account.level for account in ledger.accounts.values())):
        assert level.basis is not Basis.RECKONED
        assert any(in_pounds(level.mass) == pytest.approx(one) for one in said), level
    assert all(one.used is None or balanced(one) for one in ledger.rounds)
