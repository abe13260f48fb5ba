"""The density of a product, told or from a weighed tube."""

from __future__ import annotations

import pytest

from engine.calculations.hoppers.density import density_told, measured_density, tube_weighed
from engine.errors import OutOfDomain
from tests.helpers.quantities import q


def test_a_weighed_tube_gives_mass_over_volume() -> None:
    """By hand: (260 - 60) g in 250 mL are 0.8 g/mL; 8 oz in 10 fl oz are 226.796 g in 295.735 mL, 0.76689 g/mL."""
    assert measured_density(q("250 mL"), q("260 g"), q("60 g")).to("g/mL").magnitude == pytest.approx(0.8)
    assert measured_density(q("10 fl oz"), q("8 oz"), q("0 g")).to("g/mL").magnitude == pytest.approx(
        0.766889, abs=1e-5
    )


@pytest.mark.parametrize(
    ("volume", "full", "empty"),
    [("250 mL", "60 g", "60 g"), ("250 mL", "50 g", "60 g"), ("0 mL", "60 g", "0 g"), ("1 mL", "1 g", "-1 g")],
)
def test_a_tube_without_product_or_volume_gives_none(volume: str, full: str, empty: str) -> None:
    with pytest.raises(OutOfDomain):
        measured_density(q(volume), q(full), q(empty))


@pytest.mark.parametrize(
    ("full", "outcome"),
    [
        ("60 g", "no_heavier"),
        ("10 g", "no_heavier"),
        ("134 g", "unusual"),
        ("135 g", "usual"),
        ("510 g", "usual"),
        ("511 g", "unusual"),
    ],
)
def test_a_density_that_granules_do_not_have_is_asked_about(full: str, outcome: str) -> None:
    found = tube_weighed(q("250 mL"), q(full), q("60 g"))
    assert found.outcome == outcome
    assert (found.density is None) == (outcome == "no_heavier")


def test_what_is_told_stands_and_what_is_not_told_is_unknown() -> None:
    told = density_told(q("50 lb/ft3"))
    assert told.outcome == "told" and told.density is not None
    assert told.density.to("lb/ft**3").magnitude == pytest.approx(50)
    assert (density_told().outcome, density_told().density) == ("unknown", None)
    with pytest.raises(OutOfDomain):
        density_told(q("0 g/mL"))
