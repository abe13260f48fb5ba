"""What can be shown of a record."""

from __future__ import annotations

from enum import StrEnum


class RecordPart(StrEnum):
    CALIBRATIONS = "calibrations"
    ROWS = "rows"
    SHIFTS = "shifts"
    SCOUTING = "scouting"
    RATES = "rates"
    APPLICATIONS = "applications"
    STOCK = "stock"
    EMERGENCIES = "emergencies"
