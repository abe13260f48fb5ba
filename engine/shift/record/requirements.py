"""What the shift needs to know of the dialog that it watches for."""

from __future__ import annotations

from engine.dialog.schema.activities import ACTIVITIES
from engine.dialog.schema.slot_roles import Requirements, Role

SHIFT = "shift"
ACTIVITIES[SHIFT] = Requirements(
    needed=frozenset({Role.ROWS, Role.SPACING, Role.RATE, Role.SPEED, Role.LOADED}),
    welcome=frozenset(
        {
            *(
                Role.WILLING,
                Role.PLANNED,
                Role.IN_USE,
                Role.PLANTING,
                Role.LONGEST,
                Role.BAG,
                Role.METER,
                Role.PRODUCT,
                Role.LOT,
            ),
            *(Role.FIELD, Role.FIELD_AREA, Role.COURSE, Role.TARGET, Role.TUBE, Role.TARE, Role.TOLERANCE),
            *(Role.LABEL_LOW, Role.LABEL_HIGH, Role.CAPACITY, Role.PASS_LENGTH, Role.ROW_RATE),
        }
    ),
    words={
        Role.IN_USE: frozenset({"on", "off"}),
        Role.PLANTING: frozenset({"on", "off"}),
        Role.METER: frozenset({"positive", "between", "gravity"}),
    },
)
