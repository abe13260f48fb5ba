"""Buttons: one tap answers, the keyboard goes, a second tap does nothing, another button offers the change."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest

from engine.assistant import Assistant
from engine.crew.roles import PersonRole
from engine.database import Database
from engine.history.store.journal import Journal
from engine.messages import LANGUAGES, Language
from tests.helpers.crew import joined
from tests.helpers.telegram_server import Person, TelegramServer

pytestmark = pytest.mark.usefixtures("running")
BEFORE = ("skip", "skip", "five pounds an acre", "ten pounds an acre", "eight point seven pounds an acre")


async def say(person: Person, *texts: str) -> str:
    for text in texts:
        person.says(text)
        answer = (await person.receives()).text
    return answer


async def asked_how_it_is_measured(person: Person) -> None:
    """A set-up up to the question whether a scale or a tube is used."""
    await say(person, "set up", "two", "thirty inches", "zero to thirty by one", "no", *BEFORE)
    await say(person, "five miles an hour", "three hundred feet")
    assert person.received[-1].buttons == [["Scale"], ["Tube"]]


async def buttons(person: Person, *wanted: list[str]) -> None:
    """Wait until these keyboards stand in the chat and no others."""
    for _ in range(500):
        if person.live == list(wanted):
            return
        await asyncio.sleep(0.02)
    raise AssertionError(person.live)


async def toast(server: TelegramServer, query: str) -> str:
    while query not in server.account.answered:
        await asyncio.sleep(0.01)
    return str(server.account.answered[query].get("text", ""))


def value(database: Database, person: Person, slot: str) -> Any:
    dialog = Assistant(database).state(f"telegram:{person.id}").dialog
    return dialog.values.get(slot) if dialog else None


def data_of(person: Person, label: str) -> str:
    for sent in reversed(person.received):
        for row in (sent.markup or {}).get("inline_keyboard", []):
            for one in row:
                if one["text"] == label:
                    return str(one["callback_data"])
    raise AssertionError(label)


async def test_a_keyboard_goes_once_its_question_is_answered(server: TelegramServer) -> None:
    by_tap, by_words = server.user(601), server.user(602)
    for person in (by_tap, by_words):
        await asked_how_it_is_measured(person)
        await buttons(person, ["Scale", "Tube"])
    by_tap.presses("Scale")
    await by_tap.receives()
    await say(by_words, "scale")
    for person in (by_tap, by_words):
        await buttons(person)


async def test_a_second_tap_of_the_same_button_does_nothing(server: TelegramServer, database: Database) -> None:
    person = server.user(603)
    await asked_how_it_is_measured(person)
    under, data = person.received[-1].message_id, data_of(person, "Scale")
    first, second = person.calls_back(data, under), person.calls_back(data, under)
    assert "Measured by: Scale" in (await person.receives()).text
    assert await toast(server, first) == await toast(server, second) == ""
    assert "smallest step" in await say(person, "zero")
    assert len(person.received) == person.seen
    heard = [turn.heard for turn in Journal(database).turns("telegram:603")]
    assert heard[-2:] == ["scale", "zero"]


async def test_another_button_offers_the_change_and_makes_it(server: TelegramServer, database: Database) -> None:
    person = server.user(604)
    await asked_how_it_is_measured(person)
    under, other = person.received[-1].message_id, data_of(person, "Tube")
    person.presses("Scale")
    await person.receives()
    person.calls_back(other, under)
    offer = await person.receives()
    assert (offer.text, offer.buttons) == ("Change it to Tube?", [["Yes, change"], ["No"]])
    assert value(database, person, "catch_by") == "weigh"
    person.presses("No")
    while len(server.account.answered) < 3:
        await asyncio.sleep(0.01)
    assert value(database, person, "catch_by") == "weigh"
    person.calls_back(other, under)
    await person.receives()
    person.presses("Yes, change")
    assert "Measured by: Tube" in (await person.receives()).text
    assert value(database, person, "catch_by") == "tube"
    await buttons(person)


async def test_what_was_said_since_stays_when_an_older_answer_is_changed(
    server: TelegramServer, database: Database
) -> None:
    person = server.user(605)
    await say(person, "set up", "two", "thirty inches", "zero to thirty by one")
    under, other = person.received[-1].message_id, data_of(person, "Yes")
    person.presses("No")
    await person.receives()
    await say(person, "skip", "skip")
    person.calls_back(other, under)
    assert "Change it to Yes?" in (await person.receives()).text
    person.presses("Yes, change")
    answer = (await person.receives()).text
    kept = {one: value(database, person, one) for one in ("rows", "spacing")}
    assert (str(kept["rows"]), str(kept["spacing"])) == ("2", "30 in"), answer


async def test_a_question_that_was_asked_back_is_not_offered_again(server: TelegramServer, database: Database) -> None:
    """What a no dropped does not come back by the other button; a toast says what was answered."""
    person = server.user(606)
    await say(person, "set up", "cancel")
    under, yes = person.received[-1].message_id, data_of(person, "Yes")
    person.presses("No")
    await person.receives()
    assert await toast(server, person.calls_back(yes, under)) == "Answered: No. To change it, say it anew."
    assert Assistant(database).state("telegram:606").dialog is not None
    assert len(person.received) == person.seen


async def test_a_button_of_the_same_question_asked_again_still_answers(server: TelegramServer) -> None:
    person = server.user(607)
    await asked_how_it_is_measured(person)
    under, data = person.received[-1].message_id, data_of(person, "Tube")
    await say(person, "status")
    person.calls_back(data, under)
    assert "Measured by: Tube" in (await person.receives()).text


@pytest.mark.parametrize("language", LANGUAGES)
async def test_where_nothing_is_open_the_ways_on_are_buttons(server: TelegramServer, language: Language) -> None:
    person = server.user(608 + LANGUAGES.index(language), language=language)
    person.says("/start")
    first = await person.receives()
    person.says("?!")
    again = await person.receives()
    assert first.buttons == again.buttons and len(first.buttons) == 2
    person.presses(first.buttons[1][0])
    assert "?" in (await person.receives()).text
    await buttons(person)


async def test_both_phones_of_a_conversation_lose_the_buttons(server: TelegramServer, database: Database) -> None:
    first = joined(server, database, 611, "north", PersonRole.OPERATOR)
    await say(first, "add a phone")
    code = first.received[-1].text.split("start=")[1].split()[0]
    second = server.user(612)
    await say(second, f"/start {code}")
    first.says("set up")
    for text in ("two", "thirty inches", "zero to thirty by one"):
        await first.receives()
        await second.receives()
        first.says(text)
    await first.hears("drive")
    await second.hears("drive")
    await buttons(second, ["Yes", "No"])
    second.presses("No")
    await buttons(first, ["Roll", "Agitator", "Gravity"])
    await buttons(second, ["Roll", "Agitator", "Gravity"])


# ---- editing


async def test_the_last_catch_of_a_run_is_corrected_by_editing(server: TelegramServer, database: Database) -> None:
    """The run closes with it; the edit does what "scratch that" and saying it anew does."""
    person = server.user(621)
    await say(person, "set up", "two", "thirty inches", "zero to thirty by one", "no", *BEFORE)
    await say(person, "five miles an hour", "three hundred feet", "scale", "zero", "one gram", "test run")
    await say(person, "all at twelve", "forty one seconds", "row one sixty eight grams")
    last = person.says("row two fifty grams")
    assert "50 g" in (await person.receives()).text
    person.edits(last, "row two fifty two grams")
    assert "52 g" in (await person.receives()).text
    dialog = Assistant(database).state("telegram:621").dialog
    assert dialog is not None and dialog.run == 2
    assert [str(mass) for mass in dialog.runs[0]["catch_mass"].values()] == ["68 g", "52 g"]


async def test_rows_told_together_are_edited_together_and_nothing_before_them(
    server: TelegramServer, database: Database
) -> None:
    person = server.user(622)
    await say(person, "set up", "four", "thirty inches", "zero to thirty by one", "no", *BEFORE)
    await say(person, "five miles an hour", "three hundred feet", "scale", "zero", "one gram", "test run")
    both = person.says("all at twelve")
    await person.receives()
    person.edits(both, "all at thirteen")
    assert "13" in (await person.receives()).text
    dialog = Assistant(database).state("telegram:622").dialog
    assert dialog is not None
    assert {str(one) for one in dialog.rows["dial_setting"].values()} == {"13"}


async def test_an_edit_under_an_open_question_takes_only_its_own(server: TelegramServer, database: Database) -> None:
    person = server.user(623)
    await say(person, "set up", "four", "thirty inches", "zero to thirty by one", "no", *BEFORE)
    await say(person, "five miles an hour", "three hundred feet", "scale", "zero", "one gram", "test run")
    await say(person, "all at twelve", "forty one seconds", "row one sixty eight grams", "row one sixty one grams")
    catch = person.says("row two sixty six grams")
    assert "Row 2, 66 g" in (await person.receives()).text
    person.edits(catch, "row two sixty seven grams")
    assert "Row 1 was 68 g" in (await person.receives()).text
    dialog = Assistant(database).state("telegram:623").dialog
    assert dialog is not None
    assert {row: str(mass) for row, mass in dialog.rows["catch_mass"].items()} == {1: "68 g", 2: "67 g"}
