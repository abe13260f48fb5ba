"""A golden season, played through the real engine: what the record then says, element by element and to the gram."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
import yaml

from bot.record.application import form
from bot.record.shift_words import account
from engine.dialog.schema.slot_roles import Role
from engine.dialog.turns.elements import FEDERAL
from engine.history.application import Application, applications
from engine.history.stock import stock_changes
from engine.messages import System
from engine.quantities import Measure
from tests.helpers.applying import Talk, zone_of

SEASON: dict[str, Any] = yaml.safe_load((Path(__file__).parent / "season.yaml").read_text(encoding="utf-8"))
CHICAGO = ZoneInfo("America/Chicago")
PLANTERS = [planter["name"] for planter in SEASON["planters"]]
TOLD = {
    "first": ("Terravel 15", "1234-567", "Juan Perez", "A-991", "field corn"),
    "second": ("Grano 20", "77-881", "María Ruiz", "B-112", "maíz"),
}
PLACES = {
    "North field": "Hill County, northeast quarter of section 12",
    "Creek": "Hill County, section 13",
    "Loma alta": "condado de Hill, sección 20",
}


@cache
def played(name: str) -> Talk:
    """Three years of one planter."""
    planter = next(one for one in SEASON["planters"] if one["name"] == name)
    talk = Talk(replace(zone_of(CHICAGO.key), language=planter["language"]))
    for number, (year, told) in enumerate(SEASON["years"].items()):
        hour, minute = map(int, planter["evening"].split(":"))
        evening = datetime(year, 4, 21, hour, minute, tzinfo=CHICAGO)
        values = {
            **told[name],
            **{key: SEASON[key] for key in ("acres", "left", "back")},
            "product": planter["product"],
        }
        for part, at in parts(number == 0, evening):
            talk.say_all([text.format(**values) for text in planter[part]], at)
    return talk


def parts(first: bool, evening: datetime) -> Iterator[tuple[str, datetime]]:
    """What is said, and the instant by which it has been."""
    if first:
        yield "told", evening - timedelta(hours=6)
    yield "delivery", evening - timedelta(hours=3)
    yield "calibrate" if first else "again", evening - timedelta(minutes=30)
    yield "begin" if first else "begin_again", evening + timedelta(minutes=1)
    yield "close" if first else "close_again", evening + timedelta(hours=4, minutes=10)


def records(name: str) -> tuple[Application, ...]:
    return applications(played(name).turns(), CHICAGO, FEDERAL)


@pytest.mark.parametrize("name", PLANTERS)
def test_nothing_of_7_cfr_110_3_is_missing_and_all_is_as_it_was_told(name: str) -> None:
    found = records(name)
    product, registration, applicator, certification, crop = TOLD[name]
    assert found
    for one in found:
        elements = one.elements
        assert elements.missing == ()
        assert (elements.product_name, elements.registration_number) == (product, registration)
        assert (elements.applicator_name, elements.certification_number) == (applicator, certification)
        assert elements.crop_or_site == crop
        assert elements.location == PLACES[str(one.field)]


@pytest.mark.parametrize("name", PLANTERS)
def test_each_night_has_its_acres_and_pounds_also_over_midnight(name: str) -> None:
    found = records(name)
    for year in SEASON["years"]:
        night = [one.elements for one in found if one.elements.applied_on and one.elements.applied_on.year == year]
        acres = sum(one.area.to("acre").value for one in night if one.area)
        pounds = sum(one.total_applied.to("lb").value for one in night if one.total_applied)
        assert SEASON["acres"] <= acres < SEASON["acres"] + 0.5, "what was told, and the minute until the end"
        assert pounds == pytest.approx(8 * (40 - SEASON["left"]))
        days = {one.applied_on for one in night}
        wanted = {date(year, 4, 21)} if name == "first" else {date(year, 4, 21), date(year, 4, 22)}
        assert days == wanted


@pytest.mark.parametrize("name", PLANTERS)
def test_the_books_of_each_lot_close_to_the_gram(name: str) -> None:
    changes = stock_changes(played(name).turns())
    bag, bags, hoppers = Measure(value=50, unit="lb"), 20, 8 * 40
    wanted = Measure(value=bags * bag.value - hoppers + SEASON["back"], unit="lb").to("g").value
    lots = {told[name]["lot"] for told in SEASON["years"].values()}
    last = {one.change.lot: one for one in changes}
    assert set(last) == lots
    for one in last.values():
        lot = one.stock.of(one.change.product, one.change.lot)
        assert abs(lot.on_hand.to("g").value - wanted) < 1
        assert not lot.open


@pytest.mark.parametrize("name", PLANTERS)
def test_what_was_told_once_is_offered_and_filled_in_each_year(name: str) -> None:
    turns = played(name).turns()
    filled = [fact for turn in turns for fact in turn.facts if fact["kind"] == "filled"]
    assert [fact["thing"] for fact in filled].count(str(Role.PRODUCT)) >= len(SEASON["years"])
    state = played(name).assistant.state("c")
    assert state.book.things.names(Role.PRODUCT) == (TOLD[name][0],)
    assert state.dialog is None


@pytest.mark.parametrize("name", PLANTERS)
def test_every_record_has_its_page_with_nothing_boxed_as_missing(name: str) -> None:
    planter = next(one for one in SEASON["planters"] if one["name"] == name)
    told = account(planter["language"], CHICAGO, System.US)
    for one in records(name):
        page = str(form(one, told))
        assert all(word in page for word in (TOLD[name][0], TOLD[name][1], TOLD[name][3], PLACES[str(one.field)]))
