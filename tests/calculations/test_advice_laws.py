"""Laws of advice: what must not matter, what must grow with what, and that there is always an answer."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.quantities import quantity
from engine.values import Dial
from tests.helpers.advising import DIAL, advice, advised, everywhere, grams, probability


@settings(max_examples=15, deadline=None)
@given(st.permutations(range(1, 7)), st.lists(st.floats(35, 65), min_size=6, max_size=6))
def test_the_numbers_of_rows_do_not_matter(order: list[int], first: list[float]) -> None:
    plain = dict(zip(range(1, 7), first, strict=True))
    mixed = dict(zip(order, first, strict=True))
    one, other = (advice([run], [everywhere(12, 6)]) for run in (plain, mixed))
    for row, moved in zip(range(1, 7), order, strict=True):
        assert one.next_settings[row] == other.next_settings[moved]
        assert one.verdicts[row] == other.verdicts[moved]
        assert probability(one, row) == pytest.approx(probability(other, moved), abs=1e-6)


@settings(max_examples=15, deadline=None)
@given(st.floats(0.01, 100), st.lists(st.floats(35, 65), min_size=4, max_size=4))
def test_the_size_of_the_catch_does_not_matter(times: float, first: list[float]) -> None:
    run = dict(zip(range(1, 5), first, strict=True))
    at = [{row: DIAL.setting(12) for row in run}]
    small = advised([grams(run)], at, DIAL)
    large = advised(
        [{row: quantity(one * times, "g") for row, one in run.items()}],
        at,
        DIAL,
        target=quantity(49.5 * times, "g"),
        scale_step=quantity(times, "g"),
    )
    assert small.next_settings == large.next_settings
    assert probability(small) == pytest.approx(probability(large), abs=1e-6)


@settings(max_examples=20, deadline=None)
@given(st.floats(38, 65), st.floats(38, 65), st.sampled_from([DIAL, Dial.marked(tuple("ABCDEFGHIJKLMNOPQRSTUVWXY"))]))
def test_the_more_a_row_caught_the_lower_it_goes(one: float, other: float, dial: Dial) -> None:
    low, high = sorted((one, other))
    found = advice([{1: low, 2: high, 3: 50.0, 4: 50.0}], [everywhere(12, 4)], dial)
    assert found.next_settings[1].position >= found.next_settings[2].position


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.lists(st.floats(0, 500), min_size=3, max_size=3), min_size=1, max_size=6),
    st.lists(st.lists(st.integers(0, 24), min_size=3, max_size=3), min_size=6, max_size=6),
    st.sampled_from(
        [Dial.numbered(0, 24, 1), Dial.numbered(-12, 12, 1), Dial.marked(tuple("ABCDEFGHIJKLMNOPQRSTUVWXY"))]
    ),
)
def test_any_catches_give_an_answer(caught: list[list[float]], notches: list[list[int]], dial: Dial) -> None:
    runs = [dict(enumerate(run, start=1)) for run in caught]
    at = [{row: dial.low + one for row, one in enumerate(run, start=1)} for run in notches[: len(runs)]]
    found = advice(runs, at, dial)
    for row, setting in found.next_settings.items():
        assert 0 <= probability(found, row) <= 1
        assert dial.find(setting.label) == setting
