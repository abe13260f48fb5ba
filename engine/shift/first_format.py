"""Names that the dialogs of the first release had for what its facts of a shift do not carry themselves."""

SPEED, PLANNED, SPACING, RATE, BAG = "speed", "planned", "spacing", "rate", "bag"
