"""The rules of a grammar text for the values of slots: what may be said for each, by its kind, and numbers of some
size: so many digits before the point, so many after it."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from engine.entries.grammar_text import GrammarText, Names
from engine.entries.matching.marks import mark_node
from engine.entries.matching.match_context import MatchContext
from engine.entries.matching.name import patterns, sayings, words
from engine.entries.phrases.pattern import Choice, Node, Repeat, Rule, Sequence, maybe, phrase, walk
from engine.entries.phrases.phrase import spoken
from engine.expectation import ExpectedSlot, SlotKind
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


@dataclass(frozen=True)
class ValueRules:
    """Writes the rule of each slot into a sheet: ``value_SLOT``, and ``other_SLOT`` for a measure with its unit."""

    sheet: GrammarText
    numbers: NumberRules
    hearing: MatchContext

    def define(self, slot: ExpectedSlot) -> bool:
        """Define what may be said for a slot; False where that is not for a grammar to say."""
        name = f"value_{slot.name}"
        match slot.kind:
            case SlotKind.MEASURE:
                return self._measure(name, slot)
            case SlotKind.COUNT:
                return self._count(name, slot)
            case SlotKind.CHOICE:
                return self.sheet.define(name, self.hearing.options[slot.name].values())
            case SlotKind.SETTING:
                return self._setting(name, slot)
            case SlotKind.DIAL:
                return self._dial(name)
            case SlotKind.TEXT:
                return self.sheet.define(
                    name, [*sayings(slot.names, self.sheet.vocabulary.language), *self.new_names()]
                )

    def new_names(self) -> list[Node]:
        """Names that nobody told before."""
        self.sheet.define("name_word", words(self.sheet.vocabulary))
        return patterns(Rule("name_word"))

    def _measure(self, name: str, slot: ExpectedSlot) -> bool:
        units = slot.units or tuple(symbol for symbol in UNITS if UNITS[symbol].dimension in slot.dimensions)
        self.sheet.define(f"unit_{slot.name}", [spoken(self.sheet.vocabulary.units[symbol]) for symbol in units])
        decimals = decimals_heard(slot)
        whole, places = self.numbers.sizes(digits_before(slot), decimals)
        number = self.numbers.rule(digits_before(slot), decimals)
        names: Names = {"number": number.name, "measured_in": f"unit_{slot.name}", "whole": whole, "places": places}
        amounts = (*self.sheet.vocabulary.amounts, *(self.sheet.vocabulary.levels if slot.mark else ()))
        with_unit = [one for one in amounts if Rule("measured_in") in walk(one.node)]
        self.sheet.define(f"other_{slot.name}", with_unit, names)
        return self.sheet.define(name, amounts, names)

    def _count(self, name: str, slot: ExpectedSlot) -> bool:
        called = (self.hearing.plain(words) for words in slot.called)
        nouns = maybe(Choice((spoken(self.sheet.vocabulary.rows.counted), *called)))
        return self.sheet.define(name, [Sequence((self.numbers.rule(digits_before(slot), 0), nouns))])

    def _setting(self, name: str, slot: ExpectedSlot) -> bool:
        if slot.dial is None:
            return False
        if slot.dial.marks:
            return self.sheet.define(name, [mark_node(mark, self.sheet.vocabulary) for mark in slot.dial.marks])
        return self.sheet.define(name, [self.numbers.rule(len(f"{slot.dial.high:.0f}"), decimals_of(slot.dial.step))])

    def _dial(self, name: str) -> bool:
        dials = self.sheet.vocabulary.dials
        numbered = [one.node for one in (*dials.numbered, *dials.lettered)]
        letter, sign = Rule("letter"), maybe(Rule("sign"))
        self.sheet.define("letter", [phrase(chr(code)) for code in range(ord("a"), ord("z") + 1)])
        self.sheet.define("sign", [phrase(name) for names in dials.signs.values() for name in names])
        marks = Sequence((letter, sign, Repeat(Sequence((letter, sign)))))
        return self.sheet.define(name, [*numbered, marks], {"number": self.numbers.rule(3, 2).name})


def bare_rule(slot: ExpectedSlot, *, first: bool) -> Rule:
    """What may be said for a slot without its name: a number without its unit is the first one's."""
    return Rule(f"{'value' if first or slot.kind is not SlotKind.MEASURE else 'other'}_{slot.name}")
