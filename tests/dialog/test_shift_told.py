"""What operators say of a shift in their own words, late or in passing, and what is kept of it."""

from __future__ import annotations

from datetime import timedelta

import pytest

from engine.messages import Language
from tests.dialog.test_shift import EVENING, Night

SPEAK: dict[Language, str] = {"en": "speak english", "es": "speak spanish"}


def told(language: Language, *said: tuple[float, str]) -> tuple[Night, str]:
    """A night in which this is said so many minutes into its watch, and the last reply to it."""
    night = Night()
    night.say(SPEAK[language])
    reply = ""
    for minutes, text in said:
        night.now = EVENING + timedelta(minutes=minutes)
        reply = night.say(text).reply.text
    return night, reply


@pytest.mark.parametrize(
    ("language", "pause", "end", "stopped"),
    [
        ("en", "lunch", "end of shift", "Planting stopped at 3:15 AM."),
        ("es", "a comer", "fin de turno", "Siembra terminada a las 3:15 AM."),
    ],
)
def test_a_shift_that_ends_in_a_pause_ends_planting_where_it_began(
    language: Language, pause: str, end: str, stopped: str
) -> None:
    night, reply = told(language, (60, pause), (95, end))
    assert stopped in reply
    assert night.shift.stood == EVENING + timedelta(minutes=60)


def test_what_is_in_doubt_at_the_end_of_a_pause_ends_where_planting_did() -> None:
    _, reply = told("en", (30, "row five stopped"), (60, "lunch"), (95, "end of shift"))
    assert "to 3:15 AM" in reply


@pytest.mark.parametrize(
    ("language", "said", "answered"),
    [
        ("en", "row five is empty, the rest half", "Rows 1-4 and 6-8: 20 lb left."),
        ("es", "surco cinco vacío, el resto a la mitad", "Surcos 1-4 y 6-8: 20 lb en cada tolva."),
    ],
)
def test_the_rest_is_every_row_but_those_named_beside_it(language: Language, said: str, answered: str) -> None:
    night, reply = told(language, (30, said))
    assert answered in reply
    accounts = night.shift.ledger.accounts
    assert {row: one.level.mass.value for row, one in accounts.items()} == {**dict.fromkeys(range(1, 9), 20), 5: 0}
    assert [row for row, one in accounts.items() if one.level.own] == [5]


def test_the_rest_is_every_row_that_is_not_in_trouble_where_none_is_named_beside_it() -> None:
    night, _ = told("en", (30, "row five stopped"), (31, "the rest half"))
    assert {row for row, one in night.shift.ledger.accounts.items() if one.level.mass.value == 20} == {
        1,
        2,
        3,
        4,
        6,
        7,
        8,
    }


@pytest.mark.parametrize(
    ("language", "size", "done", "left"),
    [
        ("en", "new field West, 40 acres", "fourteen acres done", "24 acres of the field left."),
        ("es", "campo nuevo Poniente, 40 acres", "catorce acres sembrados", "Por sembrar en este campo: 24 acres."),
    ],
)
def test_acres_said_with_another_field_are_its_size(language: Language, size: str, done: str, left: str) -> None:
    half = {"en": "five acres done", "es": "cinco acres sembrados"}[language]
    night, reply = told(language, (60, half), (61, size))
    assert "40 acres" in reply
    assert [one.area.value for one in night.shift.told] == [5]
    entered = night.shift.timeline.planted(night.shift.entered).value
    assert 5 < entered < 5.2
    _, reply = told(language, (60, half), (60, size), (180, done))
    assert left.replace("24", "31") in reply


def test_a_field_whose_size_was_not_said_has_no_acres_left() -> None:
    _, reply = told("en", (60, "five acres done"), (61, "new field West"), (120, "ten acres done"))
    assert reply.startswith("10 acres done in all this shift.")
    assert "left" not in reply


@pytest.mark.parametrize(
    ("language", "said", "unit_said"),
    [("en", "seventy to go", "seventy acres to go"), ("es", "faltan setenta", "quedan setenta acres por sembrar")],
)
def test_what_is_still_to_go_is_taken_from_the_size_of_the_field(language: Language, said: str, unit_said: str) -> None:
    for text in (said, unit_said):
        night, reply = told(language, (75, text))
        assert [one.area.value for one in night.shift.told] == [10]
        assert "70 acres" in reply


@pytest.mark.parametrize(("language", "said"), [("en", "seventy acres to go"), ("es", "faltan setenta acres")])
def test_what_is_to_go_in_a_field_of_unknown_size_is_asked_as_what_is_done(language: Language, said: str) -> None:
    field = {"en": "new field West", "es": "otro campo"}[language]
    night, reply = told(language, (10, field), (75, said))
    assert not night.shift.told
    assert ("Say what is done" if language == "en" else "Diga lo sembrado") in reply


def test_what_is_to_go_in_the_second_field_counts_what_was_done_before_it() -> None:
    night, reply = told("en", (60, "eight acres done"), (60, "new field West, forty acres"), (120, "thirty four to go"))
    assert night.shift.told[-1].area.value == 14
    assert "34 acres of the field left." in reply
    night, _ = told("en", (60, "new field West, forty acres"), (120, "thirty four to go"))
    in_field = night.shift.timeline.between(night.shift.entered, night.shift.last).value
    assert in_field == pytest.approx(6, abs=0.1)


def test_more_to_go_than_the_field_has_or_the_planter_leaves_is_not_kept() -> None:
    for said in ("ninety acres to go", "one acre to go"):
        night, reply = told("en", (60, said))
        assert "Not kept" in reply
        assert not night.shift.told


@pytest.mark.parametrize(
    ("language", "said", "answered"),
    [
        ("en", "everything's fine except row six", "What about row 6?"),
        ("en", "all good but row six", "What about row 6?"),
        ("en", "all good but row nine", "There is no row 9"),
        ("es", "todo bien menos el surco seis", "¿Qué pasa con el surco 6?"),
    ],
)
def test_a_row_that_is_excepted_without_a_word_of_it_is_asked_for_and_nothing_is_good(
    language: Language, said: str, answered: str
) -> None:
    night, reply = told(language, (10, said))
    assert reply.startswith(answered)
    assert all(at < EVENING for at in night.shift.proofs.values())
