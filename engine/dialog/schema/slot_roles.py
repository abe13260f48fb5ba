"""What the names of a dialog mean: a dialog maps roles to its own names, and whoever reads it asks for roles.

So a dialog file may call its slots, results and options as it likes. The text of a role is the name of its column in
the tables of the record, and stays the same from release to release.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from pydantic import Field

from engine.calculations.catalogue import ValueShape, ValueType
from engine.dialog.schema.slot import Name
from engine.messages import Message
from engine.quantities import Dimension
from engine.values import Value


class Phase(StrEnum):
    """What a dialog is for, to those who read its record."""

    READINESS = "readiness"
    SET_UP = "set-up"
    CALIBRATION = "calibration"
    SHIFT = "shift"
    STORAGE = "storage"
    REGISTER = "register"
    DELIVERY = "delivery"
    RECORD = "record"


BESIDE_THE_JOB = frozenset({Phase.REGISTER, Phase.DELIVERY, Phase.RECORD})
"""Phases of dialogs that are no step of an evening: they are opened when there is something to tell."""


class Role(StrEnum):
    """What a value means, whatever the dialog calls it."""

    ROWS = "rows"
    SPACING = "spacing"
    DIAL = "dial"
    DRIVE = "drive"
    PRODUCT = "product"
    LABEL_LOW = "label_low"
    LABEL_HIGH = "label_high"
    RATE = "rate"
    SPEED = "speed"
    COURSE = "course"
    CATCH_BY = "catch_by"
    TARE = "tare"
    SCALE_STEP = "scale_step"
    DENSITY = "density"
    TUBE_STEP = "tube_step"
    PASSES = "passes"
    TARGET = "target"
    TUBE = "target_tube"
    TOLERANCE = "tolerance"
    SETTING = "dial_setting"
    CATCH_MASS = "catch_mass"
    CATCH_VOLUME = "catch_volume"
    RUN_TIME = "course_time"
    TRUE_SPEED = "true_speed"
    AGAIN = "again"
    TRUE_SPEED_ROWS = "row_speed"
    START = "start_setting"
    START_BASIS = "start_basis"
    DRIVEN = "passes_driven"
    NEXT_CATCH = "next_catch"
    TREND = "common_trend"
    TREND_SINCE = "trend_since"
    SPEED_OFF = "speed_off"
    CONDITION = "condition"
    MACHINE_CHECK = "machine_check"
    MACHINE_DONE = "machine_done"
    GAVE = "gave"
    GAVE_BEFORE = "gave_before"
    NET = "net"
    ROW_RATE = "row_rate"
    EXPECTED_RATE = "expected_rate"
    EXPECTED_LOW = "expected_low"
    EXPECTED_HIGH = "expected_high"
    VERDICT = "verdict"
    NEXT_SETTING = "next_setting"
    ERROR = "error"
    PROBABILITY = "probability"
    DRIVE_FACTOR = "drive_factor"
    COMMON_OFF = "common_off"
    COMMON_SHIFT = "common_shift"
    ODD_ROW = "odd_row"
    LOADED = "loaded"
    WILLING = "willing"
    PLANNED = "planned"
    IN_USE = "in_use"
    PLANTING = "planting"
    LONGEST = "longest"
    BAG = "bag"
    METER = "meter"
    LOT = "lot"
    FIELD = "field"
    FIELD_AREA = "field_area"
    CAPACITY = "capacity"
    PASS_LENGTH = "pass_length"
    LEFT_OVER = "left_over"
    PUT_BACK = "put_back"
    GAP = "gap"
    OWN_CONTAINER = "own_container"
    LOCKED = "locked"
    REGISTRATION = "registration_number"
    FORMULATION = "formulation"
    ACTIVE = "active_ingredient"
    SEASON_HIGH = "season_high"
    REENTRY = "reentry_interval"
    PROTECTION = "protection"
    RESTRICTED = "restricted_use"
    CROP = "crop_or_site"
    LOCATION = "location"
    APPLICATOR = "applicator_name"
    CERTIFICATION = "certification_number"
    DELIVERED = "delivered"
    BAGS = "bags"
    EMPTIES = "empty_containers"
    STORE = "store"
    LOCKED_BY = "locked_by"
    TUBES_CLEANED = "tubes_cleaned"
    TUBES_DISPOSED = "tubes_disposed"
    TUBES_LATER = "tubes_later"
    TOTAL = "total_applied"
    PLANTER = "planter_name"
    METERS = "meters_name"
    SCALE = "scale_name"
    SCALE_CAPACITY = "scale_capacity"
    SCALE_CHECKED = "scale_checked"


class ChosenOption(Message):
    """A role that is a yes or no: whether the option ``is`` was chosen in the slot ``of``."""

    of: Name
    option: str = Field(alias="is")


Records = dict[Role, Name | ChosenOption]
"""The names of a dialog by role."""


def name_in(records: Records, role: Role) -> str | None:
    """The name under which a dialog holds a role; None where it has none, or an option of a slot."""
    found = records.get(role)
    return found if isinstance(found, str) else None


def names_in(records: Records) -> dict[Role, str]:
    """The roles that are held under a name."""
    return {role: name for role, name in records.items() if isinstance(name, str)}


def role_of(records: Records, name: str) -> Role | None:
    """The first role of a name; None where it has none."""
    return next((role for role, held in records.items() if isinstance(held, str) and held == name), None)


def holds(records: Records, role: Role, values: Mapping[str, Value]) -> bool | None:
    """Whether the option of a role was chosen; None where that is not known."""
    found = records.get(role)
    if not isinstance(found, ChosenOption) or found.of not in values:
        return None
    return values[found.of] == found.option


def _measure(*dimensions: Dimension, shape: ValueShape = ValueShape.ONE) -> ValueType:
    return ValueType("measure", frozenset(dimensions), shape)


_RATE = Dimension.AREA_RATE, Dimension.ROW_RATE
_ROWS = ValueShape.ROWS
TYPES: Mapping[Role, ValueType] = {
    Role.ROWS: ValueType("count"),
    Role.SPACING: _measure(Dimension.LENGTH),
    Role.DIAL: ValueType("dial"),
    Role.DRIVE: ValueType("word"),
    Role.PRODUCT: ValueType("word"),
    Role.LABEL_LOW: _measure(*_RATE),
    Role.LABEL_HIGH: _measure(*_RATE),
    Role.RATE: _measure(*_RATE),
    Role.SPEED: _measure(Dimension.SPEED),
    Role.COURSE: _measure(Dimension.LENGTH),
    Role.CATCH_BY: ValueType("word"),
    Role.TARE: _measure(Dimension.MASS),
    Role.SCALE_STEP: _measure(Dimension.MASS),
    Role.DENSITY: _measure(Dimension.DENSITY),
    Role.TUBE_STEP: _measure(Dimension.VOLUME),
    Role.PASSES: ValueType("count"),
    Role.TARGET: _measure(Dimension.MASS),
    Role.TUBE: _measure(Dimension.VOLUME),
    Role.TOLERANCE: _measure(Dimension.RATIO),
    Role.SETTING: ValueType("setting", shape=_ROWS),
    Role.CATCH_MASS: _measure(Dimension.MASS, shape=_ROWS),
    Role.CATCH_VOLUME: _measure(Dimension.VOLUME, shape=_ROWS),
    Role.RUN_TIME: _measure(Dimension.TIME),
    Role.TRUE_SPEED: _measure(Dimension.SPEED),
    Role.AGAIN: ValueType("word"),
    Role.TRUE_SPEED_ROWS: _measure(Dimension.SPEED, shape=_ROWS),
    Role.START: ValueType("setting", shape=_ROWS),
    Role.START_BASIS: ValueType("word", shape=_ROWS),
    Role.DRIVEN: ValueType("count"),
    Role.NEXT_CATCH: ValueType("word", shape=_ROWS),
    Role.TREND: _measure(Dimension.RATIO),
    Role.TREND_SINCE: ValueType("count"),
    Role.SPEED_OFF: _measure(Dimension.RATIO),
    Role.CONDITION: ValueType("word", shape=_ROWS),
    Role.GAVE: _measure(Dimension.MASS, shape=_ROWS),
    Role.GAVE_BEFORE: _measure(Dimension.MASS, shape=_ROWS),
    Role.NET: _measure(Dimension.MASS, shape=_ROWS),
    Role.ROW_RATE: _measure(*_RATE, shape=_ROWS),
    Role.EXPECTED_RATE: _measure(*_RATE, shape=_ROWS),
    Role.EXPECTED_LOW: _measure(*_RATE, shape=_ROWS),
    Role.EXPECTED_HIGH: _measure(*_RATE, shape=_ROWS),
    Role.VERDICT: ValueType("word", shape=_ROWS),
    Role.NEXT_SETTING: ValueType("setting", shape=_ROWS),
    Role.ERROR: _measure(Dimension.RATIO, shape=_ROWS),
    Role.PROBABILITY: _measure(Dimension.RATIO, shape=_ROWS),
    Role.DRIVE_FACTOR: _measure(Dimension.RATIO),
    Role.COMMON_OFF: _measure(Dimension.RATIO),
    Role.COMMON_SHIFT: _measure(Dimension.RATIO),
    Role.ODD_ROW: ValueType("count"),
    Role.LOADED: _measure(Dimension.MASS, shape=_ROWS),
    Role.WILLING: _measure(Dimension.AREA),
    Role.PLANNED: _measure(Dimension.SPEED),
    Role.IN_USE: ValueType("word", shape=_ROWS),
    Role.PLANTING: ValueType("word", shape=_ROWS),
    Role.LONGEST: _measure(Dimension.TIME),
    Role.BAG: _measure(Dimension.MASS),
    Role.FIELD_AREA: _measure(Dimension.AREA),
    Role.CAPACITY: _measure(Dimension.MASS),
    Role.PASS_LENGTH: _measure(Dimension.LENGTH),
    Role.LEFT_OVER: _measure(Dimension.MASS),
    Role.PUT_BACK: _measure(Dimension.MASS),
    Role.GAP: _measure(Dimension.MASS),
    Role.ACTIVE: _measure(Dimension.RATIO),
    Role.SEASON_HIGH: _measure(*_RATE),
    Role.REENTRY: _measure(Dimension.TIME),
    Role.DELIVERED: _measure(Dimension.MASS),
    Role.BAGS: ValueType("count"),
    Role.EMPTIES: ValueType("count"),
    **dict.fromkeys((Role.STORE, Role.LOCKED_BY), ValueType("word")),
    **dict.fromkeys((Role.METER, Role.LOT, Role.FIELD, Role.MACHINE_CHECK), ValueType("word")),
    **dict.fromkeys((Role.MACHINE_DONE, Role.OWN_CONTAINER, Role.LOCKED), ValueType("word")),
    **dict.fromkeys((Role.TUBES_CLEANED, Role.TUBES_DISPOSED, Role.TUBES_LATER), ValueType("word")),
    Role.TOTAL: _measure(Dimension.MASS),
    Role.SCALE_CAPACITY: _measure(Dimension.MASS),
    **dict.fromkeys((Role.PLANTER, Role.METERS, Role.SCALE, Role.SCALE_CHECKED), ValueType("word")),
    **dict.fromkeys((Role.REGISTRATION, Role.FORMULATION, Role.PROTECTION, Role.RESTRICTED), ValueType("word")),
    **dict.fromkeys((Role.CROP, Role.LOCATION, Role.APPLICATOR, Role.CERTIFICATION), ValueType("word")),
}
"""What a name must hold to have a role; of an option, its slot."""

EQUIPMENT = frozenset({Role.PLANTER, Role.METERS, Role.SCALE})
"""What a set-up is done with, by name: of an earlier set-up it says nothing about a later one."""

NEEDED: Mapping[Phase, frozenset[Role]] = {
    Phase.READINESS: frozenset({Role.CONDITION}),
    Phase.SET_UP: frozenset(
        {Role.ROWS, Role.SPACING, Role.RATE, Role.TARGET, Role.PRODUCT, Role.LABEL_LOW, Role.LABEL_HIGH}
    ),
    Phase.CALIBRATION: frozenset(
        {
            *(Role.ROWS, Role.SPACING, Role.RATE, Role.TARGET, Role.TOLERANCE, Role.LABEL_LOW, Role.LABEL_HIGH),
            *(Role.SETTING, Role.CATCH_MASS, Role.CATCH_VOLUME, Role.NET, Role.ROW_RATE),
            *(Role.VERDICT, Role.NEXT_SETTING, Role.ERROR),
        }
    ),
    Phase.SHIFT: frozenset({Role.ROWS, Role.SPACING, Role.RATE, Role.TARGET}),
    Phase.REGISTER: frozenset(),
    Phase.DELIVERY: frozenset({Role.DELIVERED, Role.LOT}),
    Phase.RECORD: frozenset(
        {
            *(Role.FIELD, Role.PRODUCT, Role.TOTAL, Role.REGISTRATION, Role.RESTRICTED),
            *(Role.LOCATION, Role.CROP, Role.APPLICATOR, Role.CERTIFICATION),
        }
    ),
    Phase.STORAGE: frozenset({Role.PUT_BACK, Role.LEFT_OVER, Role.GAP, Role.OWN_CONTAINER, Role.LOCKED}),
}
"""Without these a dialog of a phase is refused, since its record could not be told."""


@dataclass(frozen=True)
class Requirements:
    """What an activity asks of the dialog that it watches for: roles it cannot do without, others that it uses where
    they are there, and the options that a choice must have for it."""

    needed: frozenset[Role]
    welcome: frozenset[Role] = frozenset()
    words: Mapping[Role, frozenset[str]] = field(default_factory=dict)
