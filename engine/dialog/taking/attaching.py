"""A document for a product: which one it belongs to, and what is noted of it. Nothing is read from it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from engine.dialog.facts.book_facts import Documented
from engine.dialog.facts.events import Attached
from engine.dialog.facts.register import named_in
from engine.dialog.facts.state import ConversationState
from engine.dialog.reply.answer_texts import AnswerKey
from engine.dialog.schema.slot_roles import Role, role_of
from engine.dialog.script_library import Library
from engine.document import Document

if TYPE_CHECKING:
    from engine.dialog.turns.turn_builder import TurnBuilder


def product_for(library: Library, state: ConversationState, caption: str) -> str | None:
    """The product that a document is for: the one that its caption names, else the one that is being told."""
    return named_in(state.book.things.names(Role.PRODUCT), caption) or _being_told(library, state)


def attach(builder: TurnBuilder, document: Document, caption: str) -> None:
    """Note a document with its product; say where it belongs if there is none."""
    named = named_in(builder.state.book.things.names(Role.PRODUCT), caption)
    told = _being_told(builder.library, builder.state)
    if named is not None:
        builder.add(Documented(thing=Role.PRODUCT, name=named, document=document))
    elif told is not None:
        builder.add(Attached(document=document))
    else:
        builder.say(AnswerKey.DOCUMENT_WHERE)
        return
    builder.say(AnswerKey.DOCUMENT_KEPT, name=named or str(told))


def _being_told(library: Library, state: ConversationState) -> str | None:
    script = library.script(state.dialog.script) if state.dialog else None
    if state.dialog is None or script is None or script.registers is None:
        return None
    name = state.dialog.of(Role.PRODUCT)
    return name if role_of(script.records, script.registers) is Role.PRODUCT and isinstance(name, str) else None
