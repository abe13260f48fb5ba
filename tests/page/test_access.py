"""For every hand and eye: names, sizes to hit, contrast by day, by night and in grey, nothing cut at 320 px."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from bot.page.visitors.phones import PhoneRole
from tests.helpers.browser import TestPhone
from tests.helpers.page_host import PageHost
from tests.helpers.talking import beginnings

LEAST_HIT = 56
LEAST_CONTRAST, LEAST_LARGE = 4.5, 3.0
"""WCAG 2.2, success criterion 1.4.3: text, and text from 24 px on or from 18.66 px on where it is bold."""

LOOK = (Path(__file__).parent / "look.js").read_text(encoding="utf-8")
"""Everything that can be seen and touched now, as it was laid out and painted."""
Colour = list[int]


def luminance(colour: Colour) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    parts = [one / 255 for one in colour[:3]]
    linear = [one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: Colour, other: Colour) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def grey(colour: Colour) -> Colour:
    """As a screen without colour shows it."""
    value = round(0.2126 * colour[0] + 0.7152 * colour[1] + 0.0722 * colour[2])
    return [value] * 3


def faults(phone: TestPhone) -> list[str]:
    """All that is wrong with what is shown now."""
    seen = phone.page.evaluate(LOOK)
    found = [f"no name: {one['what']}" for one in seen["controls"] if not one["name"]]
    found += [
        f"small, {one['width']:.0f} by {one['height']:.0f}: {one['what']}"
        for one in seen["controls"]
        if min(one["width"], one["height"]) < LEAST_HIT - 0.5
    ]
    for one in seen["texts"]:
        large = one["size"] >= 24 or (one["bold"] and one["size"] >= 18.66)
        least = LEAST_LARGE if large else LEAST_CONTRAST
        for ink, ground in ((one["ink"], one["ground"]), (grey(one["ink"]), grey(one["ground"]))):
            if contrast(ink, ground) < least:
                found.append(f"contrast {contrast(ink, ground):.1f}: {one['text']}")
    assert len(seen["controls"]) > 3 and len(seen["texts"]) > 4
    return found + [f"cut: {text}" for text in seen["cut"]] + (["wider than the screen"] if seen["wide"] > 0 else [])


def test_the_check_finds_what_is_wrong(phone: TestPhone) -> None:
    phone.asked("What is next?")
    assert faults(phone) == []
    phone.page.evaluate("""() => {
        const one = document.createElement('button');
        one.style.minHeight = one.style.minWidth = '0'; one.style.width = one.style.height = '20px';
        at = document.getElementById('answers'); at.append(one);
        document.getElementById('question').style.color = '#bbbbbb';
    }""")
    wrong = " ".join(faults(phone))
    assert "no name" in wrong and "small, " in wrong and "contrast" in wrong


LONG = pytest.mark.campaign


@pytest.fixture(
    params=[
        (320, 568, "dark"),
        pytest.param((320, 568, "light"), marks=LONG),
        pytest.param((768, 1024, "light"), marks=LONG),
    ],
    ids=str,
)
def looked(request: pytest.FixtureRequest, browser: Browser, host: PageHost) -> Iterator[TestPhone]:
    width, height, scheme = request.param
    one = TestPhone(browser, host, width=width, height=height, dark=scheme == "dark")
    yield one
    assert one.troubles == []
    one.close()


def test_every_place_of_the_page_can_be_read_and_hit(looked: TestPhone) -> None:
    host, found = looked.host, []
    looked.page.goto(f"{host.address}/pair")
    assert looked.page.locator("main").count() == 1
    looked.pair(host.code())

    def look(where: str) -> None:
        found.extend(f"{where}: {one}" for one in faults(looked))

    looked.asked("What is next?")
    look("begin")
    host.elsewhere(*beginnings()["prepared"][:6])
    looked.asked("Which product")
    look("name")
    host.elsewhere(*beginnings()["prepared"][6:], *beginnings()["catching"])
    looked.asked("Row 1?")
    look("catch")
    host.elsewhere(*beginnings()["caught"])
    looked.asked("Run 2")
    look("verdict")
    looked.page.locator("#more").tap()
    look("more")
    looked.page.locator("#more").tap()
    host.elsewhere(*beginnings()["finished"], *beginnings()["planting"], "row five stopped")
    looked.told("Row 5 stopped")
    look("shift")
    looked.tile(5).tap()
    look("row")
    host.elsewhere("español")
    expect(looked.page.locator("html")).to_have_attribute("lang", "es")
    looked.page.locator("#sheet > button").last.tap()
    look("spanish")
    assert found == []


def test_replies_are_said_by_a_reader_of_the_screen_and_calls_at_once(phone: TestPhone) -> None:
    phone.asked("What is next?")
    assert phone.page.locator("#told").get_attribute("aria-live") == "polite"
    assert phone.page.locator("#calls").get_attribute("role") == "alert"
    assert phone.page.locator("#reach").get_attribute("role") == "status"
    tree = phone.page.locator("body").aria_snapshot()
    assert 'button "Set up"' in tree and 'heading "What is next?"' in tree and 'button "Undo"' in tree


def test_a_foreman_sees_the_planter_and_nothing_to_say(browser: Browser, host: PageHost) -> None:
    host.elsewhere(*(text for place in ("prepared", "catching", "caught") for text in beginnings()[place]))
    one = TestPhone(browser, host)
    one.pair(host.code(PhoneRole.FOREMAN))
    card = one.page.locator(".card")
    expect(card).to_contain_text("Test run, since")
    expect(card.locator(".tile")).to_have_count(8)
    for name in ("#undo", "#speak", "#type"):
        expect(one.page.locator(name)).to_be_hidden()
    assert [fault for fault in faults(one) if "small" not in fault] == []
    host.elsewhere("what is left")
    expect(card).to_contain_text("what is left")
    one.close()
