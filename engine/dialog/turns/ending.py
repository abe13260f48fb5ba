"""What is noted when a dialog ends: what it told of things that are known by name, and what it did to the stock."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from engine.dialog.facts.book_facts import Documented, HoppersLeft, Stocked
from engine.dialog.facts.events import Cancelled
from engine.dialog.facts.role_values import as_measure, as_word
from engine.dialog.facts.state import ConversationState, DialogState
from engine.dialog.facts.stock_facts import POUNDS, Hoppers, Movement
from engine.dialog.schema.slot_roles import Phase, Role, name_in, role_of
from engine.dialog.turns.registering import learned
from engine.quantities import Measure

if TYPE_CHECKING:
    from engine.dialog.turns.turn_builder import TurnBuilder


def note_finish(builder: TurnBuilder) -> None:
    """For a dialog that reached its end."""
    for fact in tuple(learned(builder.library.kinds, builder.script, builder.state)):
        builder.add(fact)
    kind = role_of(builder.script.records, builder.script.registers) if builder.script.registers else None
    name = builder.dialog.of(kind) if kind is not None else None
    for document in builder.dialog.documents if kind is not None and isinstance(name, str) else ():
        builder.add(Documented(thing=kind, name=str(name), document=document))
    _note_stock(builder, as_measure(builder.dialog.of(Role.LEFT_OVER)))


def note_leaving(builder: TurnBuilder, left: Cancelled) -> None:
    """For one in which an activity watched, and that is left: what stays in the hoppers is known where it goes on."""
    held = left.left.rows.get(name_in(builder.dialog.records, Role.LOADED) or "", {}) if left.left else {}
    masses = [one.to(POUNDS).value for one in held.values() if isinstance(one, Measure)]
    _note_stock(builder, Measure(value=sum(masses), unit=POUNDS) if masses else None)


def _note_stock(builder: TurnBuilder, left: Measure | None) -> None:
    for fact in tuple(_stocked(builder.state, left)):
        builder.add(fact)


def _stocked(state: ConversationState, left: Measure | None) -> Iterator[Stocked | HoppersLeft]:
    """The changes that the open dialog makes when it ends; ``left`` is what a shift leaves in the hoppers, where that
    is known."""
    dialog = state.dialog
    assert dialog is not None
    if dialog.phase is Phase.DELIVERY:
        yield from _delivered(dialog)
    elif dialog.phase is Phase.SHIFT and dialog.activity is not None:
        yield from _loaded(state, dialog, left)
    elif dialog.phase is Phase.STORAGE:
        yield from _returned(state, dialog)


def _delivered(dialog: DialogState) -> Iterator[Stocked]:
    mass = as_measure(dialog.of(Role.DELIVERED))
    if mass is not None:
        yield Stocked(
            product=as_word(dialog.of(Role.PRODUCT)),
            lot=as_word(dialog.of(Role.LOT)),
            why=Movement.DELIVERED,
            mass=mass,
        )


def _loaded(state: ConversationState, dialog: DialogState, left: Measure | None) -> Iterator[Stocked | HoppersLeft]:
    """What went into the hoppers, lot by lot, without what was in them already."""
    assert dialog.activity is not None
    product, before = as_word(dialog.of(Role.PRODUCT)), state.book.stock.hoppers
    unsure = before is not None and before.held is None
    in_them = before.held.to(POUNDS).value if before and before.held else 0.0
    for place, load in enumerate(dialog.activity.loads):
        taken = min(in_them, load.mass.to(POUNDS).value) if place == 0 else 0.0
        mass = Measure(value=load.mass.to(POUNDS).value - taken, unit=POUNDS)
        weighed = load.weighed and not (place == 0 and unsure)
        if mass.value > 0 or not weighed:
            yield Stocked(product=product, lot=load.lot, why=Movement.LOADED, mass=mass, weighed=weighed)
    lots = [*(before.lots if before else ()), *(load.lot for load in dialog.activity.loads if load.lot)]
    yield HoppersLeft(hoppers=Hoppers(product=product, lots=tuple(dict.fromkeys(lots)), held=left))


def _returned(state: ConversationState, dialog: DialogState) -> Iterator[Stocked | HoppersLeft]:
    """What went back belongs to the lot that was in the hoppers; of several, nobody can tell which."""
    hoppers = state.book.stock.hoppers
    if hoppers is None:
        return
    weighed, booked = as_measure(dialog.of(Role.PUT_BACK)), as_measure(dialog.of(Role.LEFT_OVER))
    mass = weighed or booked
    if mass is not None:
        lot = hoppers.lots[-1] if hoppers.lots else None
        surely = weighed is not None and len(hoppers.lots) < 2
        yield Stocked(product=hoppers.product, lot=lot, why=Movement.RETURNED, mass=mass, weighed=surely)
    yield HoppersLeft()
