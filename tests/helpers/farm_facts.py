"""Samples of what planters of one farm take over from each other."""

from __future__ import annotations

from datetime import UTC, datetime

from engine.dialog.book_facts import Registered, Renamed
from engine.dialog.neighbours import FarmEntry, FarmTold, Neighbour
from engine.dialog.roles import Role

AT = datetime(2026, 4, 21, 22, 15, tzinfo=UTC)
ENTRY = FarmEntry(at=AT, fact=Registered(thing=Role.FIELD, name="Ñ"))
RENAMED = FarmEntry(at=AT, fact=Renamed(thing=Role.FIELD, name="Ñ", to="North"))
SAMPLES = (FarmTold(until={4: 9}, gone={4: (AT,)}, told=(ENTRY, RENAMED)), ENTRY, Neighbour(seq=9))
