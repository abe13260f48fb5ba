"""Talking in a chat: typed words, buttons, corrections by editing, and what is not understood."""

from __future__ import annotations

import asyncio
import io

import pytest
from PIL import Image

from bot.telegram.texts import ChatTexts
from engine.assistant import Assistant
from engine.data.forms import load_forms
from engine.database import Database
from engine.dialog.facts.state import ConversationState
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.entries.strict_reader import read
from engine.expectation import Expectation
from engine.history.store.journal import Journal
from engine.messages import LANGUAGES, Commanded, Language
from engine.queues.inbox import Inbox
from tests.helpers.telegram_server import Person, TelegramServer
from tests.helpers.turns import utterance

_PICTURE = io.BytesIO()
Image.new("RGB", (40, 30)).save(_PICTURE, "PNG")
PIXEL = _PICTURE.getvalue()
pytestmark = pytest.mark.usefixtures("running")


async def say(person: Person, *texts: str) -> str:
    """Say each text after the answer to the one before; the last answer."""
    for text in texts:
        person.says(text)
        answer = (await person.receives()).text
    return answer


async def test_a_set_up_by_text_and_buttons_to_the_target(server: TelegramServer, database: Database) -> None:
    person = server.user(41)
    person.says("/start")
    assert "set up" in (await person.receives()).text
    await say(person, "set up", "two", "thirty inches", "zero to thirty by one")
    assert person.received[-1].buttons == [["Yes"], ["No"]]
    person.presses("No")
    assert "meters" in (await person.receives()).text
    rates = "five pounds an acre", "ten pounds an acre", "eight point seven one two pounds an acre"
    await say(person, "skip", "skip", *rates, "five miles an hour", "three hundred feet")
    assert person.received[-1].buttons == [["Scale"], ["Tube"]]
    person.presses("Scale")
    await person.receives()
    # 8.712 lb/acre on 30 in rows over 300 ft: 0.15 lb, see tests/worked_examples.yaml
    assert "68.0 g" in await say(person, "zero", "one gram")
    turns = Journal(database).turns("telegram:41")
    assert [turn.seq for turn in turns] == list(range(1, 16))
    assert all(turn.utterance_id.startswith("telegram:") for turn in turns)
    assert Inbox(database).waiting() == ()
    assert len(server.account.answered) == 2


async def test_a_typed_answer_does_what_the_button_does(server: TelegramServer) -> None:
    person = server.user(42)
    answer = await say(person, "set up", "two", "thirty inches", "zero to thirty by one", "no")
    assert "meters" in answer


async def test_an_old_or_forged_button_answers_nothing(server: TelegramServer, database: Database) -> None:
    person = server.user(43)
    await say(person, "set up", "two", "thirty inches", "zero to thirty by one")
    person.presses("No")
    await person.receives()
    shown, before = person.received[-1], len(Journal(database).turns("telegram:43"))
    for forged in ("telegram:41:yes", "999:yes", "yes", "5:", "-1:yes", "٣:yes", "4:=3:yes", "5:=x:yes", "5:=4:maybe"):
        query = person.calls_back(forged, shown.message_id)
        while query not in server.account.answered:
            await asyncio.sleep(0.01)
        assert "earlier question" in server.account.answered[query]["text"]
    assert len(Journal(database).turns("telegram:43")) == before
    assert len(person.received) == person.seen


async def test_an_edited_message_corrects_the_last_entry(server: TelegramServer, database: Database) -> None:
    person = server.user(44)
    await say(person, "set up", "two")
    spacing = person.says("thirty inches")
    await person.receives()
    person.edits(spacing, "thirty six inches")
    assert "36" in (await person.receives()).text
    person.edits(spacing, "thirty eight inches")
    assert "38" in (await person.receives()).text
    state = state_of(database, "telegram:44")
    assert state.dialog is not None
    assert str(state.dialog.values["spacing"]) == "38 in"
    assert "dial" in await say(person, "repeat")
    person.edits(spacing, "forty inches")
    assert "40 in" in (await person.receives()).text
    after = state_of(database, "telegram:44").dialog
    assert after is not None and (after.step, str(after.values["spacing"])) == (state.dialog.step, "40 in")


async def test_an_older_message_is_corrected_only_where_its_value_still_stands(
    server: TelegramServer, database: Database
) -> None:
    person = server.user(51)
    await say(person, "set up")
    rows = person.says("two")
    await person.receives()
    await say(person, "thirty inches")
    person.edits(rows, "four")
    assert "4" in (await person.receives()).text
    state = state_of(database, "telegram:51").dialog
    assert state is not None and state.values["rows"] == 4 and str(state.values["spacing"]) == "30 in"
    help_ = person.says("status")
    await person.receives()
    await say(person, "zero to thirty by one")
    kept = Journal(database).turns("telegram:51")
    for message, text in ((help_, "five"), (rows, "cancel"), (rows, "five or six"), (rows, "four hundred")):
        person.edits(message, text)
        assert f"changed a message to “{text}”" in (await person.receives()).text
    person.edits(rows, "four hundred")
    assert Journal(database).turns("telegram:51") == kept
    await say(person, "cancel", "yes")
    kept = Journal(database).turns("telegram:51")
    person.edits(rows, "six")
    assert "“six”" in (await person.receives()).text
    assert Journal(database).turns("telegram:51") == kept


def state_of(database: Database, conversation: str) -> ConversationState:
    return Assistant(database).state(conversation)


async def test_the_language_of_the_client_begins(server: TelegramServer) -> None:
    person = server.user(45, language="es-MX")
    assert "Cuántos surcos" in await say(person, "preparar")


async def test_what_is_no_text_and_what_is_too_long(server: TelegramServer, database: Database) -> None:
    person = server.user(46)
    person.sends_document(b"%PDF-1.4", "notes.pdf", "application/pdf")
    assert "say or type what it shows" in (await person.receives()).text
    assert "1000 characters" in await say(person, "x" * 1001)
    assert Journal(database).turns("telegram:46") == ()


async def test_words_under_a_picture_are_words(server: TelegramServer, database: Database) -> None:
    person = server.user(52)
    await say(person, "set up")
    person.sends_photo(PIXEL, "two")
    assert "far apart" in (await person.receives()).text
    person.sends_photo(PIXEL)
    told = (await person.receives()).text
    assert "say or type what it shows" in told
    assert told.endswith("How far apart are the rows?")
    assert [turn.heard for turn in Journal(database).turns("telegram:52")] == ["set up", "two"]


async def test_a_group_hears_one_polite_line(server: TelegramServer, database: Database) -> None:
    member = server.member(-900, 47)
    member.invites()
    assert "private" in (await member.receives()).text
    member.says("/status")
    member.says("/help")
    person = server.user(47)
    await say(person, "help")
    await say(person, "help")
    assert len(member.received) == 1
    assert Journal(database).turns("telegram:-900") == ()


async def test_late_messages_keep_the_time_they_were_sent(server: TelegramServer, database: Database) -> None:
    person = server.user(48)
    sent = server.account.date() - 7200
    person.says("help", date=sent)
    await person.receives()
    (turn,) = Journal(database).turns("telegram:48")
    assert turn.said_at.timestamp() == sent


async def test_words_are_forgotten_by_the_inbox_once_they_are_kept(server: TelegramServer, database: Database) -> None:
    await say(server.user(49, name="Nobody"), "help")
    while Inbox(database).waiting():
        pass
    with database.read() as connection:
        (body,) = connection.exec_driver_sql("SELECT body FROM inbox").scalars()
    assert body is None


async def test_the_menu_is_there_in_every_language(server: TelegramServer) -> None:
    await say(server.user(50), "/status")
    menus = server.account.commands
    assert {language for _, language in menus} == {"", "en", "es"}
    assert menus["default", "es"] != menus["default", "en"] == menus["default", ""]


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_command_of_the_menu_is_one_that_can_be_said(language: Language) -> None:
    texts = ChatTexts.load()
    for name in texts.commands:
        words = texts.words(name, language)
        assert words
        (entry,) = read(utterance("u", words), Expectation(language=language), load_vocabulary(language)).entries
        assert isinstance(entry, Commanded)
        assert (load_forms(entry.language).name.lower() if entry.language else entry.command.value) == name
