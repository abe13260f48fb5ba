"""What a report of acres teaches of the field efficiency."""

from __future__ import annotations

from datetime import timedelta

from engine.dialog.shift.log import Log
from engine.quantities import quantity
from engine.reminders.rules import AcreReport, learned_efficiency

LEARNED_FROM = timedelta(minutes=1)
LEAST, MOST = 0.05, 1.0


def learned(log: Log, believed: float, acres: float, length: timedelta) -> float | None:
    """Field efficiency after so many acres in this time; None where too little time has passed to learn from."""
    if length < LEARNED_FROM:
        return None
    report, speed = AcreReport(quantity(acres, "acre"), length), log.plan.speed(log.shift).quantity
    found = learned_efficiency(quantity(believed, "1"), (report,), speed, log.plan.width(log.shift))
    return min(max(float(found.to("dimensionless").magnitude), LEAST), MOST)
