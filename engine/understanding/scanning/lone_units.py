"""Amounts without a number: a unit that stands alone, "it goes by the gram", and parts of one, "to the tenth"."""

from __future__ import annotations

from engine.entries.matching.match_context import Amount, MatchContext
from engine.entries.matching.numeral import Numeral
from engine.entries.matching.slot_fit import Place, fit
from engine.expectation import ExpectedSlot, SlotKind
from engine.messages import Given

STEP = "step"
"""The last word of the roles of slots that ask from one mark or figure to the next."""


def one_of(hearing: MatchContext, slot: ExpectedSlot) -> tuple[tuple[Given, ...], bool]:
    """One, or the part said in words, of the unit that is named without a number, where just one such fits the slot;
    whether it is plainly said: how steps go, where steps are asked."""
    if slot.kind is not SlotKind.MEASURE:
        return (), False
    units = {
        unit for place, token in enumerate(hearing.tokens) if len(token.key) > 1 for unit in hearing.units_at(place)
    }
    fitting = [unit for unit in units if unit in slot.units]
    asked = hearing.vocabulary.loose.steps.items() if (slot.role or "").endswith(STEP) else ()
    steps = [step for step, phrases in asked if hearing.says(phrases)]
    plain = len(steps) == 1
    unit = fitting[0] if len(fitting) == 1 else slot.default_unit if plain and not units else None
    if unit is None or (steps and not plain):
        return (), False
    entry = fit(Amount(((Numeral((*steps, "1")[0]), unit),)), Place(slot, None, hearing.text.strip()[:60]))
    return ((entry,), plain) if isinstance(entry, Given) else ((), False)
