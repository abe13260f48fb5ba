from __future__ import annotations

import pytest

from engine.calculations.formulas import formulas
from engine.quantities import quantity
from engine.values import Dial

DIAL = Dial.numbered(0, 30, 1)
NOW = {
    "rate": quantity(5, "lb/acre"),
    "speed": quantity(5, "mph"),
    "spacing": quantity(30, "in"),
    "rows": 8,
    "product": "Product A",
    "lot": "447",
    "settings": {1: DIAL.setting(12)},
}
calibration_check = formulas()["calibration-check"].reckon
THEN = {f"calibrated_{name}": value for name, value in NOW.items()}


@pytest.mark.parametrize(
    ("change", "outcome"),
    [
        ({}, "fits"),
        ({"product": "Product B"}, "product"),
        ({"product": "product  a"}, "fits"),
        ({"product": None}, "product"),
        ({"planter": "Green", "calibrated_planter": "red"}, "planter"),
        ({"planter": "Green", "calibrated_planter": "green"}, "fits"),
        ({"planter": "Green", "calibrated_planter": None}, "fits"),
        ({"lot": "448"}, "lot"),
        ({"lot": "44-7"}, "fits"),
        ({"lot": None}, "fits"),
        ({"calibrated_lot": None}, "fits"),
        ({"rate": quantity(5.1, "lb/acre")}, "rate"),
        ({"rate": quantity(5.604255, "kg/ha")}, "fits"),
        ({"rate": quantity(5 * 30 / 32.67, "oz/1000 ft")}, "fits"),
        ({"planned": quantity(5.5, "mph")}, "fits"),
        ({"planned": quantity(5.51, "mph")}, "speed"),
        ({"planned": quantity(4.5, "mph")}, "fits"),
        ({"planned": quantity(4.49, "mph")}, "speed"),
        ({"speed": quantity(7, "mph")}, "speed"),
        ({"speed": quantity(7, "mph"), "planned": quantity(5, "mph")}, "fits"),
        ({"rows": 12}, "planter"),
        ({"settings": {1: DIAL.setting(13)}}, "planter"),
        ({"settings": {2: DIAL.setting(13)}}, "fits"),
    ],
)
def test_what_differs_is_named(change, outcome):
    assert calibration_check({**NOW, **THEN, **change}).outcome == outcome


def test_another_spacing_changes_the_rate_along_the_row_only_where_that_was_meant():
    wide = calibration_check({**NOW, **THEN, "spacing": quantity(38, "in")})
    assert wide.outcome == "spacing"
