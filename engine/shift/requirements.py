"""What a shift needs to know of its dialog."""

from __future__ import annotations

from collections.abc import Mapping

from engine.calculations.catalogue import Shape, ValueType
from engine.dialog.requirements import REQUIREMENTS, Requirements
from engine.dialog.roles import Role
from engine.quantities import Dimension

_RATE = frozenset({Dimension.AREA_RATE, Dimension.ROW_RATE})
NEEDED = frozenset({Role.ROWS, Role.SPACING, Role.RATE, Role.SPEED, Role.LOADED})


def _measure(*dimensions: Dimension, shape: Shape = Shape.ONE) -> ValueType:
    return ValueType("measure", frozenset(dimensions), shape)


TYPES: Mapping[Role, ValueType] = {
    Role.ROWS: ValueType("count"),
    Role.SPACING: _measure(Dimension.LENGTH),
    Role.RATE: ValueType("measure", _RATE),
    Role.SPEED: _measure(Dimension.SPEED),
    Role.LOADED: _measure(Dimension.MASS, shape=Shape.ROWS),
    Role.WILLING: _measure(Dimension.AREA),
    Role.PLANNED: _measure(Dimension.SPEED),
    Role.IN_USE: ValueType("word", shape=Shape.ROWS),
    Role.LONGEST: _measure(Dimension.TIME),
    Role.BAG: _measure(Dimension.MASS),
    Role.METER: ValueType("word"),
    Role.PRODUCT: ValueType("word"),
    Role.LOT: ValueType("word"),
    Role.FIELD: ValueType("word"),
    Role.FIELD_AREA: _measure(Dimension.AREA),
    Role.COURSE: _measure(Dimension.LENGTH),
    Role.TARGET: _measure(Dimension.MASS),
    Role.TUBE: _measure(Dimension.VOLUME),
    Role.TARE: _measure(Dimension.MASS),
    Role.TOLERANCE: _measure(Dimension.RATIO),
    Role.LABEL_LOW: ValueType("measure", _RATE),
    Role.LABEL_HIGH: ValueType("measure", _RATE),
    Role.CAPACITY: _measure(Dimension.MASS),
}
WORDS: Mapping[Role, frozenset[str]] = {
    Role.IN_USE: frozenset({"on", "off"}),
    Role.METER: frozenset({"positive", "between", "gravity"}),
}

SHIFT = "shift"
SHIFT_REQUIREMENTS = Requirements(NEEDED, TYPES, WORDS)
REQUIREMENTS[SHIFT] = SHIFT_REQUIREMENTS
