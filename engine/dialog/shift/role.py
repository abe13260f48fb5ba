"""What a watch needs to know of its dialog: which roles must be filled, and with what."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from engine.calculations.catalogue import Shape, ValueType
from engine.definitions import Place
from engine.dialog.fault import Fault, nearest
from engine.dialog.script import Role, Watch
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
}
WORDS: Mapping[Role, frozenset[str]] = {
    Role.IN_USE: frozenset({"on", "off"}),
    Role.METER: frozenset({"positive", "between", "gravity"}),
}


def faults(step: Watch, place: Place, types: Mapping[str, ValueType]) -> Iterator[Fault]:
    """Roles that are missing, or filled with something else."""
    for role in sorted(NEEDED - step.watch.keys()):
        yield Fault((*place, "watch"), f"a watch needs {role}", f"add {role}, {TYPES[role]}")
    for role, name in step.watch.items():
        found, wanted, where = types.get(name), TYPES[role], (*place, "watch", role)
        if found and not (found.shape is wanted.shape and wanted.accepts(found)):
            yield Fault(where, f"{role} is {wanted}, but {name} is {found}", nearest(role, types, "name another value"))
        elif found and role in WORDS and set(found.words) != WORDS[role]:
            words = ", ".join(sorted(WORDS[role]))
            yield Fault(where, f"{role} has the options {words}", "give the choice these options")
