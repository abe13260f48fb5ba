"""Coverage: the area of a pass, the row in an area, and the area planted in an hour."""

from __future__ import annotations

from engine.calculations.catalogue import formula
from engine.calculations.domain import counted, expressed, positive, share
from engine.calculations.kinds import Area, Length, Ratio, Speed, WorkRate


@formula("pass-area", sources=("ROW-IDENTITIES", "KY-800", "SHL-DRILL"))
def pass_area(rows: int, spacing: Length, course: Length) -> Area:
    """Area of one pass, A = rows x s x L [acre, ha]. acres = rows x in x ft / 522 720.

    ``rows`` at least 1, ``spacing`` s [in, cm], ``course`` L [ft, m] above zero. Errors: OutOfDomain.
    Sources: ROW-IDENTITIES, KY-800, SHL-DRILL.
    """
    return expressed(counted("rows", rows) * positive("spacing", spacing) * positive("course", course), "ha")


@formula("row-length", sources=("ROW-IDENTITIES", "PSU-ROW", "UT-2011", "ISU-212"))
def row_length(area: Area, spacing: Length) -> Length:
    """Length of single row that makes up an area, L = A / s [ft, m]. One acre has 522 720 / in feet of row.

    ``area`` A [acre, ha], ``spacing`` s [in, cm], both above zero. Errors: OutOfDomain.
    Sources: ROW-IDENTITIES, PSU-ROW, UT-2011, ISU-212.
    """
    return expressed(positive("area", area) / positive("spacing", spacing), "m")


@formula("work-rate", sources=("ISU-A3-24", "ASAE-D497"))
def work_rate(width: Length, speed: Speed, efficiency: Ratio) -> WorkRate:
    """Area worked in an hour, C = w v e [acre/h, ha/h]. acres per hour = ft x mph x efficiency / 8.25.

    ``width`` w [ft, m] of the whole machine, ``speed`` v [mph, km/h], ``efficiency`` e [%]: working time over time in
    the field, above 0 and up to 100 %. Width and speed above zero. Errors: OutOfDomain.
    Sources: ISU-A3-24, ASAE-D497.
    """
    worked = positive("width", width) * positive("speed", speed) * share("efficiency", efficiency)
    return expressed(worked, "ha/h")
