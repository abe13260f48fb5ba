"""What is said beside an answer: counts that belong together, another answer first, what is meant instead, a wait."""

from __future__ import annotations

import pytest

from engine.intents import Command, Topic
from engine.messages import Asked, Commanded, Given, Opened, Unclear, UnclearReason
from engine.quantities import Measure
from tests.understanding.test_laws import kept, say


@pytest.mark.parametrize(
    ("language", "place", "text", "told"),
    [
        ("en", "delivered", "the Harlo 15G come today", {"product": "Harlo 15G"}),
        ("en", "location", "map 33 instead of 23", {"location": "map 33"}),
        ("en", "crop", "peanuts, ma'am", {"crop": "peanuts"}),
        ("en", "certification", "PV 6073, no scratch that, it's PV 6370", {"certification": "PV 6370"}),
        ("en", "certification", "C as in cat, then 55183", {"certification": "C55183"}),
        ("es", "crop", "va algodón este año", {"crop": "algodón"}),
        ("es", "applicator", "el Nacho Berrueta", {"applicator": "Nacho Berrueta"}),
        ("es", "applicator", "Don Beto Arizmendi, que es el que tiene papeles", {"applicator": "Beto Arizmendi"}),
        ("en", "applicator", "hired man does it, Benny Escarra", {"applicator": "Benny Escarra"}),
        ("es", "store", "la bodega de lámina junto al taller", {"store": "bodega de lámina junto al taller"}),
        ("es", "crop", "algodón este año, antes era sorgo", {"crop": "algodón"}),
        ("en", "named", "says here Brackmoor 3 G on the front of the sack", {"product": "Brackmoor 3 G"}),
        ("en", "certification", "KA 7 7 0 2 uhh no, KA 7 7 2 0", {"certification": "KA7720"}),
    ],
)
def test_what_is_beside_a_text_is_no_part_of_it(language: str, place: str, text: str, told: dict[str, str]) -> None:
    assert {one.slot: one.value for one in kept(say(language, place, text)) if isinstance(one, Given)} == told


@pytest.mark.parametrize(
    ("language", "place", "text", "value"),
    [
        ("en", "empties", "six on the trailer and five in the pickup", 11),
        ("en", "bags", "twelve on the first pallet and nine on the other", 21),
        ("es", "empties", "nueve acá y cuatro en la caja de la troca", 13),
        ("en", "applicator", "Tomas Arrieta, his card says PA-40817", "Tomas Arrieta"),
        ("en", "applicator", "license 40817", "license 40817"),
        ("en", "right", "nope thats not what the bag says", "wrong"),
        ("es", "right", "simón, todo cuadra", "right"),
        ("en", "crop", "popcorn on contract", "popcorn on contract"),
        ("en", "location", "map 7 in the binder", "map 7 in the binder"),
        ("es", "location", "mapa 7 en la oficina", "mapa 7 en la oficina"),
        (
            "es",
            "active",
            "creo que diez, aunque puede que sea doce, la verdad no le hallo",
            Measure(value=10, unit="%"),
        ),
    ],
)
def test_what_may_be_meant_is_asked(language: str, place: str, text: str, value: str | int | Measure) -> None:
    found = say(language, place, text).reading.entries
    assert kept(say(language, place, text)) == []
    assert [one.value for one in found if isinstance(one, Given)] == [value]


@pytest.mark.parametrize(
    ("language", "text", "rows", "value"),
    [
        ("es", "al 2 y al 7 se les saltó la cadena", {2, 7}, "chain"),
        ("es", "a la 3 y a la 5 les falta la manguera", {3, 5}, "hose"),
        ("en", "eight is missing its chain otherwise they are good", set(range(1, 8)), "fit"),
        ("en", "aint nothin wrong with any of em", set(range(1, 9)), "fit"),
        ("es", "la siete tiene la tolva partida. lo otro anda", {*range(1, 7), 8}, "fit"),
    ],
)
def test_rows_that_belong_together(language: str, text: str, rows: set[int], value: str) -> None:
    told = [one for one in kept(say(language, "check", text)) if isinstance(one, Given)]
    assert {one.row for one in told if one.value == value} == rows


@pytest.mark.parametrize(
    ("language", "place", "text", "command"),
    [
        ("en", "new_field", "no no I dont want a new field, quit this", Command.CANCEL),
        ("es", "applicator", "ya no, cancela, el muchacho ni va a venir", Command.CANCEL),
        ("en", "machine", "what do you mean by course taped, say it plain for me", Command.HELP),
        ("es", "machine", "qué quiere decir recorrido", Command.HELP),
    ],
)
def test_what_is_no_answer(language: str, place: str, text: str, command: Command) -> None:
    assert [one.command for one in say(language, place, text).reading.entries if isinstance(one, Commanded)] == [
        command
    ]


@pytest.mark.parametrize(
    ("language", "text", "named"),
    [
        ("en", "haven't taped the course yet and them containers aint been numbered neither", "course, containers"),
        ("es", "faltan las llantas y la báscula no se probó", "llantas, báscula"),
    ],
)
def test_of_several_things_that_are_not_done_the_first_is_asked_for(language: str, text: str, named: str) -> None:
    found = say(language, "machine", text)
    assert [one.reason for one in found.reading.entries if isinstance(one, Unclear)] == [UnclearReason.SEVERAL_CHOICES]
    assert named in found.turn.reply.text.splitlines()[0]


def test_a_bag_that_runs_out_is_a_spill_and_the_sun_that_goes_down_is_none() -> None:
    spilt = say("en", "delivered", "the forklift poked one and it's runnin out all over the concrete").reading.entries
    evening = say("en", "fresh", "sun's about down, me and the boy want to go plant").reading.entries
    assert [one.topic for one in spilt if isinstance(one, Asked)] == [Topic.EMERGENCY]
    assert not any(isinstance(one, Asked) for one in evening)
    assert all(isinstance(one, Opened) for one in evening)


@pytest.mark.parametrize(
    ("language", "place", "text"),
    [
        ("en", "in_use", "skippin the 2 middle ones 4 and 5 for the tram, everythin else plants"),
        ("en", "check", "6 is plugged at the bottom, mud dauber nest in the outlet"),
        ("en", "shift", "18 acres covered, everything's flowing, filled nothing"),
        ("es", "machine", "creo que ya todo, quien sabe las llantas"),
    ],
)
def test_what_one_breath_tells_in_two_ways_is_asked(language: str, place: str, text: str) -> None:
    said = say(language, place, text)
    assert not [fact for fact in said.turn.facts if fact.kind in ("kept", "noted", "skipped")]
    assert said.turn.reply.text.endswith("?")
