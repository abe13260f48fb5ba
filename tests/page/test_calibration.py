"""A whole calibration and a shift by touch, on a phone of 360 by 640, in both languages."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from engine.history.records import calibrations
from engine.history.store.segments import Ending
from tests.helpers.browser import TestPhone
from tests.helpers.page_host import PageHost
from tests.helpers.talking import beginnings
from tests.page.test_calls import ring_key, ring_now

SET_UP = (
    ("How many rows?", "4"),
    ("How far apart", "30"),
    ("dial marked", "0 to 30 by 1"),
    ("one drive", "No"),
    ("How do the meters feed", "Skip"),
    ("Which product", "Skip"),
    ("lowest rate", "2"),
    ("highest rate", "10"),
    ("What rate", "5"),
    ("How fast", "5"),
    ("How long is the measured course", "300"),
    ("Scale or tube", "Scale"),
    ("empty container", "40"),
    ("smallest step", "1"),
)
AJUSTE = (
    ("¿Cuántos surcos?", "4"),
    ("distancia", "76"),
    ("escala", "0 a 30 de 1 en 1"),
    ("una sola transmisión", "No"),
    ("Cómo dosifican", "Saltar"),
    ("Qué producto", "Saltar"),
    ("mínima", "2"),
    ("máxima", "10"),
    ("Qué dosis", "6"),
    ("velocidad", "8"),
    ("recorrido", "100"),
    ("Báscula o tubo", "Báscula"),
    ("recipiente vacío", "40"),
    ("marca la báscula", "1"),
    ("pasadas", "3"),
)


def answered(phone: TestPhone, asked: str, answer: str) -> None:
    """Answer as a hand does: digits on the pad, words typed, all else by its button."""
    phone.asked(asked)
    if answer.replace(".", "").isdigit():
        phone.number(answer)
    elif answer[0].isdigit():
        phone.type(answer)
    else:
        phone.press(answer, "#answers")


def test_a_whole_calibration_by_touch(phone: TestPhone) -> None:
    phone.press("Set up", "#answers")
    for asked, answer in SET_UP:
        answered(phone, asked, answer)
    phone.told("Each row should catch 39.0 g")
    phone.press("Test run", "#answers")
    phone.asked("What are the dials set to?")
    phone.press("For row 1", "#answers")
    expect(phone.page.get_by_role("button", name="Every row")).to_have_attribute("aria-pressed", "true")
    phone.number("12")
    phone.told("Rows 1-4: setting 12")
    phone.number("79")
    phone.told("Row 1, 79 g")
    phone.tile(3).tap()
    expect(phone.tile(3)).to_have_attribute("aria-pressed", "true")
    phone.number("79")
    phone.told("Row 3, 79 g")
    expect(phone.tile(3)).to_have_attribute("aria-label", "Row 3, written, 79 g")
    expect(phone.tile(2)).to_have_class("tile asked")
    phone.page.locator("#undo").tap()
    expect(phone.tile(3)).to_have_class("tile open")
    for row in (2, 3):
        phone.asked(f"Row {row}?")
        phone.number("79")
    phone.press("Course time", "#answers")
    phone.number("41")
    phone.told("Course time: 41 s")
    phone.number("79.5")
    phone.told("On target: rows 1-4")
    phone.press("Done", "#answers")
    phone.asked("What is next?")
    expect(phone.page.locator(".tile.on_target")).to_have_count(4)
    record = calibrations(phone.host.journal.turns("console"))[-1]
    assert record.ending is Ending.FINISHED and record.rows == (1, 2, 3, 4)


@pytest.fixture
def spanish(browser: Browser, tmp_path: Path) -> Iterator[TestPhone]:
    host = PageHost(tmp_path / "registro.db", "es")
    one = TestPhone(browser, host)
    one.pair(host.code())
    yield one
    assert one.troubles == []
    one.close()
    host.close()


@pytest.mark.campaign
def test_the_same_in_spanish_and_the_language_is_changed_by_a_button(spanish: TestPhone) -> None:
    spanish.press("Preparar", "#answers")
    for asked, answer in AJUSTE:
        if answer == "76":
            spanish.asked(asked)
            spanish.page.locator("#answers .unit[aria-label^='Unidad']").tap()
        answered(spanish, asked, answer)
    expect(spanish.page.locator("#answers")).to_contain_text("Prueba")
    assert spanish.page.locator("#undo").inner_text() == "Deshacer"
    spanish.page.locator("#more").tap()
    spanish.press("English", "#sheet")
    expect(spanish.page.locator("#undo")).to_have_text("Undo")
    assert spanish.language == "en"


def test_a_shift_with_a_call_that_is_answered_on_the_phone(phone: TestPhone) -> None:
    host = phone.host
    places = ("prepared", "catching", "finished", "planting")
    host.elsewhere(*(text for place in places for text in beginnings()[place]))
    phone.asked("Next look")
    phone.tile(5).tap()
    phone.press("stopped", "#sheet")
    phone.told("Row 5 stopped.")
    expect(phone.tile(5)).to_have_class("tile down")
    phone.tile(5).tap()
    phone.press("runs again", "#sheet")
    phone.told("Row 5 feeding again.")
    ring_now(host.record)
    band = phone.page.locator(".call")
    expect(band).to_contain_text("Look at the hoppers")
    assert phone.page.title().startswith("● Call 1")
    assert int(phone.page.locator("body").get_attribute("data-rang") or 0) == 1
    phone.press("All good", "#calls")
    expect(band).to_have_count(0)
    assert host.heard()[-1] == "all good" and ring_key(host) == ""
    assert phone.page.title() == "Rowhand"
    phone.press("Done so far", "#answers")
    phone.number("3")
    phone.asked("more than this planter can do")
    phone.press("No", "#answers")
    phone.asked("Next look")
    ring_now(host.record)
    expect(band).to_have_count(1)
    host.elsewhere("all good")
    expect(band).to_have_count(0)
