"""Which label is meant: by name, by part of it, by what is handled now; and never another product's."""

from __future__ import annotations

import pytest

from engine.dialog.facts.book import Book
from engine.dialog.facts.label_shelf import (
    EmptyShelf,
    LabelShelf,
    MeantLabel,
    NoLabel,
    ProductLabel,
    SeveralLabels,
    UnknownProduct,
    label_shelf,
)
from engine.dialog.facts.register import Register
from engine.dialog.facts.state import ConversationState
from engine.dialog.schema.slot_roles import Role
from engine.document import Document, Media
from tests.helpers.applying import EVENING, PRODUCT, Talk, loading, night, prepared
from tests.history.test_documents import LABEL, OTHER, send

PHOTO, PAPER = (Document(sha256=sign * 64, media=media) for sign, media in (("a", Media.JPEG), ("b", Media.PDF)))


def shelf(*labelled: str, bare: tuple[str, ...] = (), in_hand: str | None = None) -> LabelShelf:
    """Products with a photo each, then those without, as a conversation knows them."""
    things = Register()
    for name in (*bare, *labelled):
        things = things.noting(Role.PRODUCT, name, {Role.REGISTRATION: f"no. {name}"})
    for name in labelled:
        things = things.documenting(Role.PRODUCT, name, PHOTO)
    values, roles = ({"product": in_hand}, {Role.PRODUCT: "product"}) if in_hand else ({}, {})
    return label_shelf(ConversationState(language="en", book=Book(things=things, values=values, roles=roles)))


def label(name: str) -> ProductLabel:
    return ProductLabel(name, f"no. {name}", (PHOTO,))


ONE, TWO = label("Terravel 15"), label("Terravel 20")


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("", SeveralLabels((TWO, ONE))),
        ("terravel 15", ONE),
        ("the TERRAVEL  20, please", TWO),
        ("terravel", SeveralLabels((TWO, ONE))),
        ("grano", NoLabel("Grano", (TWO, ONE))),
        ("the old one", UnknownProduct((TWO, ONE))),
        ("15", UnknownProduct((TWO, ONE))),
        (ONE.mark, ONE),
    ],
)
def test_a_name_or_a_part_of_it_says_which(said: str, meant: MeantLabel) -> None:
    assert shelf("Terravel 15", "Terravel 20", bare=("Grano",)).meant(said) == meant


def test_the_product_in_hand_is_meant_where_none_is_named() -> None:
    both = "Terravel 15", "Terravel 20"
    assert shelf(*both, in_hand="terravel 15").meant(" ?! ") == ONE
    assert shelf(*both, in_hand="terravel 15").meant("terravel 20") == TWO


def test_the_label_of_another_product_is_never_taken_for_that_of_the_one_in_hand() -> None:
    assert shelf("Terravel 15", bare=("Grano",), in_hand="Grano").meant("") == NoLabel("Grano", (ONE,))
    assert shelf("Terravel 15", in_hand="Unheard of").meant("") == NoLabel("Unheard of", (ONE,))


def test_the_only_one_is_meant_where_nothing_is_in_hand_and_none_where_there_is_none() -> None:
    assert shelf("Terravel 15", bare=("Grano",)).meant("") == ONE
    assert shelf(bare=("Grano",)).meant("") == EmptyShelf()
    assert shelf().meant("terravel") == UnknownProduct(())


def test_a_part_of_one_name_alone_is_enough() -> None:
    assert shelf("Terravel 15", bare=("Grano fino",)).meant("terravel") == ONE
    assert shelf("Terravel 15", bare=("Grano fino",)).meant("fino") == NoLabel("Grano fino", (ONE,))
    assert shelf("Terravel 15", bare=("Terravel 20",)).meant("terravel") == SeveralLabels((ONE,))


def test_a_photo_is_there_while_its_product_is_told_and_after() -> None:
    talk = Talk()
    talk.say_all(PRODUCT[:4], EVENING)
    send(talk, LABEL, "", "one")
    told = ProductLabel("Terravel 15", "1234-567", (LABEL.document,))
    assert talk.assistant.labels("c").meant("") == told
    talk.say_all(PRODUCT[4:], EVENING)
    send(talk, OTHER, "Terravel 15", "two")
    both = ProductLabel("Terravel 15", "1234-567", (LABEL.document, OTHER.document))
    assert talk.assistant.labels("c").meant("terravel 15") == both


def test_another_product_in_a_shift_is_the_one_in_hand_also_in_an_emergency() -> None:
    talk = Talk()
    talk.say_all([*PRODUCT, "product", "Grano", "77-88", *PRODUCT[3:]], EVENING)
    talk.say_all([*prepared(), *loading(size="nine acres")], EVENING)
    assert talk.assistant.labels("c").in_hand == "Terravel 15"
    assert "Have ready: Terravel 15, registration number 1234-567" in talk.say("emergency", EVENING)
    night(talk, [(30, "another product")])
    assert talk.assistant.labels("c").in_hand is None
    assert "Terravel" not in talk.say("emergency", EVENING).split("Have ready:")[1].split("\n")[0]
    night(talk, [(31, "Grano")])
    assert talk.assistant.labels("c").in_hand == "Grano"
    assert "Have ready: Grano, registration number 77-88" in talk.say("emergency", EVENING)
