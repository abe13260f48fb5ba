"""Samples of what planters of one farm take over from each other, and of documents."""

from __future__ import annotations

from datetime import UTC, datetime

from engine.dialog.facts.book_facts import Documented, Registered, Renamed
from engine.dialog.facts.events import Attached
from engine.dialog.facts.neighbours import FarmEntry, FarmTold, Neighbour
from engine.dialog.schema.slot_roles import Role
from engine.document import Document, Media

AT = datetime(2026, 4, 21, 22, 15, tzinfo=UTC)
ENTRY = FarmEntry(at=AT, fact=Registered(thing=Role.FIELD, name="Ñ"))
RENAMED = FarmEntry(at=AT, fact=Renamed(thing=Role.FIELD, name="Ñ", to="North"))
LABEL = Document(sha256="0f" * 32, media=Media.JPEG)
KEPT = Documented(thing=Role.PRODUCT, name="Ñ 15G", document=LABEL)
SAMPLES = (
    FarmTold(until={4: 9}, gone={4: (AT,)}, told=(ENTRY, RENAMED, FarmEntry(at=AT, fact=KEPT))),
    ENTRY,
    Neighbour(seq=9),
    KEPT,
    Attached(document=LABEL),
)
