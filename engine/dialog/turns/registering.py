"""What a dialog learns of things that are known by name, and what it is filled with when such a name is given."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from engine.dialog.facts.book_facts import Filled, Registered, Renamed
from engine.dialog.facts.state import ConversationState, DialogState
from engine.dialog.reply.answer_texts import AnswerKey
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.schema.script import Script
from engine.dialog.schema.slot import Slot
from engine.dialog.schema.slot_roles import Role, name_in, names_in, role_of
from engine.expectation import SlotKind
from engine.messages import Given
from engine.values import Value

if TYPE_CHECKING:
    from engine.dialog.turns.turn_builder import TurnBuilder

Kinds = Mapping[Role, frozenset[Role]]
"""The kinds of things, and what is kept of each beside its name."""


def learned(kinds: Kinds, script: Script, state: ConversationState) -> Iterator[Registered | Renamed]:
    """What the dialog that is ending tells of things, as far as it is not known yet."""
    dialog = state.dialog
    assert dialog is not None
    for kind, roles in kinds.items():
        name = dialog.of(kind)
        told = {role: value for role in sorted(roles) if (value := _single(dialog, role)) is not None}
        known = state.book.things.of(kind, name) if isinstance(name, str) else None
        new = {role: value for role, value in told.items() if known is None or known.values.get(role) != value}
        if isinstance(name, str) and (new or known is None or not known.here):
            yield Registered(thing=kind, name=name, values=new)
    if script.renames is not None:
        old, new_name = dialog.values.get(script.renames.old), dialog.values.get(script.renames.new)
        for kind in state.book.things.kinds_of(str(old)) if isinstance(new_name, str) else ():
            yield Renamed(thing=kind, name=str(old), to=str(new_name))


def fill_in(builder: TurnBuilder, kind: Role, name: str) -> None:
    """Take what is known of a thing for the open slots that hold the same, and say it."""
    known = builder.state.book.things.known(kind, name)
    found = _fitting(builder.script, builder.dialog, known) if kind in builder.library.kinds else {}
    if not found:
        return
    builder.add(Filled(thing=kind, name=name, values=found))
    parts = [_told(builder, slot, value) for slot, value in found.items()]
    builder.say(SystemKey.FILLED, name=name, values=", ".join(parts))
    for slot, value in found.items():
        other = role_of(builder.script.records, slot)
        if other is not None and isinstance(value, str):
            fill_in(builder, other, value)


def fill_in_given(builder: TurnBuilder, given: Given) -> None:
    """The same where a name was given."""
    kind = role_of(builder.script.records, given.slot)
    if kind is not None and isinstance(given.value, str):
        fill_in(builder, kind, given.value)


def fill_all(builder: TurnBuilder) -> None:
    """The same for every thing whose name the dialog begins with."""
    for kind in builder.library.kinds:
        name = builder.dialog.of(kind)
        if isinstance(name, str):
            fill_in(builder, kind, name)


def say_register(builder: TurnBuilder) -> None:
    """Every thing that is known by name, kind by kind."""
    register, told = builder.state.book.things, False
    for script in builder.library.in_order:
        kind = next((role for role, name in names_in(script.records).items() if name == script.registers), None)
        names = register.names(kind) if kind else ()
        if kind is not None and names:
            told = True
            slot = script.slots[name_in(script.records, kind) or ""]
            told_as = ", ".join(_listed(builder, kind, name) for name in names)
            builder.say(SystemKey.REGISTER, kind=builder.wording.name(slot), names=told_as)
    if not told:
        words = [script.opening(builder.state.language) for script in builder.library.in_order if script.registers]
        builder.say(SystemKey.REGISTER_EMPTY, dialogs=builder.wording.join([f"“{word}”" for word in words]))


def _listed(builder: TurnBuilder, kind: Role, name: str) -> str:
    """A name, with that a document is kept with it."""
    known = builder.state.book.things.of(kind, name)
    return builder.wording.say(AnswerKey.DOCUMENTED, name=name) if known and known.documents else name


def _single(dialog: DialogState, role: Role) -> Value | None:
    found = dialog.of(role)
    return None if isinstance(found, dict) else found


def _fitting(script: Script, dialog: DialogState, known: Mapping[Role, Value]) -> dict[str, Value]:
    by_name = {name: known[role] for role, name in names_in(script.records).items() if role in known}
    return {
        name: by_name[name]
        for name, slot in script.slots.items()
        if name in by_name and name not in dialog.values and _takes(slot, by_name[name])
    }


def _takes(slot: Slot, value: Value) -> bool:
    return not slot.per_row and (slot.kind is not SlotKind.CHOICE or value in slot.options)


def _told(builder: TurnBuilder, name: str, value: Value) -> str:
    slot = builder.script.slots[name]
    return f"{builder.wording.name(slot).lower()} {builder.wording.value(value, slot)}"
