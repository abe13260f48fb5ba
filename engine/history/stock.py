"""The stock as it was told: every delivery, load and return of each lot, and what should be on hand."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from engine.dialog.facts.book_facts import Stocked
from engine.dialog.facts.stock_facts import Stock
from engine.history.conversion import bulk
from engine.history.export import Cells, cells, instant
from engine.history.store.journal import StoredTurn
from engine.history.store.turn_facts import facts_of
from engine.messages import System
from engine.quantities import Measure


@dataclass(frozen=True)
class StockChange:
    """One change, when it was told, and what was on hand of its lot after it; ``system`` are the units to show it in,
    where it is not shown as it was told."""

    conversation: str
    at: datetime
    change: Stocked
    stock: Stock
    system: System | None = None

    @property
    def on_hand(self) -> Measure:
        """What should be there of the lot after the change."""
        return self.stock.of(self.change.product, self.change.lot).on_hand


def stock_changes(turns: Iterable[StoredTurn]) -> tuple[StockChange, ...]:
    """The changes in the turns of one conversation, given from its first turn on, oldest first."""
    found: list[StockChange] = []
    stock = Stock()
    for turn in turns:
        for fact in facts_of(turn):
            if isinstance(fact, Stocked):
                stock = stock.moved(fact.product, fact.lot, fact.why, fact.mass, weighed=fact.weighed)
                found.append(StockChange(turn.conversation, turn.said_at, fact, stock))
    return tuple(found)


def stock_lines(changes: Iterable[StockChange]) -> list[Cells]:
    """One line a change: what it was, of which lot, and what was on hand after it; ``weighed`` says whether that is
    surely so much of this lot."""
    return [
        {
            "planter": one.conversation,
            "at": instant(one.at),
            "product": one.change.product or "",
            "lot": one.change.lot or "",
            "what": str(one.change.why),
            **cells({"mass": one.change.mass}, one.system, bulk),
            "weighed": "yes" if one.change.weighed else "no",
            **cells({"on_hand": one.on_hand.to(one.change.mass.unit)}, one.system, bulk),
        }
        for one in changes
    ]
