"""One change of the common drive when all rows are off together."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.calculations.drive import DriveChange, drive_change
from engine.errors import OutOfDomain
from engine.quantities import quantity
from tests.helpers.quantities import q

RATIOS = {place: quantity(one, "1") for place, one in enumerate((0.8, 0.9, 1.0, 1.12, 1.25), start=1)}


def change(*grams: float, ratio: float = 1.0) -> DriveChange:
    caught = {row: quantity(one, "g") for row, one in enumerate(grams, start=1)}
    return drive_change(caught, q("50 g"), q("5 %"), quantity(ratio, "1"), RATIOS)


@pytest.mark.parametrize(
    ("grams", "outcome", "ratio", "off"),
    [
        ((56, 56, 56), "change_drive", 0.9, 0.9 * 1.12 - 1),
        ((40, 40, 40), "change_drive", 1.25, 0.0),
        ((20, 20, 20), "change_drive", 1.25, -0.5),
        ((52.6, 52.6, 52.6), "keep", 1.0, 0.052),
        ((50, 50, 50), "rows_alone", 1.0, 0.0),
        ((50, 50, 70), "rows_alone", 1.0, 0.0),
        ((0, 0, 0), "rows_alone", 1.0, -1.0),
    ],
)
def test_the_nearest_ratio_by_share(grams: tuple[float, ...], outcome: str, ratio: float, off: float) -> None:
    found = change(*grams)
    assert (found.outcome, found.ratio.magnitude) == (outcome, pytest.approx(ratio))
    assert found.off.magnitude == pytest.approx(off)


def test_a_machine_without_another_ratio_keeps_its_own() -> None:
    caught = {row: q("60 g") for row in (1, 2, 3)}
    assert drive_change(caught, q("50 g"), q("5 %"), q("1 1"), {1: q("1 1")}).outcome == "keep"


@pytest.mark.parametrize("ratios", [{}, {1: "0 1"}, {1: "-1 1"}])
def test_a_ratio_is_more_than_nothing(ratios: dict[int, str]) -> None:
    with pytest.raises(OutOfDomain, match="ratio"):
        caught = {row: q("60 g") for row in (1, 2, 3)}
        drive_change(caught, q("50 g"), q("5 %"), q("1 1"), {place: q(one) for place, one in ratios.items()})


def test_the_present_ratio_is_more_than_nothing() -> None:
    with pytest.raises(OutOfDomain, match="ratio 0"):
        change(60, 60, 60, ratio=0)


@given(st.floats(20, 120), st.sampled_from([0.8, 0.9, 1.0, 1.12, 1.25]))
def test_no_other_ratio_would_be_nearer(grams: float, ratio: float) -> None:
    found = change(grams, grams, grams, ratio=ratio)
    if found.outcome != "rows_alone":
        assert found.suited.magnitude == pytest.approx(ratio * 50 / grams)
        share = max(found.ratio / found.suited, found.suited / found.ratio)
        assert all(share <= max(one / found.suited, found.suited / one) * 1.000001 for one in RATIOS.values())
