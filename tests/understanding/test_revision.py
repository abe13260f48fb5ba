"""Earlier answers put right beside others: each goes to its own question, and what is denied is kept nowhere."""

from __future__ import annotations

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from engine.messages import Entry, Given
from engine.quantities import Measure
from tests.understanding.test_laws import LANGUAGES, kept, say

HOURS = st.sampled_from([4, 12, 24, 36, 72])
SHARES = st.sampled_from([2, 5, 10, 12, 20, 25])
BESIDE = {
    "en": (
        "{0} hours, and the percent is {1} not {2}",
        "{0}, and the percent I gave is wrong, {1} not {2}",
        "{0} hours. oh and make that percent {1}, not {2}",
    ),
    "es": (
        "{0} horas, y el porcentaje es {1} no {2}",
        "{0} horas y el activo está mal, es {1} y no {2}",
        "{0}, y el porcentaje no era {2}, era {1}",
    ),
}
ALL_BUT = {
    "en": (
        "all good but the percent, it's {0} not {1}",
        "percent's wrong, should be {0}",
        "rest is fine, percent is {0}",
    ),
    "es": (
        "todo bien menos el porcentaje, que es {0}",
        "el porcentaje está mal, es {0}",
        "el porcentaje es {0} y no {1}",
    ),
}
DENIED = {"en": "not restricted", "es": "no es restringido"}


def values(entries: list[Entry]) -> dict[str, object]:
    return {one.slot: one.value for one in entries if isinstance(one, Given)}


@pytest.mark.parametrize("language", LANGUAGES)
@given(hours=HOURS, right=SHARES, wrong=SHARES, form=st.integers(0, 2))
@settings(max_examples=12, deadline=None)
def test_each_goes_to_its_own_question(language: str, hours: int, right: int, wrong: int, form: int) -> None:
    assume(len({hours, right, wrong}) == 3)
    text = BESIDE[language][form].format(hours, right, wrong)
    told = values(kept(say(language, "reentry", text)))
    assert told == {"reentry": Measure(value=hours, unit="h"), "active": Measure(value=right, unit="%")}, text


@pytest.mark.parametrize("language", LANGUAGES)
@given(right=SHARES, wrong=SHARES, form=st.integers(0, 2))
@settings(max_examples=12, deadline=None)
def test_who_puts_one_thing_right_has_not_said_yes_to_all(language: str, right: int, wrong: int, form: int) -> None:
    assume(right != wrong)
    text = ALL_BUT[language][form].format(right, wrong)
    assert values(kept(say(language, "right", text))) == {"active": Measure(value=right, unit="%")}, text


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_denied_answer_is_not_kept(language: str) -> None:
    told = values(kept(say(language, "restricted", DENIED[language])))
    assert told in ({"restricted": "general"}, {})


@pytest.mark.parametrize(
    ("language", "place", "text", "told"),
    [
        ("en", "right", "reg number ends in 66, 7045-66. rest is okay", {"registration": "7045-66"}),
        ("es", "right", "el registro acaba en 65, no en 56: 1234-65", {"registration": "1234-65"}),
        ("en", "crop", "seed corn and the acres is 76 not 80", {"crop": "seed corn", "field_area": 76.0}),
        ("es", "bags", "el lote acaba con Z no con S, es P90Z, y son 12", {"lot": "P90Z", "bags": 12}),
        (
            "en",
            "new_field",
            "Mill Creek, 80 acres of soybeans",
            {"field": "Mill Creek", "field_area": 80.0, "crop": "soybeans"},
        ),
        (
            "en",
            "delivered",
            "30 sacks of Kelbrick 10G, lot 55-A",
            {"bags": 30, "product": "Kelbrick 10G", "lot": "55-A"},
        ),
    ],
)
def test_several_in_one_breath(language: str, place: str, text: str, told: dict[str, object]) -> None:
    found = values(kept(say(language, place, text)))
    assert {slot: one.value if isinstance(one, Measure) else one for slot, one in found.items()} == told


@pytest.mark.parametrize(
    ("language", "place", "text", "told"),
    [
        ("en", "location", "SW 9-104-33 Benning county, an its soybeans not corn", {"crop": "soybeans"}),
        ("es", "location", "mapa 9, y el cultivo cambialo a sorgo", {"crop": "sorgo"}),
        ("en", "active", "20, and take that formulation back to pellet, not granule", {"formulation": "pellet"}),
        ("es", "active", "cinco por ciento, la formulación no es granulado, dice pellets", {"formulation": "pellets"}),
        ("en", "formulation", "fine granules. and the number was 2218-64 not 2218-46", {"registration": "2218-64"}),
        (
            "en",
            "registration",
            "hold up I said the name wrong, its Dellmark 5G. number is 4451-29",
            {"product": "Dellmark 5G"},
        ),
        ("es", "right", "está mal el nombre, es Vallegrano 10G y es de uso general", {"product": "Vallegrano 10G"}),
        ("en", "certification", "KX-5503, and spell the name Jorgen Hald with a J", {"applicator": "Jorgen Hald"}),
        (
            "es",
            "certification",
            "LC 2218, y el apellido es Zubeldía con zeta, Marcos Zubeldía",
            {"applicator": "Marcos Zubeldía"},
        ),
    ],
)
def test_what_was_told_is_put_right_beside_an_answer(
    language: str, place: str, text: str, told: dict[str, str]
) -> None:
    found = values(kept(say(language, place, text)))
    assert told.items() <= found.items()
    assert len(found) > 1


BEFORE = {
    "en": ("it was {0} hours, I said {1} before", "gloves, and it was {0} hours, earlier I told you {1} hours"),
    "es": ("eran {0} horas, te dije {1} antes", "guantes, y eran {0} horas, antes le dije {1} horas"),
}


@pytest.mark.parametrize(("language", "said"), [(code, one) for code in LANGUAGES for one in BEFORE[code]])
def test_what_was_told_before_is_not_what_is_meant_now(language: str, said: str) -> None:
    entries = say(language, "protection", said.format(72, 4)).reading.entries
    assert values([*entries])["reentry"] == Measure(value=72, unit="h")


HANGING = {
    "en": ("the bracket on 7 is hanging by one bolt", "bracket on 7 has one bolt missing"),
    "es": ("el soporte del 7 cuelga de un tornillo", "al soporte del 7 le falta 1 tornillo"),
}


@pytest.mark.parametrize(("language", "said"), [(code, one) for code in LANGUAGES for one in HANGING[code]])
def test_a_number_of_bolts_is_no_row(language: str, said: str) -> None:
    rows = {one.row for one in say(language, "check", said).reading.entries if isinstance(one, Given)}
    assert rows <= {7}
