"""A unit that stands alone: "it goes by the gram"."""

from __future__ import annotations

from engine.entries.fitting import Place, fit
from engine.entries.hearing import Amount, Hearing
from engine.entries.numeral import Numeral
from engine.expectation import ExpectedSlot, SlotKind
from engine.messages import Entry, Given
from engine.quantities import UNITS


def one_of(hearing: Hearing, slot: ExpectedSlot) -> tuple[Entry, ...]:
    """One of the unit that is named without a number, where just one such fits the slot."""
    units = {
        unit for place, token in enumerate(hearing.tokens) if len(token.key) > 1 for unit in hearing.units_at(place)
    }
    fitting = [unit for unit in units if unit in slot.units and UNITS[unit].dimension in slot.dimensions]
    if slot.kind is not SlotKind.MEASURE or len(fitting) != 1:
        return ()
    entry = fit(Amount(((Numeral("1"), fitting[0]),)), Place(slot, None, hearing.text.strip()[:60]))
    return (entry,) if isinstance(entry, Given) else ()
