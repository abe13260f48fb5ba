"""A stopped row: what is in doubt since it was last seen to feed, and how often to look."""

from __future__ import annotations

from dataclasses import dataclass

from engine.calculations.catalogue import formula
from engine.calculations.coverage import row_length, work_rate
from engine.calculations.domain import counted, expressed, number, part, positive
from engine.calculations.kinds import Area, Length, Mass, Rate, Ratio, Speed, Time
from engine.calculations.rate import area_rate
from engine.errors import OutOfDomain
from engine.quantities import quantity

NOTHING = quantity(0, "%")
CLOCK_STEP = quantity(1, "min")
ROUNDED = 0.01


@dataclass(frozen=True)
class SuspectArea:
    """The part of the planted area under the stopped rows, as area and as row, and the product short there."""

    area: Area
    row_length: Length
    short: Mass


@formula("planted-area", sources=("ISU-A3-24",))
def planted_area(width: Length, speed: Speed, efficiency: Ratio, time: Time) -> Area:
    """Area planted in a time, A = w v e t [acre, ha]: the window from the last look to the find.

    ``width`` w [ft, m], ``speed`` v [mph, km/h], ``efficiency`` e [%], ``time`` t [min, h].
    Valid: all above zero, efficiency up to 100 %. Errors: OutOfDomain. Source: ISU-A3-24.
    """
    return expressed(work_rate(width, speed, efficiency) * positive("time", time), "ha")


@formula("suspect-area", sources=("ROW-IDENTITIES", "TRADE"))
def suspect_area(
    planted: Area, rows: int, stopped: int, spacing: Length, rate: Rate, *, delivered: Ratio = NOTHING
) -> SuspectArea:
    """What is in doubt when rows stopped: area a = A k / n, row a / s, product short R a (1 - delivered).

    ``planted`` A [acre, ha] in the window, by a planter of ``rows`` n of which ``stopped`` k did not feed; ``spacing``
    s [in, cm]; ``rate`` R [lb/acre, kg/ha] or along the row; ``delivered`` [%] where a row fed too little.
    Valid: all above zero, stopped from 1 to rows, delivered from 0 to 100 %. Errors: OutOfDomain.
    Sources: ROW-IDENTITIES, TRADE.
    """
    if counted("stopped", stopped) > counted("rows", rows):
        raise OutOfDomain("stopped", stopped, f"the planter has {rows} rows")
    area = positive("planted", planted) * stopped / rows
    missing = 1 - number(part("delivered", delivered))
    return SuspectArea(
        area=expressed(area, "ha"),
        row_length=row_length(area, spacing),
        short=expressed(area_rate(rate, spacing) * area * missing, "kg"),
    )


def reachable_area(width: Length, speed: Speed, time: Time) -> Area:
    """The most a machine can have planted in a time, A = 1.01 w v (t + 1 min) [acre, ha]: more is asked back.

    ``width`` w [ft, m] of the whole machine, ``speed`` v [mph, km/h], ``time`` t [min, h] at work, pauses taken off, at
    100 % field efficiency. A clock that shows minutes is off by up to one, and speed and acres are told rounded (1 %,
    own decision).
    Valid: all above zero. Errors: OutOfDomain. Source: ISU-A3-24.
    """
    whole = quantity(100, "%")
    return expressed(planted_area(width, speed, whole, positive("time", time) + CLOCK_STEP) * (1 + ROUNDED), "ha")
