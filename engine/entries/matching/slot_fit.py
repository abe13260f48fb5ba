"""Whether a value that was said fits a slot: a value to keep or to ask about, or the reason why it cannot be."""

from __future__ import annotations

from dataclasses import dataclass
from typing import assert_never

from engine.entries.matching.match_context import Amount, Picked, RawValue, total
from engine.expectation import ExpectedSlot, Range, SlotKind
from engine.messages import DoubtReason, Given, Unclear, UnclearReason
from engine.quantities import UNITS, Measure
from engine.values import Dial, Setting, Value


@dataclass(frozen=True)
class Place:
    """Where a value is to go, and the words it came from."""

    slot: ExpectedSlot
    row: int | None
    said: str
    correcting: bool = False

    def given(self, value: Value, doubt: DoubtReason | None = None, rivals: tuple[Value, ...] = ()) -> Given:
        return Given(
            slot=self.slot.name,
            row=self.row,
            value=value,
            said=self.said,
            correcting=self.correcting,
            doubt=doubt,
            rivals=rivals,
        )

    def unclear(self, reason: UnclearReason) -> Unclear:
        return Unclear(reason=reason, said=self.said, slot=self.slot.name, row=self.row)


Fitted = Given | Unclear | None


def fit(value: RawValue, place: Place) -> Fitted:
    """The value in its slot; None where such a value has no place in such a slot."""
    slot = place.slot
    match value:
        case Picked(name, key):
            return _picked(key, place) if name == slot.name else None
        case Dial():
            return place.given(value) if slot.kind is SlotKind.DIAL else None
        case Amount():
            return _amount(value, place)
        case _:
            assert_never(value)


def _picked(key: str, place: Place) -> Fitted:
    dial = place.slot.dial
    if place.slot.kind is not SlotKind.SETTING or dial is None:
        return place.given(key)
    setting = dial.find(key)
    return place.given(setting) if setting else place.unclear(UnclearReason.NO_SUCH_SETTING)


def _amount(amount: Amount, place: Place) -> Fitted:
    match place.slot.kind:
        case SlotKind.MEASURE:
            return _measure(amount, place)
        case SlotKind.COUNT:
            return _count(amount, place)
        case SlotKind.SETTING:
            return _setting(amount, place)
        case SlotKind.CHOICE | SlotKind.TEXT | SlotKind.DIAL:
            return None
        case _:
            assert_never(place.slot.kind)


def _count(amount: Amount, place: Place) -> Fitted:
    ((numeral, unit), *more) = amount.parts
    if unit is not None or more:
        return place.unclear(UnclearReason.WRONG_UNIT)
    number = numeral.value
    if number != number.to_integral_value() or not within(float(number), place.slot.hard):
        return place.unclear(UnclearReason.OUT_OF_RANGE)
    return place.given(int(number))


def _setting(amount: Amount, place: Place) -> Fitted:
    ((numeral, unit), *more) = amount.parts
    dial = place.slot.dial
    if dial is None or dial.marks:
        return None
    if unit is not None or more:
        return place.unclear(UnclearReason.WRONG_UNIT)
    setting = dial.find(f"{numeral.value:f}") if dial.low <= numeral.value <= dial.high else None
    if setting is None:
        return place.unclear(UnclearReason.NO_SUCH_SETTING)
    return place.given(setting, DoubtReason.DECIMAL_UNSAID if numeral.unsaid else None)


def _measure(amount: Amount, place: Place) -> Fitted:
    slot = place.slot
    if len(amount.parts) == 1 and amount.parts[0][1] is None:
        return _bare_measure(amount, place)
    measure = total(amount, slot.dimensions)
    accepted = slot.units or tuple(UNITS)
    if measure is None or any(unit not in accepted for _, unit in amount.parts):
        return place.unclear(UnclearReason.WRONG_UNIT)
    if not within(measure, slot.hard):
        return place.unclear(UnclearReason.OUT_OF_RANGE)
    return place.given(measure, DoubtReason.DECIMAL_UNSAID if amount.unsaid else None)


def _bare_measure(amount: Amount, place: Place) -> Fitted:
    """A number alone is in the slot's own unit; other units are rivals where only they make it usual."""
    slot = place.slot
    units = tuple(dict.fromkeys(filter(None, (slot.default_unit, *slot.units))))
    if not units:
        return place.unclear(UnclearReason.WRONG_UNIT)
    numeral = amount.parts[0][0]
    first, *others = (Measure(value=float(numeral.value), unit=unit) for unit in units)
    possible = within(first, slot.hard)
    if slot.default_unit is None:
        return _without_unit([measure for measure in (first, *others) if within(measure, slot.hard)], place)
    likelier = [measure for measure in others if slot.usual and not is_usual(first, slot) and is_usual(measure, slot)]
    if likelier:
        return _without_unit([first, *likelier] if possible else likelier, place)
    if not possible:
        return place.unclear(UnclearReason.OUT_OF_RANGE)
    return place.given(first, DoubtReason.DECIMAL_UNSAID if numeral.unsaid else None)


def _without_unit(measures: list[Measure], place: Place) -> Fitted:
    if not measures:
        return place.unclear(UnclearReason.OUT_OF_RANGE)
    return place.given(measures[0], DoubtReason.UNIT_UNSAID, tuple(measures[1:]))


def is_usual(value: Value, slot: ExpectedSlot) -> bool:
    """Whether a value lies in the slot's usual range, and may be kept without asking."""
    return within(value, slot.usual)


def fits(value: RawValue, slot: ExpectedSlot) -> bool:
    """Whether a value can be kept or asked about in a slot."""
    return isinstance(fit(value, Place(slot, None, "")), Given)


def fits_usually(value: RawValue, slot: ExpectedSlot) -> bool:
    """Whether it would be a usual value there."""
    given = fit(value, Place(slot, None, ""))
    return isinstance(given, Given) and is_usual(given.value, slot)


def within(value: Value | float, limits: Range | None) -> bool:
    """Whether a value lies in a range, up to rounding; anything does where there is none or they cannot be compared."""
    number = None if limits is None else _number(value, limits.unit)
    if limits is None or number is None:
        return True
    return limits.low - 1e-9 * abs(limits.low) <= number <= limits.high + 1e-9 * abs(limits.high)


def _number(value: Value | float, unit: str | None) -> float | None:
    """The number of a value in the unit of a range."""
    match value:
        case Measure():
            return value.to(unit).value if unit and UNITS[unit].dimension is value.dimension else None
        case int() | float():
            return value
        case Setting():
            return value.position
        case _:
            return None
