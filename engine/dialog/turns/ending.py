"""What is noted when a dialog ends: what it told of things that are known by name, and what it did to the stock."""

from __future__ import annotations

from typing import TYPE_CHECKING

from engine.dialog.facts.book_facts import Documented
from engine.dialog.facts.events import Cancelled
from engine.dialog.facts.stock_facts import POUNDS
from engine.dialog.schema.slot_roles import Role, name_in, role_of
from engine.dialog.turns.registering import learned
from engine.dialog.turns.stocking import stocked
from engine.quantities import Measure

if TYPE_CHECKING:
    from engine.dialog.turns.turn_builder import TurnBuilder


def note_finish(walk: TurnBuilder) -> None:
    """For a dialog that reached its end."""
    for fact in tuple(learned(walk.library.kinds, walk.script, walk.state)):
        walk.add(fact)
    kind = role_of(walk.script.records, walk.script.registers) if walk.script.registers else None
    name = walk.dialog.of(kind) if kind is not None else None
    for document in walk.dialog.documents if kind is not None and isinstance(name, str) else ():
        walk.add(Documented(thing=kind, name=str(name), document=document))
    left = walk.dialog.of(Role.LEFT_OVER)
    _note_stock(walk, left if isinstance(left, Measure) else None)


def note_leaving(walk: TurnBuilder, left: Cancelled) -> None:
    """For one in which an activity watched, and that is left: what stays in the hoppers is known where it goes on."""
    held = left.left.rows.get(name_in(walk.dialog.records, Role.LOADED) or "", {}) if left.left else {}
    masses = [one.to(POUNDS).value for one in held.values() if isinstance(one, Measure)]
    _note_stock(walk, Measure(value=sum(masses), unit=POUNDS) if masses else None)


def _note_stock(walk: TurnBuilder, left: Measure | None) -> None:
    for fact in tuple(stocked(walk.state, left)):
        walk.add(fact)
