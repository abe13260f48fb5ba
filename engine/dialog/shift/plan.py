"""What a shift is planted with: the dialog's answers by role, and what follows from them at its present pace."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import timedelta

from engine.calculations.rate import area_rate
from engine.calculations.use import SURELY_SEEN, expected_use, unseen_area
from engine.dialog.roles import Role, names_in
from engine.dialog.script import Watch
from engine.dialog.shift.state import Hopper, Shift
from engine.dialog.shift.vigil import Vigil
from engine.dialog.walk import Walk
from engine.quantities import Measure, Quantity, measure, quantity
from engine.reminders.rules import Caution, Pace
from engine.values import Rows, Value

WILLING = Measure(value=5.0, unit="acre")
"""Acres that may be lost where the grower named none."""

ANSWER = timedelta(minutes=2.5)
"""After so long a reminder is answered on the average, where it is within five minutes (own decision)."""


@dataclass(frozen=True)
class Plan:
    """The answers before planting. Quantities come from here, with what was changed since on top."""

    given: Mapping[Role, Value | Rows]
    vigil: Vigil
    names: Mapping[Role, str]

    @classmethod
    def of(cls, walk: Walk, vigil: Vigil) -> Plan | None:
        """The plan of the watch that the dialog stands at; None anywhere else."""
        dialog = walk.state.dialog
        step = walk.script.step(dialog.step) if dialog and dialog.step else None
        if not isinstance(step, Watch):
            return None
        names = names_in(walk.script.records)
        known = {role: walk.known(name) for role, name in names.items()}
        return cls({role: value for role, value in known.items() if value is not None}, vigil, names)

    def measure(self, role: Role) -> Measure | None:
        found = self.given.get(role)
        return found if isinstance(found, Measure) else None

    def word(self, role: Role) -> str | None:
        found = self.given.get(role)
        return found if isinstance(found, str) else None

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
    def willing(self) -> Measure:
        return self.measure(Role.WILLING) or WILLING

    @property
    def loaded(self) -> dict[int, Measure]:
        """What was put into the hopper of each row in use."""
        found = self.given.get(Role.LOADED)
        rows = found if isinstance(found, dict) else {}
        used = self.given.get(Role.IN_USE)
        off = {row for row, word in used.items() if word == "off"} if isinstance(used, dict) else set()
        return {row: mass for row, mass in rows.items() if isinstance(mass, Measure) and row not in off}

    # ---- at the present pace

    def field_size(self, shift: Shift) -> Measure | None:
        """The size of the field that is planted now, where it was told."""
        return shift.size if shift.moved else self.measure(Role.FIELD_AREA)

    def field_left(self, shift: Shift, planted: Measure) -> Measure | None:
        """What of the field is not planted yet once so much is planted in the shift, in acres."""
        size = self.field_size(shift)
        if size is None:
            return None
        return Measure(value=size.to("acre").value - (planted.value - shift.entered.value), unit="acre")

    def rate(self, shift: Shift) -> Measure:
        found = shift.now.get("rate")
        return found if isinstance(found, Measure) else self.needed(Role.RATE)

    def area_rate(self, shift: Shift) -> Quantity:
        return area_rate(self.rate(shift).quantity, self.spacing)

    def speed(self, shift: Shift) -> Measure:
        found = shift.now.get("speed")
        return found if isinstance(found, Measure) else self.planned_speed

    def width(self, shift: Shift) -> Quantity:
        width: Quantity = self.spacing * len(shift.rows)
        return width

    def pace(self, shift: Shift) -> Pace:
        return Pace(self.speed(shift).quantity, self.width(shift), quantity(shift.efficiency, "1"))

    def caution(self, shift: Shift) -> Caution:
        """What the grower settled; what a look cannot see counts for half of the area at most, as a look that comes
        too often is not made (own decision)."""
        longest = self.measure(Role.LONGEST)
        own = timedelta(seconds=longest.to("s").value) if longest else None
        willing = self.willing.quantity
        late = {"late_from": self.vigil.late_from, "late_until": self.vigil.late_until}
        least = min((shift.filled[row].mass for row in shift.rows), key=lambda mass: mass.to("kg").value, default=None)
        unseen = 0 * willing if least is None else self.unseen(shift, least)
        caution = Caution(
            willing, own=own, long_after=self.vigil.long_after, unseen=min(unseen, willing / 2), answer=ANSWER
        )
        return replace(caution, **late)  # type: ignore[arg-type]

    def unseen(self, shift: Shift, full: Measure) -> Quantity:
        """Area that is planted before a hopper that stays high is surely seen; ``full`` is what it was filled with."""
        if full.value <= 0:
            return quantity(0, "acre")
        return unseen_area(full.quantity, self.area_rate(shift), self.spacing, len(shift.rows), SURELY_SEEN)

    def content(self, shift: Shift, row: int, planted: Measure) -> Measure:
        """What a hopper should hold once so much is planted, never less than nothing."""
        hopper = shift.hoppers[row]
        used = self.use(shift, hopper, planted)
        left = hopper.mass.to("kg").value - used.to("kg").value
        return Measure(value=max(left, 0.0), unit="kg").to(hopper.mass.unit)

    def use(self, shift: Shift, since: Hopper, planted: Measure) -> Measure:
        """What one hopper should have used since it was known."""
        area = max(planted.to("acre").value - since.planted.to("acre").value, 0.0)
        rows = len(shift.rows)
        return measure(expected_use(quantity(area, "acre"), self.area_rate(shift), self.spacing, rows), "kg")
