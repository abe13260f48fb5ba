"""Nothing that was said is dropped silently: it goes to its own question, or it is said that it was not taken."""

from __future__ import annotations

import pytest

from engine.messages import Given
from engine.quantities import Measure
from tests.understanding.test_laws import kept, say

ACRES = Measure(value=80, unit="acre")
TEN = Measure(value=10, unit="%")


@pytest.mark.parametrize(
    ("language", "place", "text", "told"),
    [
        ("en", "lot", "lot 447, La Loma, 80 acres", {"lot": "447", "field": "La Loma", "field_area": ACRES}),
        ("es", "lot", "lote 447, La Loma, 80 acres", {"lot": "447", "field": "La Loma", "field_area": ACRES}),
        ("en", "empties", "nine, and shed's locked now", {"empties": 9}),
        ("en", "empties", "14 empties, the leftover's in the lean-to", {"empties": 14, "store": "lean-to"}),
        (
            "en",
            "named",
            "It's Brindlow 10G, a granule, ten percent, and the EPA number is 7719-340.",
            {"product": "Brindlow 10G", "formulation": "granule", "active": TEN, "registration": "7719-340"},
        ),
        (
            "en",
            "new_field",
            "North Bottom, eighty acres of it, goin to corn",
            {"field": "North Bottom", "field_area": ACRES, "crop": "corn"},
        ),
        (
            "en",
            "applicator",
            "that'd be my boy, Curtis Odum, licence 40-7718",
            {"applicator": "Curtis Odum", "certification": "40-7718"},
        ),
        ("es", "bags", "18 costales de 40 libras cada uno", {"bags": 18, "bag": Measure(value=40, unit="lb")}),
        (
            "es",
            "restricted",
            "sí, y hay que usar guantes de nitrilo y lentes",
            {"restricted": "restricted", "protection": "guantes de nitrilo y lentes"},
        ),
    ],
)
def test_each_answer_goes_to_its_own_question(language: str, place: str, text: str, told: dict[str, object]) -> None:
    said = say(language, place, text)
    assert {one.slot: one.value for one in kept(said) if isinstance(one, Given)} == told
    assert said.reading.left == ()


@pytest.mark.parametrize(
    ("language", "place", "text", "left"),
    [
        ("en", "lot", "lot 447, and the co-op wants 5 percent back", ("the co-op wants 5 percent back",)),
        ("en", "bags", "twenty, and the field is Mill Creek", ("the field is Mill Creek",)),
        ("en", "bags", "twenty, Kelbrick 10G", ("Kelbrick 10G",)),
        ("en", "empties", "nine, and they go in the shop", ("they go in the shop",)),
        ("en", "empties", "six on the trailer, lot 5521", ("lot 5521",)),
        ("es", "empties", "nueve, y va en el cuarto de químicos", ("va en el cuarto de químicos",)),
        ("es", "bags", "veinte, y el número es 7712-4", ("el número es 7712-4",)),
    ],
)
def test_what_is_not_taken_is_said(language: str, place: str, text: str, left: tuple[str, ...]) -> None:
    said = say(language, place, text)
    assert said.reading.left == left
    assert all(one in said.turn.reply.text for one in left)


@pytest.mark.parametrize(
    ("language", "place", "text"),
    [
        ("en", "empties", "twelve, and I'm beat"),
        ("en", "registration", "7712-310, that's off the tag"),
        ("en", "tare", "14 grams, it's an old jar lid"),
        ("en", "applicator", "Ana Torres, same as always"),
        ("es", "empties", "doce, y ya me cansé"),
        ("es", "crop", "68 acres son, no 80"),
        ("es", "registration", "es el 66102-5, no espera, 66102-51, se me tapaba con el dedo"),
    ],
)
def test_a_remark_is_passed_over(language: str, place: str, text: str) -> None:
    said = say(language, place, text)
    assert kept(said)
    assert said.reading.left == ()


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("other", ["Becky Fenner", "Luis Salas"])
def test_of_two_people_none_is_kept_unasked(language: str, other: str) -> None:
    form = {
        "en": "Lyle Gorman... he let his lapse, it's got to be {}",
        "es": "Raúl Gorman, se le venció, tiene que ser {}",
    }
    said = say(language, "applicator", form[language].format(other))
    assert not [one for one in kept(said) if isinstance(one, Given) and "Gorman" in str(one.value)]
