"""How values are written for the operator, in his language and units."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from engine.data.forms import Forms, load_forms
from engine.data.texts import Several
from engine.dialog.reply.answer_texts import AnswerKey, AnswerTexts
from engine.dialog.reply.system_texts import SystemKey, SystemTexts
from engine.dialog.schema.script import Script
from engine.dialog.schema.slot import Result, Shown, Slot
from engine.expectation import SlotKind
from engine.messages import Button, Language, System
from engine.quantities import UNITS, Dimension, Measure
from engine.reminders.local_time import LocalTime
from engine.values import Dial, Setting, Value

_USUAL: dict[Dimension, tuple[str, str]] = {
    Dimension.AREA: ("acre", "ha"),
    Dimension.MASS: ("lb", "kg"),
    Dimension.LENGTH: ("ft", "m"),
    Dimension.AREA_RATE: ("lb/acre", "kg/ha"),
    Dimension.ROW_RATE: ("oz/1000 ft", "g/100 m"),
    Dimension.SPEED: ("mph", "km/h"),
}
MANY = 30_000
"""From so many feet or meters on, miles or kilometers are told."""
_FAR = timedelta(hours=16)


@dataclass(frozen=True)
class Wording:
    """Writes texts of the house and values in one language and one system of units, and the hour of one zone."""

    language: Language
    system: System
    zone: str = "UTC"

    @property
    def forms(self) -> Forms:
        return load_forms(self.language)

    def say(self, key: SystemKey | AnswerKey, **values: str) -> str:
        if isinstance(key, AnswerKey):
            return AnswerTexts.load().say(key, self.language, **values)
        return SystemTexts.load().say(key, self.language, **values)

    def unit(self, symbol: str) -> str:
        return UNITS[symbol].shown.of(self.language)

    def amount(self, measure: Measure, decimals: int | None = None) -> str:
        """A number and its unit; as said where no decimals are given, but for parts of an hour."""
        if measure.unit == "h" and decimals is None and measure.value % 1:
            return self.hours(measure.to("s").value)
        number = f"{measure.value:.10g}" if decimals is None else f"{measure.value:.{decimals}f}"
        number = "0" if number in ("-0", "-0.0") else number
        gap = "" if measure.unit in self.forms.close else " "
        return f"{number}{gap}{self._unit_after(number, measure.unit)}"

    def _unit_after(self, number: str, symbol: str) -> str:
        single = UNITS[symbol].single
        return single.of(self.language) if single and number == "1" else self.unit(symbol)

    def apart(self, one: Measure, other: Measure) -> tuple[str, str]:
        """Two amounts in as many digits as set them apart: 10.2 over 10, not 10 over 10."""
        shown = [(self.rough(one, more), self.rough(other, more)) for more in range(4)]
        return next((pair for pair in shown if pair[0] != pair[1]), shown[0])

    def usual(self, measure: Measure) -> Measure:
        """The same in the unit that the operator is used to."""
        return measure.to(_USUAL[measure.dimension][self.system is System.METRIC])

    def rough(self, measure: Measure, more: int = 0) -> str:
        """About so much, in the operator's units: no more digits than anybody acts on, and so many ``more``."""
        amount = self.usual(measure)
        if measure.dimension is Dimension.LENGTH and amount.value >= MANY:
            amount = measure.to(("mi", "km")[self.system is System.METRIC])
        size = math.floor(math.log10(abs(amount.value))) if abs(amount.value) >= 0.005 else 0
        digits = (min(1 - size, 2) if size < 2 else 2 - size) + more
        return self.amount(amount.model_copy(update={"value": round(amount.value, digits)}))

    def _is_foreign(self, symbol: str) -> bool:
        """Whether only people of the other system are used to a unit."""
        return UNITS[symbol].system not in (None, self.system)

    def echo(self, measure: Measure) -> str:
        """A number as it was said, with about so much in the operator's units where it was said in others."""
        said = self.amount(measure)
        return f"{said} ({self.rough(measure)})" if self._is_foreign(measure.unit) else said

    def off(self, off: Measure) -> str:
        """ "4% high", or "as wanted" where that is what it rounds to."""
        size = Measure(value=abs(off.to("%").value), unit="%")
        if round(size.value) == 0:
            return self.say(SystemKey.EVEN)
        return self.say(SystemKey.HIGH if off.value > 0 else SystemKey.LOW, value=self.amount(size, 0))

    def hours(self, seconds: float) -> str:
        """ "6 h 10 min", or "40 min" """
        minutes = round(seconds / 60)
        if minutes < 60:
            return self.amount(Measure(value=minutes, unit="min"))
        return self.say(SystemKey.HOURS, hours=str(minutes // 60), minutes=f"{minutes % 60:02d}")

    def clock(self, moment: datetime, near: datetime) -> str:
        """The hour on the wall; with its date where that may be in doubt."""
        local = LocalTime.of(moment, self.zone).local
        time = self.forms.clock.in_sentence(local.hour, local.minute, self.system)
        return local.strftime(self.forms.date).replace("{time}", time) if abs(moment - near) > _FAR else time

    def day(self, date: date) -> str:
        """A day with its year."""
        return date.strftime(self.forms.day)

    def told(self, measure: Measure, default: Shown | None) -> str:
        """A value as it was said, with what that is in the operator's units where it was said in others."""
        said = self.amount(measure)
        unit = default.unit(self.system) if default else None
        if not self._is_foreign(measure.unit) or unit is None or unit == measure.unit:
            return said
        if UNITS[unit].dimension is not measure.dimension:
            return said
        return f"{said} ({self.amount(measure.to(unit), 1)})"

    def shown(self, measure: Measure, result: Result) -> str:
        """A computed value in the operator's units."""
        unit = result.shown.unit(self.system)
        fits = UNITS[unit].dimension is measure.dimension
        amount = measure.to(unit) if fits else measure
        if not result.signed:
            return self.amount(amount, result.decimals)
        size = self.amount(amount.model_copy(update={"value": abs(amount.value)}), result.decimals)
        return self.say(SystemKey.HIGH if amount.value >= 0 else SystemKey.LOW, value=size)

    def span(self, values: Iterable[Value], result: Result) -> str:
        """Signed results of several rows: "4.2 to 5.1% high", or the one where they read the same."""
        measures = sorted((one for one in values if isinstance(one, Measure)), key=lambda one: one.value)
        low, high = measures[0], measures[-1]
        least, most = (low, high) if abs(low.value) <= abs(high.value) else (high, low)
        first, last = self.shown(least, result), self.shown(most, result)
        if first == last:
            return first
        if (low.value < 0) == (high.value < 0):
            first = first.partition(self.unit(result.shown.unit(self.system)))[0].strip()
        else:
            first, last = self.shown(low, result), self.shown(high, result)
        return f"{first} {self.say(SystemKey.TO)} {last}"

    def value(self, value: Value, of: Slot | Result | None) -> str:
        """Any value of a slot or a result as text."""
        match value:
            case Measure():
                if isinstance(of, Result):
                    return self.shown(value, of)
                return self.told(value, of.default if of else None)
            case Setting():
                return value.label
            case Dial():
                return self.dial(value)
            case int():
                return str(value)
            case str():
                known = isinstance(of, Slot) and of.kind is SlotKind.CHOICE and value in of.options
                return of.options[value].label.of(self.language) if known else value  # type: ignore[union-attr]

    def dial(self, dial: Dial) -> str:
        if dial.marks:
            return ", ".join(dial.marks)
        return self.say(SystemKey.DIAL_SCALE, low=f"{dial.low:g}", high=f"{dial.high:g}", step=f"{dial.step:g}")

    def rows(self, rows: Iterable[int]) -> str:
        """Row numbers, runs of three or more joined: "1-4, 6 and 8"."""
        spans: list[list[int]] = []
        for row in sorted(rows):
            if spans and row == spans[-1][-1] + 1:
                spans[-1].append(row)
            else:
                spans.append([row])
        return _joined([part for span in spans for part in _span(span)], self.say(SystemKey.AND))

    def row_names(self, rows: Sequence[int]) -> str:
        """Rows with their noun, in a sentence: "row 3" or "rows 1-4 and 6"."""
        name = self.row_place(rows)
        return type(name)(name[0].lower() + name[1:])

    def row_place(self, rows: Sequence[int]) -> str:
        """The same at the beginning of a sentence."""
        if len(rows) == 1:
            return self.say(SystemKey.ROW_PLACE, row=str(rows[0]))
        return Several(self.say(SystemKey.ROWS_PLACE, rows=self.rows(rows)))

    def join(self, parts: Sequence[str]) -> str:
        """ "a, b or c" """
        return _joined(parts, self.say(SystemKey.OR))

    def name(self, of: Slot | Result) -> str:
        return of.name.of(self.language)

    def options(self, slot: Slot) -> tuple[Button, ...]:
        """The closed answers of a choice."""
        return tuple(
            Button(label=option.label.of(self.language), says=option.words.of(self.language)[0])
            for option in slot.options.values()
        )


def _joined(parts: Sequence[str], word: str) -> str:
    head = ", ".join(parts[:-1])
    return f"{head} {word} {parts[-1]}" if head else "".join(parts)


def _span(rows: list[int]) -> list[str]:
    return [f"{rows[0]}-{rows[-1]}"] if len(rows) > 2 else [str(row) for row in rows]


def described(script: Script, name: str) -> Slot | Result | None:
    """The slot or result that says how a name is written, where there is one."""
    return script.slots.get(name) or script.results.get(name)
