"""The rules of a grammar text for numbers of some size: so many digits before the point, so many after it."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from engine.entries.grammar_text import GrammarText, Names
from engine.entries.phrases.pattern import Rule
from engine.expectation import ExpectedSlot
from engine.quantities import UNITS, Measure

MOST_DIGITS = 4
MOST_DECIMALS = 3


@dataclass(frozen=True)
class NumberRules:
    """Writes each rule for numbers into a sheet once."""

    sheet: GrammarText

    def sizes(self, digits: int, decimals: int) -> tuple[str, str | None]:
        """The rules of the vocabulary for what stands before and after the point."""
        numbers = self.sheet.vocabulary.numbers
        size = numbers.sizes[min(digits, MOST_DIGITS) - 1]
        return size, numbers.decimals[decimals - 1] if decimals else None

    def rule(self, digits: int, decimals: int) -> Rule:
        """The rule for numbers of so many digits before and after the point."""
        rule = Rule(f"number_{min(digits, MOST_DIGITS)}_{decimals}")
        if rule.name not in self.sheet.bodies:
            whole, places = self.sizes(digits, decimals)
            parts: Names = {"places": places} if places else {"places": None, "half": None, "fraction": None}
            self.sheet.define(rule.name, self.sheet.vocabulary.rules["number"], {"whole": whole, **parts})
        return rule


def digits_before(slot: ExpectedSlot) -> int:
    """How many digits the largest possible value has before the point, in any of its units."""
    if slot.hard is None:
        return MOST_DIGITS
    unit = slot.hard.unit
    highest = [slot.hard.high]
    if unit:
        same = [symbol for symbol in slot.units if UNITS[symbol].dimension is UNITS[unit].dimension]
        highest += [Measure(value=slot.hard.high, unit=unit).to(symbol).value for symbol in same]
    return max(len(f"{int(max(highest))}"), 1)


def decimals_of(step: float) -> int:
    """How many decimals a dial with this notch shows."""
    exponent = Decimal(f"{step:.6g}").normalize().as_tuple().exponent
    return min(max(-exponent, 0), MOST_DECIMALS) if isinstance(exponent, int) else 0


def decimals_heard(slot: ExpectedSlot) -> int:
    """How many decimals may be heard: what the scale shows, one at least; one more than usual where it is not known."""
    if slot.step is not None and slot.step.unit == slot.default_unit:
        return max(decimals_of(slot.step.value), 1)
    return min(slot.decimals + 1, MOST_DECIMALS)
