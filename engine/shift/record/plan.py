"""What a shift is planted with: the dialog's answers by role, and what follows from them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from engine.calculations.hoppers.use import SURELY_SEEN, expected_use, unseen_area
from engine.calculations.rate import area_rate
from engine.dialog.facts.role_values import as_measure, as_word
from engine.dialog.facts.state import DialogState
from engine.dialog.schema.script import Script, Watch
from engine.dialog.schema.slot_roles import ACTIVITIES, Requirements, Role, names_in
from engine.quantities import Measure, Quantity, measure
from engine.shift.record.shift_ledger import in_pounds, pounds
from engine.shift.record.shift_state import ShiftState
from engine.values import Rows, Value

SHIFT = "shift"
ACTIVITIES[SHIFT] = Requirements(
    needed=frozenset({Role.ROWS, Role.SPACING, Role.RATE, Role.SPEED, Role.LOADED}),
    welcome=frozenset(
        {
            *(Role.WILLING, Role.PLANNED, Role.IN_USE, Role.PLANTING, Role.LONGEST, Role.BAG, Role.METER),
            *(Role.PRODUCT, Role.LOT, Role.FIELD, Role.FIELD_AREA, Role.COURSE, Role.TARGET, Role.TUBE, Role.TARE),
            *(Role.TOLERANCE, Role.LABEL_LOW, Role.LABEL_HIGH, Role.CAPACITY, Role.PASS_LENGTH, Role.ROW_RATE),
        }
    ),
    words={
        Role.IN_USE: frozenset({"on", "off"}),
        Role.PLANTING: frozenset({"on", "off"}),
        Role.METER: frozenset({"positive", "between", "gravity"}),
    },
)
"""What the shift needs to know of the dialog that it watches for."""


@dataclass(frozen=True)
class Plan:
    """The answers before planting. Quantities come from here, with what was changed since on top."""

    given: Mapping[Role, Value | Rows]
    names: Mapping[Role, str]

    @classmethod
    def of(cls, script: Script, dialog: DialogState) -> Plan | None:
        """The plan of the step that watches, where the dialog stands at one."""
        return cls.told(script, dialog) if dialog.step and isinstance(script.step(dialog.step), Watch) else None

    @classmethod
    def told(cls, script: Script, dialog: DialogState) -> Plan:
        """The answers of a dialog, whatever step it stands at."""
        names = names_in(script.records)
        known = {role: dialog.known(name) for role, name in names.items()}
        return cls({role: value for role, value in known.items() if value is not None}, names)

    def measure(self, role: Role) -> Measure | None:
        return as_measure(self.given.get(role))

    def word(self, role: Role) -> str | None:
        return as_word(self.given.get(role))

    def needed(self, role: Role) -> Measure:
        """A measure without which nothing is watched; the loader saw to it."""
        found = self.measure(role)
        if found is None:
            raise ValueError(f"the watch knows no {role}")
        return found

    @property
    def spacing(self) -> Quantity:
        return self.needed(Role.SPACING).quantity

    @property
    def calibrated_speed(self) -> Measure:
        return self.needed(Role.SPEED)

    @property
    def planned_speed(self) -> Measure:
        return self.measure(Role.PLANNED) or self.calibrated_speed

    @property
    def loaded(self) -> dict[int, Measure]:
        """What was put into the hopper of each row in use."""
        found = self.given.get(Role.LOADED)
        rows = found if isinstance(found, dict) else {}
        used = self.given.get(Role.PLANTING) or self.given.get(Role.IN_USE)
        off = {row for row, word in used.items() if word == "off"} if isinstance(used, dict) else set()
        return {row: mass for row, mass in rows.items() if isinstance(mass, Measure) and row not in off}

    # ---- what is true at a time

    def field_size(self, shift: ShiftState) -> Measure | None:
        """The size of the field that is planted now, where it was told."""
        return shift.size if shift.moved else self.measure(Role.FIELD_AREA)

    def field_left(self, shift: ShiftState, at: datetime) -> Measure | None:
        """What of the field is not planted yet at an instant [acre]; less than nothing where more was planted."""
        size = self.field_size(shift)
        if size is None:
            return None
        done = shift.timeline.between(shift.entered, at)
        return Measure(value=size.to("acre").value - done.to("acre").value, unit="acre")

    def area_rate(self, shift: ShiftState) -> Quantity:
        return area_rate(shift.wanted.quantity, self.spacing)

    # ---- what the hoppers hold

    @property
    def capacity(self) -> Measure | None:
        """What a hopper holds when full, where that is known."""
        return self.measure(Role.CAPACITY)

    def full(self, shift: ShiftState, row: int) -> Measure:
        """What a hopper held when it was last filled: what a share of it is a share of."""
        return self.capacity or shift.filled[row].mass

    def content(self, shift: ShiftState, row: int, at: datetime) -> Measure:
        """What a hopper should hold at an instant, never less than nothing: reckoned from its last level."""
        return _after(shift, row, self.use(shift, row, at))

    def contents(self, shift: ShiftState, at: datetime) -> dict[int, Measure]:
        """What every hopper should hold at an instant; what those filled together used is reckoned once."""
        levels = {row: shift.ledger.accounts[row].level.at for row in shift.rows}
        used = {since: self.use_between(shift, since, at) for since in set(levels.values())}
        return {row: _after(shift, row, used[since]) for row, since in levels.items()}

    def use(self, shift: ShiftState, row: int, at: datetime) -> Measure:
        """What one hopper should have used since its last level [kg]."""
        return self.use_between(shift, shift.ledger.accounts[row].level.at, at)

    def use_between(self, shift: ShiftState, since: datetime, until: datetime) -> Measure:
        """What one hopper should use from one instant to another [kg]."""
        area = shift.timeline.between(since, until)
        return measure(expected_use(area.quantity, self.area_rate(shift), self.spacing, len(shift.rows)), "kg")

    def unseen(self, shift: ShiftState, full: Measure) -> Quantity:
        """Area that is planted before a hopper that stays high is surely seen; ``full`` is what it was filled with."""
        if full.value <= 0:
            return Measure(value=0.0, unit="acre").quantity
        return unseen_area(full.quantity, self.area_rate(shift), self.spacing, len(shift.rows), SURELY_SEEN)

    def poured(self, value: Measure) -> Measure | None:
        """A mass that was put in, of bags by what one weighs; None where that is not known."""
        if value.unit != "1":
            return value
        bag = self.measure(Role.BAG)
        return bag.model_copy(update={"value": bag.value * value.value}) if bag else None


def _after(shift: ShiftState, row: int, used: Measure) -> Measure:
    """What is left of the last level of a hopper."""
    held = in_pounds(shift.ledger.held(row)) - in_pounds(used)
    return pounds(max(held, 0.0)).to(shift.ledger.accounts[row].level.mass.unit)
