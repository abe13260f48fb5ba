"""What the names of a dialog mean: a dialog maps roles to its own names, and whoever reads it asks for roles.

So a dialog file may call its slots, results and options as it likes. The text of a role is the name of its column in
the tables of the record, and stays the same from release to release.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Self

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


_RATE = Dimension.AREA_RATE, Dimension.ROW_RATE
_ROWS = ValueShape.ROWS
_COUNT, _WORD, _WORDS = ValueType("count"), ValueType("word"), ValueType("word", shape=_ROWS)


def _measure(*dimensions: Dimension, shape: ValueShape = ValueShape.ONE) -> ValueType:
    return ValueType("measure", frozenset(dimensions), shape)


class Role(StrEnum):
    """What a value means, whatever the dialog calls it; ``held`` is what a name must hold to have it, of an option its
    slot: a word where nothing else is said."""

    held: ValueType

    def __new__(cls, text: str, held: ValueType = _WORD) -> Self:
        member = str.__new__(cls, text)
        member._value_ = text
        member.held = held
        return member

    ROWS = "rows", _COUNT
    SPACING = "spacing", _measure(Dimension.LENGTH)
    DIAL = "dial", ValueType("dial")
    DRIVE = "drive"
    PRODUCT = "product"
    LABEL_LOW = "label_low", _measure(*_RATE)
    LABEL_HIGH = "label_high", _measure(*_RATE)
    RATE = "rate", _measure(*_RATE)
    SPEED = "speed", _measure(Dimension.SPEED)
    COURSE = "course", _measure(Dimension.LENGTH)
    CATCH_BY = "catch_by"
    TARE = "tare", _measure(Dimension.MASS)
    SCALE_STEP = "scale_step", _measure(Dimension.MASS)
    DENSITY = "density", _measure(Dimension.DENSITY)
    TUBE_STEP = "tube_step", _measure(Dimension.VOLUME)
    PASSES = "passes", _COUNT
    TARGET = "target", _measure(Dimension.MASS)
    TUBE = "target_tube", _measure(Dimension.VOLUME)
    TOLERANCE = "tolerance", _measure(Dimension.RATIO)
    SETTING = "dial_setting", ValueType("setting", shape=_ROWS)
    CATCH_MASS = "catch_mass", _measure(Dimension.MASS, shape=_ROWS)
    CATCH_VOLUME = "catch_volume", _measure(Dimension.VOLUME, shape=_ROWS)
    RUN_TIME = "course_time", _measure(Dimension.TIME)
    TRUE_SPEED = "true_speed", _measure(Dimension.SPEED)
    AGAIN = "again"
    TRUE_SPEED_ROWS = "row_speed", _measure(Dimension.SPEED, shape=_ROWS)
    START = "start_setting", ValueType("setting", shape=_ROWS)
    START_BASIS = "start_basis", _WORDS
    DRIVEN = "passes_driven", _COUNT
    NEXT_CATCH = "next_catch", _WORDS
    TREND = "common_trend", _measure(Dimension.RATIO)
    TREND_SINCE = "trend_since", _COUNT
    SPEED_OFF = "speed_off", _measure(Dimension.RATIO)
    CONDITION = "condition", _WORDS
    MACHINE_CHECK = "machine_check"
    MACHINE_DONE = "machine_done"
    GAVE = "gave", _measure(Dimension.MASS, shape=_ROWS)
    GAVE_BEFORE = "gave_before", _measure(Dimension.MASS, shape=_ROWS)
    NET = "net", _measure(Dimension.MASS, shape=_ROWS)
    ROW_RATE = "row_rate", _measure(*_RATE, shape=_ROWS)
    EXPECTED_RATE = "expected_rate", _measure(*_RATE, shape=_ROWS)
    EXPECTED_LOW = "expected_low", _measure(*_RATE, shape=_ROWS)
    EXPECTED_HIGH = "expected_high", _measure(*_RATE, shape=_ROWS)
    VERDICT = "verdict", _WORDS
    NEXT_SETTING = "next_setting", ValueType("setting", shape=_ROWS)
    ERROR = "error", _measure(Dimension.RATIO, shape=_ROWS)
    PROBABILITY = "probability", _measure(Dimension.RATIO, shape=_ROWS)
    DRIVE_FACTOR = "drive_factor", _measure(Dimension.RATIO)
    COMMON_OFF = "common_off", _measure(Dimension.RATIO)
    COMMON_SHIFT = "common_shift", _measure(Dimension.RATIO)
    ODD_ROW = "odd_row", _COUNT
    LOADED = "loaded", _measure(Dimension.MASS, shape=_ROWS)
    WILLING = "willing", _measure(Dimension.AREA)
    PLANNED = "planned", _measure(Dimension.SPEED)
    IN_USE = "in_use", _WORDS
    PLANTING = "planting", _WORDS
    LONGEST = "longest", _measure(Dimension.TIME)
    BAG = "bag", _measure(Dimension.MASS)
    METER = "meter"
    LOT = "lot"
    FIELD = "field"
    FIELD_AREA = "field_area", _measure(Dimension.AREA)
    CAPACITY = "capacity", _measure(Dimension.MASS)
    PASS_LENGTH = "pass_length", _measure(Dimension.LENGTH)
    LEFT_OVER = "left_over", _measure(Dimension.MASS)
    PUT_BACK = "put_back", _measure(Dimension.MASS)
    GAP = "gap", _measure(Dimension.MASS)
    OWN_CONTAINER = "own_container"
    LOCKED = "locked"
    REGISTRATION = "registration_number"
    FORMULATION = "formulation"
    ACTIVE = "active_ingredient", _measure(Dimension.RATIO)
    SEASON_HIGH = "season_high", _measure(*_RATE)
    REENTRY = "reentry_interval", _measure(Dimension.TIME)
    PROTECTION = "protection"
    RESTRICTED = "restricted_use"
    CROP = "crop_or_site"
    LOCATION = "location"
    APPLICATOR = "applicator_name"
    CERTIFICATION = "certification_number"
    DELIVERED = "delivered", _measure(Dimension.MASS)
    BAGS = "bags", _COUNT
    EMPTIES = "empty_containers", _COUNT
    STORE = "store"
    LOCKED_BY = "locked_by"
    TUBES_CLEANED = "tubes_cleaned"
    TUBES_DISPOSED = "tubes_disposed"
    TUBES_LATER = "tubes_later"
    TOTAL = "total_applied", _measure(Dimension.MASS)
    PLANTER = "planter_name"
    METERS = "meters_name"
    SCALE = "scale_name"
    SCALE_CAPACITY = "scale_capacity", _measure(Dimension.MASS)
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


ACTIVITIES: dict[str, Requirements] = {}
"""The activities that a dialog can let watch, by name: each room of an activity puts its own requirements here."""
