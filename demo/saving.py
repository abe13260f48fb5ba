"""What a look saved: when a row stopped, when it was asked for, when it was found, and what is in doubt."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from demo.letters import DemoCall, DemoDoubt, DemoTurn


@dataclass(frozen=True)
class RowStops:
    """A row of the simulated planter stops feeding; nobody has seen it yet."""

    row: int
    at: datetime


@dataclass(frozen=True)
class Saved:
    """A row that stopped, the calls that led to it, what was in doubt when it was found, and once it fed again."""

    stopped: RowStops
    calls: tuple[DemoCall, ...]
    found: DemoDoubt
    over: DemoDoubt


@dataclass
class Lookout:
    """Follows a night as it goes. Not frozen: it remembers what came before."""

    stopped: RowStops | None = None
    found: DemoDoubt | None = None
    calls: tuple[DemoCall, ...] = ()

    def stops(self, stopped: RowStops) -> None:
        self.stopped, self.calls = stopped, ()

    def rang(self, call: DemoCall) -> None:
        self.calls = (*self.calls, call)

    def told(self, turn: DemoTurn) -> Saved | None:
        """What was saved, once the row that stopped feeds again."""
        if turn.doubt is None or self.stopped is None:
            return None
        if self.found is None:
            self.found = turn.doubt
            return None
        saved = Saved(self.stopped, self.calls, self.found, turn.doubt)
        self.stopped = self.found = None
        return saved
