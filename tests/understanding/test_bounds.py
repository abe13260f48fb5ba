"""Where a text begins and ends in a sentence, and what beside it is no text: lead-ins, titles, questions, waits."""

from __future__ import annotations

import pytest

from engine.messages import Asked, Commanded, Given, LeavingOut
from engine.quantities import Measure
from tests.understanding.test_laws import kept, say


@pytest.mark.parametrize(
    ("language", "place", "text", "told"),
    [
        ("en", "crop", "this year milo", {"crop": "milo"}),
        ("en", "crop", "it'll be sweet corn", {"crop": "sweet corn"}),
        ("en", "formulation", "formulation: granule", {"formulation": "granule"}),
        ("en", "applicator", "Mr. Dale T. Oberly Jr.", {"applicator": "Dale T. Oberly Jr."}),
        ("en", "named", "on the ticket: Kelbrick 10G", {"product": "Kelbrick 10G"}),
        ("en", "new_field", "it's the old Hanley place", {"field": "old Hanley place"}),
        ("en", "new_field", "call it 14", {"field": "14"}),
        ("en", "store", "up in the loft of the shop till morning", {"store": "loft of the shop"}),
        ("en", "store", "in the barn, locked", {"store": "barn"}),
        ("en", "registration", "11459-8... no hang on, 11459-3", {"registration": "11459-3"}),
        ("es", "crop", "este año sorgo", {"crop": "sorgo"}),
        ("es", "crop", "va con maíz", {"crop": "maíz"}),
        ("es", "formulation", "la formulación, gránulo", {"formulation": "gránulo"}),
        ("es", "applicator", "Lic. Delia Montoya", {"applicator": "Delia Montoya"}),
        ("es", "named", "el nombre es «Kelbrick 10 G Suelo»", {"product": "Kelbrick 10 G Suelo"}),
        ("es", "delivered", "del Kelbrick", {"product": "Kelbrick"}),
        ("es", "new_field", "le decimos el potrero de los Nieto", {"field": "potrero de los Nieto"}),
        ("es", "new_field", "El Encino", {"field": "El Encino"}),
        ("es", "store", "lo dejamos en la caja de la troca por mientras", {"store": "caja de la troca"}),
        ("es", "registration", "3365-81, no, perdón, 3356-81", {"registration": "3356-81"}),
    ],
)
def test_a_text_is_kept_without_what_leads_to_it_or_trails(
    language: str, place: str, text: str, told: dict[str, str]
) -> None:
    assert {one.slot: one.value for one in kept(say(language, place, text)) if isinstance(one, Given)} == told


@pytest.mark.parametrize(
    ("language", "place", "text"),
    [
        ("en", "formulation", "dry granular, on a clay carrier"),
        ("en", "formulation", "the formulation"),
        ("en", "location", "tell him the gate's shut and to come round by the road"),
        ("en", "named", "the stuff in the blue sack, same as Wendell always used"),
        ("es", "formulation", "G, o sea gránulos"),
        ("es", "applicator", "el Beto"),
    ],
)
def test_a_text_whose_bounds_are_in_doubt_is_asked(language: str, place: str, text: str) -> None:
    assert kept(say(language, place, text)) == []


@pytest.mark.parametrize(
    ("language", "place", "text"),
    [
        ("en", "store", "hang on, he's coming with it"),
        ("en", "certification", "hold on he's yelling it across the yard"),
        ("es", "certification", "espérame, lo anda buscando"),
        ("es", "formulation", "ya voy ya voy, no me apures"),
    ],
)
def test_who_asks_to_wait_has_answered_nothing(language: str, place: str, text: str) -> None:
    assert say(language, place, text).reading.entries == ()


@pytest.mark.parametrize(
    ("language", "place", "text"),
    [
        ("en", "named", "forget it, another day"),
        ("en", "new_field", "never mind about the field, the lease fell through"),
        ("es", "named", "olvídalo, mañana lo hago"),
    ],
)
def test_what_is_given_up_is_left_and_not_skipped(language: str, place: str, text: str) -> None:
    (entry,) = say(language, place, text).reading.entries
    assert isinstance(entry, Commanded) and entry.command == "cancel"


@pytest.mark.parametrize(
    ("language", "place", "text"),
    [("en", "new_field", "what names are taken"), ("en", "certification", "whyfor you need my card number")],
)
def test_a_question_without_its_mark_is_no_name(language: str, place: str, text: str) -> None:
    assert all(isinstance(one, Asked) for one in say(language, place, text).reading.entries)


@pytest.mark.parametrize(
    ("language", "place", "text", "slot", "value"),
    [
        ("en", "bags", "we had 20 and two went back so 18", "bags", 18),
        ("en", "active", "15 percent active and 85 percent other stuff", "active", Measure(value=15, unit="%")),
        ("es", "bags", "eran 20 y se regresaron 2, entonces 18", "bags", 18),
        ("es", "active", "cinco y los otros noventa y cinco son arcilla", "active", Measure(value=5, unit="%")),
    ],
)
def test_of_several_numbers_the_one_that_is_meant_is_kept(
    language: str, place: str, text: str, slot: str, value: object
) -> None:
    (entry,) = kept(say(language, place, text))
    assert isinstance(entry, Given) and (entry.slot, entry.value) == (slot, value)


@pytest.mark.parametrize(
    ("place", "text"),
    [
        ("season_high", "only one pass a year so same as the top rate?"),
        ("finished", "is there a dial number for eight?"),
    ],
)
def test_a_question_skips_nothing_and_leaves_no_row_out(place: str, text: str) -> None:
    entries = say("en", place, text).reading.entries
    assert not any(isinstance(one, LeavingOut) or getattr(one, "command", "") == "skip" for one in entries)


def test_rows_that_are_only_like_those_before_are_told_the_same() -> None:
    told = say("es", "check", "la uno está bien, la dos también, la tres le falta la cadena").reading.entries
    assert {one.row: one.value for one in told if isinstance(one, Given)} == {1: "fit", 2: "fit", 3: "chain"}
