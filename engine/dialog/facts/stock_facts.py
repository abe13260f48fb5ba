"""The stock: what came in of each lot, what was loaded from it and what went back, as it was told.

Nothing is reckoned: what nobody weighed leaves the lot open, and the record says so.
"""

from __future__ import annotations

from enum import StrEnum

from pydantic import AwareDatetime

from engine.dialog.facts.register import folded_name, same_name
from engine.messages import Message
from engine.quantities import Measure

POUNDS = "lb"


class Movement(StrEnum):
    """Why the stock of a lot changed."""

    DELIVERED = "delivered"
    LOADED = "loaded"
    RETURNED = "returned"


class StockLot(Message):
    """One lot of a product: what came in, what was loaded, what went back [lb]; ``open``: not all of it was weighed."""

    product: str | None = None
    lot: str | None = None
    delivered: float = 0.0
    loaded: float = 0.0
    returned: float = 0.0
    open: bool = False

    @property
    def on_hand(self) -> Measure:
        """What should be there; below nothing where a delivery was not told."""
        return Measure(value=self.delivered - self.loaded + self.returned, unit=POUNDS)


class Hoppers(Message):
    """What a shift left in the hoppers: the lots that went into them, newest last, and how much was left; None where
    that is not known."""

    product: str | None = None
    lots: tuple[str, ...] = ()
    held: Measure | None = None


class Lockup(Message):
    """Where what was left is under lock since ``at``, and who locked it, as far as that was told."""

    at: AwareDatetime
    store: str | None = None
    locked_by: str | None = None


class Stock(Message):
    """All lots, in the order in which they were told; ``hoppers`` is what a shift left and nobody has put away,
    ``lockup`` where the rest was locked up last."""

    lots: tuple[StockLot, ...] = ()
    hoppers: Hoppers | None = None
    lockup: Lockup | None = None

    def of(self, product: str | None, lot: str | None) -> StockLot:
        """What is known of a lot; one of nothing where nothing is. A lot is known without its product as well."""
        return next((one for one in self.lots if _is(one, product, lot)), StockLot(product=product, lot=lot))

    def moved(self, product: str | None, lot: str | None, why: Movement, mass: Measure, *, weighed: bool) -> Stock:
        """With a lot changed by a mass."""
        known = self.of(product, lot)
        total = getattr(known, str(why)) + mass.to(POUNDS).value
        named = {"product": known.product or product, "open": known.open or not weighed}
        new = known.model_copy(update={str(why): total, **named})
        lots = tuple(new if one is known else one for one in self.lots)
        return self.model_copy(update={"lots": lots if known in self.lots else (*lots, new)})

    def leaving(self, hoppers: Hoppers | None) -> Stock:
        """With this in the hoppers."""
        return self.model_copy(update={"hoppers": hoppers})


def _is(one: StockLot, product: str | None, lot: str | None) -> bool:
    lots = folded_name(one.lot) == folded_name(lot)
    return lots and (None in (product, one.product) or same_name(one.product, product))
