"""The state of a shift: what its facts come to, inside the state of its dialog."""

from __future__ import annotations

from datetime import datetime

from pydantic import AwareDatetime

from engine.dialog.shift.fact import NOTHING, Doubted, LookSet, Noted, Proof, RateFound, ShiftStarted, Use
from engine.messages import Message, Report
from engine.quantities import Measure
from engine.values import Value

ShiftFact = ShiftStarted | Noted | Doubted | LookSet | RateFound

OVER = "over"
"""The value of the last ENDED report; one before it stops the clock and asks what is left in the hoppers."""
LOOKED = frozenset({Report.GOOD, Report.HIGH, Report.STOPPED, Report.LEFT, Report.LEVEL, Report.REFILLED})
"""Reports by somebody who looked at the hoppers."""
NAMED = {
    Report.SPEED: "speed",
    Report.RATE: "rate",
    Report.PRODUCT: "product",
    Report.LOT: "lot",
    Report.FIELD: "field",
    Report.HANDED_OVER: "operator",
}
"""What a report changes for the rest of the shift."""
CALLED = (Report.FIELD, Report.PRODUCT, Report.HANDED_OVER)
"""Reports with a name, which a recogniser does not know before it was told."""


class Hopper(Message):
    """What a hopper held, the area planted by then, and when."""

    mass: Measure
    planted: Measure
    at: AwareDatetime | None = None


class Told(Message):
    """A moment whose area the operator said, and the field efficiency believed until then."""

    mark: Proof
    believed: float


class Shift(Message):
    """Where a shift stands.

    ``mark`` is the last moment whose area and time are known, from which on they are reckoned while it is not
    ``paused`` or ``closing``; ``measured`` the last whose area the operator said and ``told`` all of those; ``looked``
    the last look. ``proofs`` is when each row was last known to feed, ``troubled`` the rows that stopped or stay high.
    ``filled`` is what each hopper held when it was last filled, ``hoppers`` the same as last known, ``uses`` what they
    used meanwhile where that is known, ``weighed`` those of the last rate found and ``earlier`` those before; ``now``
    what is planted with; ``moved`` to another field than it began in, which was ``entered`` once so much was planted
    and is of this ``size``. ``track`` are the moments that are known, ``resumed`` is when it last went on planting and
    ``stood`` since when it does not; ``stretches`` is since when each row was last in doubt, ``dated`` the rows of
    which the operator said when they went wrong. ``naming`` was told without its name.
    """

    started: AwareDatetime
    mark: Proof
    measured: Proof
    told: tuple[Told, ...] = ()
    looked: Proof
    paused: bool = False
    closing: bool = False
    ended: bool = False
    snoozed: AwareDatetime | None = None
    efficiency: float
    proofs: dict[int, Proof]
    troubled: dict[int, Report] = {}
    filled: dict[int, Hopper] = {}
    hoppers: dict[int, Hopper] = {}
    uses: dict[int, Use] = {}
    weighed: dict[int, Use] = {}
    earlier: dict[int, Use] = {}
    now: dict[str, Value] = {}
    moved: bool = False
    entered: Measure = NOTHING
    size: Measure | None = None
    look: LookSet | None = None
    track: tuple[Proof, ...] = ()
    resumed: AwareDatetime | None = None
    stood: AwareDatetime | None = None
    stretches: dict[int, AwareDatetime] = {}
    dated: tuple[int, ...] = ()
    naming: Report | None = None
    doubts: tuple[Doubted, ...] = ()
    rates: tuple[RateFound, ...] = ()

    @property
    def runs(self) -> bool:
        """Whether the planter is planting."""
        return not (self.paused or self.closing)

    @property
    def planting_since(self) -> datetime:
        """When it began to plant, or last went on."""
        return self.resumed or self.started

    @property
    def rows(self) -> tuple[int, ...]:
        """The rows in use."""
        return tuple(sorted(self.proofs))
