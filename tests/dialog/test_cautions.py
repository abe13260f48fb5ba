"""Cautions: when they are due by themselves, and what a product's own label adds to them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from engine.dialog.facts.book import Book
from engine.dialog.facts.book_facts import Alarmed
from engine.dialog.facts.register import Register
from engine.dialog.facts.state import ConversationState
from engine.dialog.interpreter import Interpreter, Turn
from engine.dialog.schema.slot_roles import Role
from engine.dialog.turns.cautions import are_due
from engine.messages import Asked, Language, Opened, Reading, Topic
from tests.helpers.talking import START, library

ZONE = "America/Chicago"
MORNING = datetime(2026, 4, 21, 12, tzinfo=UTC)
"""Seven in the morning there."""


@pytest.mark.parametrize(
    ("said", "hours", "due"),
    [
        (None, 0, True),
        (MORNING, 0, False),
        (MORNING, 16.9, False),
        (MORNING, 17.1, True),
        (MORNING + timedelta(hours=14), 10, False),
        (MORNING + timedelta(hours=14), 11.9, False),
        (MORNING + timedelta(hours=14), 12, True),
        (MORNING, -1, False),
    ],
    ids=[
        "never",
        "at once",
        "the same day",
        "after midnight",
        "that night",
        "still",
        "next morning",
        "a clock put back",
    ],
)
def test_cautions_are_due_once_a_day_and_not_twice_in_one_night(said: datetime | None, hours: float, due: bool) -> None:
    assert are_due(said, (said or MORNING) + timedelta(hours=hours), ZONE) is due


def known(language: Language, in_hand: str) -> ConversationState:
    """Two products in the register, one of which was named last."""
    first = {Role.PROTECTION: "long gloves", Role.REGISTRATION: "12-34"}
    things = Register().noting(Role.PRODUCT, "Product A", first).noting(Role.PRODUCT, "Product B", {})
    book = Book(values={"product": in_hand, "protection": "a mask"}, things=things)
    roles = {Role.PRODUCT: "product", Role.PROTECTION: "protection"}
    return ConversationState(language=language, book=book.model_copy(update={"roles": roles}))


def turn(state: ConversationState, entry: Asked | Opened) -> Turn:
    numbers = {"emergency": "1", "poison": "2", "spill": "3"}
    return Interpreter(library(), numbers=numbers).take(state, Reading(entries=(entry,)), START)


@pytest.mark.parametrize(
    ("language", "worn", "ready"),
    [
        ("en", "For Product A wear long gloves, as its label says.", "Product A, registration number 12-34, the label"),
        (
            "es",
            "Con Product A use long gloves, como dice su etiqueta.",
            "Product A, número de registro 12-34, la etiqueta",
        ),
    ],
)
def test_what_the_label_of_a_product_says_goes_first(language: Language, worn: str, ready: str) -> None:
    state = known(language, "product a")
    told = worn.replace("Product A", "product a")
    assert turn(state, Asked(topic=Topic.CAUTIONS)).reply.text.splitlines()[0] == told
    assert turn(state, Opened(dialog="ready-check")).reply.text.splitlines()[1] == told
    alarm = turn(state, Asked(topic=Topic.EMERGENCY))
    assert ready.replace("Product A", "product a") in alarm.reply.text
    assert [one for one in alarm.facts if isinstance(one, Alarmed)] == [
        Alarmed(at=START, product="product a", registration="12-34")
    ]


def test_of_another_product_nothing_is_said_of_one_whose_label_nobody_told() -> None:
    state = known("en", "Product B")
    assert turn(state, Asked(topic=Topic.CAUTIONS)).reply.text.startswith("Wear what the label says")
    assert "long gloves" not in turn(state, Opened(dialog="ready-check")).reply.text
    assert "Have ready: Product B, its registration number" in turn(state, Asked(topic=Topic.EMERGENCY)).reply.text
