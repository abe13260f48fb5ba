"""The facts of a shift: each carries all that the fold needs, worked out when it was said."""

from __future__ import annotations

from typing import Literal

from pydantic import AwareDatetime

from engine.messages import Message, Report
from engine.quantities import Measure
from engine.reminders.rules import Decider, Strain
from engine.values import Value

NOTHING = Measure(value=0.0, unit="acre")


class Proof(Message):
    """A moment of a shift: ``worked`` seconds without pauses, and the area planted by then."""

    at: AwareDatetime
    worked: float = 0.0
    planted: Measure = NOTHING


class Use(Message):
    """What one hopper used while the whole planter did an area, ``since`` so much was planted.

    ``own`` where it was told for this row alone.
    """

    mass: Measure
    area: Measure
    since: Measure = NOTHING
    own: bool = False


class ShiftStarted(Message):
    """Planting began. ``hoppers`` is what each row in use holds, ``now`` what is planted with: speed, rate, lot …"""

    kind: Literal["shift_started"] = "shift_started"
    at: AwareDatetime
    hoppers: dict[int, Measure]
    efficiency: float
    now: dict[str, Value] = {}


class Noted(Message):
    """A report of a shift was kept. ``rows`` are all it is about, ``mark`` the moment it was said.

    ``moment`` is when it happened where that was said; of a pause, its end and the end of planting it is the ``mark``.
    ``proofs`` are the moments until which rows are now known to have fed, ``hoppers`` what these hold after it,
    ``uses`` what they used since they were filled, ``efficiency`` the field efficiency that was learned from it.
    ``reckoned`` is the area as speed and clock had it, where the operator now said what it really is. ``size`` is that
    of a field that is entered.
    Of a pause that is over ``moment`` and ``until`` are its ends as reckoned without it, and ``bends`` the areas before
    and after it was known, between which all others move evenly.
    """

    kind: Literal["noted"] = "noted"
    report: Report
    rows: tuple[int, ...] = ()
    value: Value | None = None
    lot: str | None = None
    said: str = ""
    mark: Proof
    moment: Proof | None = None
    proofs: dict[int, Proof] = {}
    hoppers: dict[int, Measure] = {}
    uses: dict[int, Use] = {}
    efficiency: float | None = None
    reckoned: Measure | None = None
    size: Measure | None = None
    until: Proof | None = None
    bends: tuple[tuple[float, float], ...] = ()


class TakenBack(Message):
    """The last report of the shift was taken back: everything is as it was before it."""

    kind: Literal["taken_back"] = "taken_back"
    report: Report


class Doubted(Message):
    """Rows stopped or fed wrong from their last proof of feeding until they were found.

    ``planted`` is what the whole planter did meanwhile, ``area`` and ``row_length`` the part under these rows,
    ``short`` the product that may be missing there. ``instead`` is since when the same stretch was told before, where
    that was another moment.
    """

    kind: Literal["doubted"] = "doubted"
    report: Report
    rows: tuple[int, ...]
    since: AwareDatetime
    until: AwareDatetime
    planted: Measure
    area: Measure
    row_length: Measure
    short: Measure
    field: str | None = None
    instead: AwareDatetime | None = None


class Emptied(Message):
    """The hopper of a row is reckoned to be empty at a moment."""

    row: int
    at: AwareDatetime


class LookSet(Message):
    """The hoppers are to be looked at by ``due``; None where no look is wanted, as in a pause. ``area`` is planted by
    then since the last look, ``decided_by`` and ``tightened`` are the reasons. ``accepted`` is the area that may be
    lost, where the look was put off so far that more is planted; ``empty`` the hopper that does not last until then."""

    kind: Literal["look_set"] = "look_set"
    at: AwareDatetime
    due: AwareDatetime | None = None
    area: Measure | None = None
    decided_by: Decider | None = None
    tightened: tuple[Strain, ...] = ()
    accepted: Measure | None = None
    empty: Emptied | None = None


class RateFound(Message):
    """What left the hoppers over a known area: the true rate, and how far it is from the wanted one.

    ``rows`` are the rates of single rows, ``chances`` how likely each is to under-feed, ``odd`` those that are named.
    ``reckoned`` where the area is that of speed and clock, not of the operator; ``corrects`` where the rate before it
    was that, and this is the same use over the area he then said.
    """

    kind: Literal["rate_found"] = "rate_found"
    at: AwareDatetime
    area: Measure
    used: Measure
    rate: Measure
    off: Measure
    outcome: str
    rows: dict[int, Measure] = {}
    odd: tuple[int, ...] = ()
    chances: dict[int, float] = {}
    reckoned: bool = False
    corrects: bool = False
