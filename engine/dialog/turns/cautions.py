"""What to wear and to mind: once a day by itself, at any time on request; and what to have ready in an emergency."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from engine.dialog.facts.book_facts import Cautioned
from engine.dialog.facts.label_shelf import product_in_hand
from engine.dialog.reply.answer_texts import AnswerKey
from engine.dialog.reply.wording import described
from engine.dialog.schema.script import Listing, Say
from engine.dialog.schema.slot_roles import Role, name_in
from engine.reminders.local_time import LocalTime

if TYPE_CHECKING:
    from engine.dialog.turns.turn_builder import TurnBuilder

NIGHT = timedelta(hours=12)
"""Within one night's work the day does not begin anew at midnight (own decision)."""


def are_due(said: datetime | None, now: datetime, zone: str) -> bool:
    """Whether the cautions are to be said by themselves: not yet on this day, nor in this night."""
    if said is None or now < said:
        return said is None
    same_day = LocalTime.of(said, zone).local.date() == LocalTime.of(now, zone).local.date()
    return not same_day and now - said >= NIGHT


def is_said(builder: TurnBuilder, step: Say | Listing, again: bool) -> bool:
    """Whether a text is to be said now: a daily one once a day, on a way gone ``again`` only what can have changed."""
    if isinstance(step, Listing):
        return True
    due = not step.daily or are_due(builder.state.book.cautioned, builder.now, builder.zone)
    return due and not (again and not step.say.names)


def added(builder: TurnBuilder, step: Say | Listing) -> tuple[str, ...]:
    """Note that the cautions of the day were said; what the product's own label adds to them, where that is known."""
    if not isinstance(step, Say) or not step.daily:
        return ()
    builder.add(Cautioned(at=builder.now))
    worn = wear_told(builder)
    return () if worn is None else (worn,)


def wear_told(builder: TurnBuilder) -> str | None:
    """What the label of the product says to wear, where a product's own list is known."""
    protection = told(builder, Role.PROTECTION)
    if protection is None:
        return None
    product = told(builder, Role.PRODUCT)
    if product is None:
        return builder.wording.say(AnswerKey.WEAR, protection=protection)
    return builder.wording.say(AnswerKey.WEAR_FOR, product=product, protection=protection)


def say_cautions(builder: TurnBuilder) -> None:
    """What to wear and to mind, as far as it is known."""
    builder.lines.append(wear_told(builder) or builder.wording.say(AnswerKey.WEAR_BY_LABEL))
    builder.say(AnswerKey.CAUTIONS)


def say_ready(builder: TurnBuilder) -> None:
    """What to have ready for whoever is called: product, registration number, label."""
    product, number = told(builder, Role.PRODUCT), told(builder, Role.REGISTRATION)
    if product is None:
        builder.say(AnswerKey.READY_LABEL)
    elif number is None:
        builder.say(AnswerKey.READY_PRODUCT, product=product)
    else:
        builder.say(AnswerKey.READY_REGISTERED, product=product, number=number)


def told(builder: TurnBuilder, role: Role) -> str | None:
    """What is known of the product in hand, as people read it: its name, or what the register holds of it."""
    product = product_in_hand(builder.state)
    if product is None:
        return None
    entry = builder.state.book.things.of(Role.PRODUCT, product)
    value = product if role is Role.PRODUCT else entry.values.get(role) if entry else None
    found = [described(script, name_in(script.records, role) or "") for script in builder.library.in_order]
    return None if value is None else builder.wording.value(value, next((one for one in found if one), None))
