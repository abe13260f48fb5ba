"""Application records, element by element, from nights that were really said.

Elements: 7 CFR 110.3 (federal recordkeeping for certified private applicators): name and EPA registration number of the
product, total amount, location, size of the area, crop or site, month, day and year, name and certification number of
the certified applicator; recorded within 14 days, kept for two years.
"""

from __future__ import annotations

import csv
import io
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from engine.dialog.facts.applied import Open
from engine.dialog.turns.elements import FEDERAL, Element, RecordTime
from engine.history.application import Application, applications
from engine.history.export import written
from engine.history.shift_export import application_lines
from engine.quantities import Measure
from tests.helpers.applying import (
    APPLICATOR,
    EVENING,
    NORTH,
    PRODUCT,
    SOUTH,
    Talk,
    loading,
    night,
    prepared,
    told,
)  # fmt: skip

CHICAGO = ZoneInfo("America/Chicago")
ENDED = ((240, "twenty acres done"), (240, "end of shift"), (241, "all twenty seven pounds left"), (242, "done"))
"""Twenty acres in four hours; 8 x (40 - 27) = 104 lb."""

PUT_AWAY = ("yes", "yes", "skip", "skip", "skip", "none used")
"""Container, lock, and what else is asked when the rest is put away."""


def records(talk: Talk, within: RecordTime = FEDERAL) -> tuple[Application, ...]:
    return applications(talk.turns(), CHICAGO, within)


def pounds(found: Application) -> float | None:
    total = found.elements.total_applied
    return None if total is None else total.to("lb").value


def acres(found: Application) -> float:
    assert found.elements.area is not None
    return found.elements.area.to("acre").value


def planted(*said: tuple[float, str], talk: Talk | None = None, **how: str) -> tuple[Application, ...]:
    talk = talk or told()
    night(talk, said, before=loading(**how))
    return records(talk)


def test_each_element_of_the_rule_comes_from_what_was_told() -> None:
    (found,) = planted(*ENDED)
    assert found.elements.missing == ()
    assert found.elements.product_name == "Terravel 15"
    assert found.elements.registration_number == "1234-567"
    assert pounds(found) == pytest.approx(8 * (40 - 27))
    assert found.elements.location == "Hill County, northeast quarter of section 12"
    assert acres(found) == pytest.approx(20)
    assert found.elements.crop_or_site == "field corn"
    assert found.elements.applied_on == date(2026, 4, 21)
    assert (found.elements.applicator_name, found.elements.certification_number) == ("Juan Perez", "A-991")
    assert not found.applied.by_clock and not found.applied.shared
    assert (found.last_day, found.elements.keep_until) == (date(2026, 5, 5), date(2028, 4, 21))


def test_what_is_good_practice_stands_beside_them() -> None:
    (found,) = planted(*ENDED)
    assert (found.applied.since, found.applied.until) == (EVENING, minute(240))
    assert (found.field, found.applied.lots, found.restricted) == ("North field", ("447",), True)
    assert found.applied.rate.to("lb/acre").value == pytest.approx(5)
    assert found.reentry_until == minute(240) + timedelta(hours=48)
    test = found.calibration
    assert test is not None and (test.run, test.on_target, test.rows) == (1, 8, 8)
    assert test.target is not None and test.target.to("g").value == pytest.approx(39.05, abs=0.01)
    assert (test.label_low, test.label_high) == (Measure(value=2, unit="lb/acre"), Measure(value=10, unit="lb/acre"))


def minute(number: float) -> datetime:
    return EVENING + timedelta(minutes=number)


@pytest.mark.parametrize(
    ("without", "missing"),
    [
        (PRODUCT, {"registration_number"}),
        (NORTH, {"location", "crop_or_site"}),
        (APPLICATOR, {"applicator_name", "certification_number"}),
    ],
)
def test_what_was_not_told_is_named(without: tuple[str, ...], missing: set[str]) -> None:
    """The name of a field is no location."""
    talk = Talk()
    for dialog in (PRODUCT, NORTH, APPLICATOR):
        talk.say_all(dialog if dialog is not without else (), EVENING - timedelta(hours=6))
    talk.say_all(prepared(known=without is not PRODUCT), EVENING - timedelta(minutes=20))
    (found,) = planted(*ENDED, talk=talk, **({"size": "forty acres"} if without is NORTH else {}))
    assert set(found.elements.missing) == missing
    assert found.field == "North field"


def test_a_product_without_a_name_and_a_field_without_one() -> None:
    talk = Talk()
    talk.say_all(prepared(None), EVENING - timedelta(minutes=20))
    (found,) = planted(*ENDED, talk=talk, field="skip", size="skip")
    assert set(found.elements.missing) == {
        "product_name", "registration_number", "location", "crop_or_site", "applicator_name", "certification_number",
    }  # fmt: skip


def test_what_is_told_afterwards_completes_it_and_what_is_corrected_counts() -> None:
    talk = Talk()
    talk.say_all(prepared(known=False), EVENING - timedelta(minutes=20))
    planted(*ENDED, talk=talk, size="skip")
    assert set(records(talk)[0].elements.missing) == {*Element} - {
        Element.PRODUCT, Element.TOTAL, Element.AREA, Element.DATE,
    }  # fmt: skip
    days = EVENING + timedelta(days=3)
    talk.say_all([*PRODUCT, *NORTH, *APPLICATOR], days)
    assert records(talk)[0].elements.missing == ()
    wrong = ["new field", "North field", "no", "correct crop", "popcorn", "right"]
    talk.say_all(wrong, days + timedelta(days=1))
    assert records(talk)[0].elements.crop_or_site == "popcorn"
    talk.say_all(["applicator", "Maria Lopez", "B-2", "yes"], days + timedelta(days=365))
    assert records(talk)[0].elements.applicator_name == "Juan Perez"


def test_two_fields_are_two_records_and_what_was_weighed_between_them_is_theirs() -> None:
    said = ((120, "ten acres done"), (120, "all thirty three pounds left"), (121, "field is South"), *ENDED)
    north, south = planted(*said)
    assert (north.field, south.field) == ("North field", "South")
    assert (pounds(north), pounds(south)) == (pytest.approx(56), pytest.approx(48))
    assert acres(north) + acres(south) == pytest.approx(20)
    assert acres(north) == pytest.approx(10, rel=0.02)
    assert not north.applied.by_clock and not north.applied.shared and not south.applied.shared
    assert north.elements.missing == ()
    assert south.elements.missing == ("location", "crop_or_site")


def test_what_was_weighed_over_two_fields_is_shared_by_area_and_said_to_be_an_estimate() -> None:
    north, south = planted((120, "field is South"), *ENDED)
    assert north.applied.shared and south.applied.shared and north.applied.by_clock
    assert pounds(north) == pytest.approx(104 * acres(north) / 20)
    assert pounds(north) is not None and pounds(south) == pytest.approx(104 - (pounds(north) or 0))


def test_of_two_products_between_two_weighings_nothing_is_divided() -> None:
    first, second = planted((120, "product is Other"), *ENDED)
    assert (first.elements.product_name, second.elements.product_name) == ("Terravel 15", "Other")
    assert first.applied.open is second.applied.open is Open.MIXED
    assert "total_applied" in first.elements.missing and "total_applied" in second.elements.missing
    assert "registration_number" not in first.elements.missing and "registration_number" in second.elements.missing


def test_a_night_over_midnight_is_two_records_of_one_field() -> None:
    talk = told()
    late = EVENING + timedelta(hours=3)
    night(talk, ENDED, begun=late, before=loading())
    first, second = records(talk)
    assert (first.elements.applied_on, second.elements.applied_on) == (date(2026, 4, 21), date(2026, 4, 22))
    midnight = datetime(2026, 4, 22, 5, tzinfo=UTC)
    assert first.applied.until == second.applied.since == midnight
    assert acres(first) + acres(second) == pytest.approx(20)
    assert first.applied.by_clock and first.applied.shared
    assert (pounds(first) or 0) + (pounds(second) or 0) == pytest.approx(104)
    assert first.reentry_until == second.reentry_until == late + timedelta(hours=48, minutes=240)
    assert (first.last_day, second.last_day) == (date(2026, 5, 5), date(2026, 5, 6))


def test_two_shifts_on_a_field_on_one_day_are_one_record() -> None:
    talk = told()
    morning = datetime(2026, 4, 22, 12, tzinfo=UTC)
    for begun in (morning, morning + timedelta(hours=6)):
        night(talk, ENDED, begun=begun, before=loading())
    (found,) = records(talk)
    assert (acres(found), pounds(found)) == (pytest.approx(40), pytest.approx(208))
    assert found.applied.since == morning


def test_what_was_put_back_and_agrees_makes_the_amount() -> None:
    """320 lb loaded, nothing told of the hoppers, 80 lb put back: 240 lb went out."""
    said = ((530, "forty seven acres done"), (530, "end of shift"), (531, "done"), (532, "put away"))
    talk, noon = told(), datetime(2026, 4, 22, 17, tzinfo=UTC)
    night(talk, said, begun=noon, before=loading())
    (found,) = records(talk)
    assert found.applied.open is Open.NOT_LEFT and "total_applied" in found.elements.missing
    replies = talk.say_all(("eighty pounds", *PUT_AWAY), noon + timedelta(hours=10))
    assert "That agrees with the books" in replies[0]
    (found,) = records(talk)
    assert pounds(found) == pytest.approx(240)
    assert not found.applied.shared


def test_what_was_put_back_and_does_not_agree_leaves_an_estimate() -> None:
    said = ((240, "twenty acres done"), (240, "end of shift"), (241, "done"), (242, "put away"), (243, "eighty pounds"))
    (found,) = planted(*said, *((244 + number, text) for number, text in enumerate(PUT_AWAY)))
    assert pounds(found) == pytest.approx(240)
    assert found.applied.shared


def test_what_nobody_weighed_going_in_leaves_the_amount_open() -> None:
    (found,) = planted((120, "refilled all"), (121, "on top"), *ENDED)
    assert found.applied.open is Open.UNWEIGHED
    assert found.elements.missing == ("total_applied",)


def test_an_area_by_the_clock_is_an_estimate() -> None:
    (found,) = planted((240, "end of shift"), (241, "all twenty seven pounds left"), (242, "done"))
    assert found.applied.by_clock and not found.applied.shared


@pytest.mark.parametrize("answer", ["I do not know", "exit"])
def test_a_lot_is_no_answer_that_is_none(answer: str) -> None:
    talk = told()
    reply = talk.say_all(["shift", answer], EVENING)[-1]
    assert f"Lot: {answer}" not in reply


@pytest.mark.parametrize("before", [["new field", "West", "skip"], ["new field", "West", "skip", "corn"], ["product"]])
@pytest.mark.parametrize("answer", ["I do not know", "exit"])
def test_nor_is_a_crop_a_location_or_a_product(before: list[str], answer: str) -> None:
    talk = Talk()
    reply = talk.say_all([*before, answer], EVENING)[-1]
    assert f": {answer}." not in reply


def test_a_state_that_asks_for_it_in_hours() -> None:
    talk = told()
    night(talk, ENDED, before=loading())
    within = RecordTime(hours=24)
    (found,) = records(talk, within)
    assert within.last(found.applied.since, found.applied.until, CHICAGO) == minute(240) + timedelta(hours=24)
    (days,) = records(talk, RecordTime(days=3))
    assert days.last_day == date(2026, 4, 24)


def test_the_table_has_number_and_unit_apart_and_says_what_is_an_estimate() -> None:
    talk = told()
    night(talk, ((120, "field is South"), *ENDED), before=loading())
    lines = list(csv.DictReader(io.StringIO(written(application_lines(records(talk))))))
    assert [line["field"] for line in lines] == ["North field", "South"]
    for line in lines:
        assert float(line["total_applied"]) > 0 and line["total_applied_unit"] == "lb"
        assert float(line["area"]) > 0 and line["area_unit"] == "acre"
        assert (line["area_is"], line["total_is"]) == ("estimate", "estimate")
    assert (lines[0]["missing"], lines[1]["missing"]) == ("", "location; crop_or_site")
    assert (lines[0]["record_by"], lines[0]["keep_until"]) == ("2026-05-05", "2028-04-21")


def test_a_field_called_otherwise_later_keeps_its_record() -> None:
    talk = told()
    night(talk, ENDED, before=loading())
    talk.say_all(["rename", "North field", "North Forty"], EVENING + timedelta(days=1))
    (found,) = records(talk)
    assert (found.field, found.elements.missing) == ("North Forty", ())


def test_the_second_field_is_known_by_the_name_it_gets_later() -> None:
    talk = told()
    talk.say_all(SOUTH, EVENING - timedelta(minutes=40))
    said = ((120, "another field"), (125, "South"), *ENDED)
    north, south = planted(*said, talk=talk)
    assert (south.field, south.elements.location) == ("South", "Hill County, section 13")
    assert north.applied.until == minute(120)
