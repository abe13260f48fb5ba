"""The common drive: when all rows are off by the same share, one change of the drive ratio comes before the dials."""

from __future__ import annotations

import math
import statistics
from dataclasses import dataclass
from typing import Literal

from engine.calculations.catalogue import formula
from engine.calculations.distribution import student_value
from engine.calculations.domain import expressed, positive, tolerance_of
from engine.calculations.kinds import Mass, PerRow, Ratio
from engine.errors import OutOfDomain
from engine.quantities import Quantity, quantity

CONFIDENCE = 0.95
"""How sure the common part must be before the drive is touched (own decision)."""
MEDIAN = math.sqrt(math.pi / 2)
"""By how much a median of normal values scatters more than their mean, in large samples (textbook statistics)."""


@dataclass(frozen=True)
class DriveCorrection:
    """``factor``: what the drive ratio is to be multiplied by; ``common``: share by which all rows are off;
    ``spread``: deviation of the rows about it; ``choice``: number of the ratio to take where a list was given."""

    outcome: Literal["change_drive", "dials_only"]
    factor: Ratio
    common: Ratio
    spread: Ratio
    choice: int | None = None


@formula("drive-correction", sources=("FAULT-LOGIC", "DRIVE"))
def drive_correction(
    caught: PerRow[Mass],
    target: Mass,
    tolerance: Ratio,
    *,
    ratio: Ratio | None = None,
    ratios: PerRow[Ratio] | None = None,
) -> DriveCorrection:
    """Correction of the drive that all rows share, factor = target / G with G = exp(median ln m) of the catches m.

    Output of a ground-driven meter is proportional to its drive ratio. The drive is to be changed when the rows agree
    that they are off: at least three rows gave something, G is off the target by more than ``tolerance`` [%], and so is
    the near end of its interval, |ln(G / target)| - 1.253 t s / sqrt(n), s the deviation of ln m (n-1) and t Student's
    quantile for 95 %; and the rows lie closer together than they lie off, s < |ln(G / target)|. With ``ratios``, the
    ratios the machine can be set to by number, and ``ratio`` the present one, ``choice`` is the nearest in log to
    ratio x factor; where that is the present one there is nothing to change. The dials come after, from new catches.
    ``caught`` [g, oz] of one run. Valid: target and ratios above zero, catches zero or above. Errors: OutOfDomain.
    Sources: FAULT-LOGIC, DRIVE.
    """
    logs = [math.log(_ratio(one, target)) for one in caught.values() if one.magnitude > 0]
    if not logs:
        raise OutOfDomain("rows", 0, "at least one must have caught something")
    allowed = math.log1p(tolerance_of(tolerance))
    common = statistics.median(logs)
    spread = statistics.stdev(logs) if len(logs) > 1 else 0.0
    choice = _choice(common, ratio, ratios)
    together = len(logs) >= 3 and _agree(common, spread, len(logs), allowed)
    changes = together and (ratios is None or _changes(choice, ratio, ratios))
    factor, off = quantity(math.exp(-common), "1"), quantity(math.exp(common) - 1, "1")
    return DriveCorrection("change_drive" if changes else "dials_only", factor, off, quantity(spread, "1"), choice)


def _ratio(mass: Quantity, target: Quantity) -> float:
    return float(expressed(mass, "g").magnitude / expressed(positive("target", target), "g").magnitude)


def _agree(common: float, spread: float, count: int, allowed: float) -> bool:
    reach = student_value(count - 1, (1 + CONFIDENCE) / 2) * MEDIAN * spread / count**0.5
    return abs(common) - reach > allowed and spread < abs(common)


def _choice(common: float, ratio: Ratio | None, ratios: PerRow[Ratio] | None) -> int | None:
    if ratios is None:
        return None
    if ratio is None or not ratios:
        raise OutOfDomain("ratios", len(ratios), "the ratio the machine is at now is needed beside at least one")
    wanted = math.log(_number("ratio", ratio)) - common
    return min(ratios, key=lambda number: (abs(math.log(_number("ratios", ratios[number])) - wanted), number))


def _changes(choice: int | None, ratio: Ratio | None, ratios: PerRow[Ratio]) -> bool:
    if choice is None or ratio is None:
        return False
    return not math.isclose(_number("ratios", ratios[choice]), _number("ratio", ratio), rel_tol=1e-6)


def _number(argument: str, ratio: Quantity) -> float:
    return float(positive(argument, ratio).to("dimensionless").magnitude)
