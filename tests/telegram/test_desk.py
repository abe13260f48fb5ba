"""What the chat itself does: by command, by button, by words, and only for who may."""

from __future__ import annotations

import asyncio
import csv
import io
import re
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from sqlalchemy import Row, select

from bot.telegram.texts import ChatKey, ChatOrder, ChatTexts
from engine.crew.farm import Farm
from engine.crew.people import Member, People
from engine.crew.roles import MAY, Act, PersonRole
from engine.database import Database
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.entries.strict_reader import read
from engine.expectation import Expectation
from engine.history.store import tables
from engine.history.store.journal import Journal
from engine.messages import LANGUAGES, Commanded, Language, Unclear
from engine.queues.outbox import Outgoing, put
from engine.queues.outbox_message import TextMessage
from speech.decoding.grammar import automaton
from speech.pocketsphinx import PocketSphinxRecognizer
from tests.helpers.crew import ALMOST_DONE, almost_done, invited, joined
from tests.helpers.sentences import spelt
from tests.helpers.telegram_server import Person, TelegramServer
from tests.helpers.turns import utterance

pytestmark = pytest.mark.usefixtures("running")


async def ask(person: Person, text: str) -> str:
    person.says(text)
    return (await person.receives()).text


@pytest.mark.parametrize("language", LANGUAGES)
def test_words_of_the_desk_are_its_own(language: Language) -> None:
    """They ask for one service each, and no dialog takes them for something else."""
    texts, said = ChatTexts.load(), []
    for act, service in texts.services.items():
        sure = [service.sure.of(language)] if service.sure else []
        for words in (*spelt(*service.says.of(language)), *sure):
            said.append(words)
            order = texts.order(f"{words.capitalize()}.", language)
            assert order is not None and order.act is act
            (entry,) = read(utterance("u", words), Expectation(language=language), load_vocabulary(language)).entries
            assert isinstance(entry, Unclear), words
    assert len(set(said)) == len(said)


@pytest.mark.parametrize("language", LANGUAGES)
def test_words_on_buttons_are_understood(language: Language) -> None:
    texts = ChatTexts.load()
    for key, command in ((ChatKey.US_UNITS, "us_units"), (ChatKey.METRIC_UNITS, "metric_units")):
        words = texts.say(key, language)
        (entry,) = read(utterance("u", words), Expectation(language=language), load_vocabulary(language)).entries
        assert isinstance(entry, Commanded) and entry.command.value == command


def test_words_can_be_heard_beside_those_of_the_dialog() -> None:
    plain = "#JSGF V1.0;\ngrammar rowhand;\npublic <utterance> = <yes>;\n<yes> = yes;\n"
    heard = automaton(ChatTexts.load().with_orders(plain, "en"))
    assert heard.accepts(["yes"]) and heard.accepts(["forget", "me"]) and heard.accepts(["yes", "forget", "me"])
    known = PocketSphinxRecognizer().decoder
    assert [word for word in heard.words() if known.lookup_word(word) is None] == []


@pytest.mark.parametrize(
    ("said", "order"),
    [
        ("/history 3", ChatOrder(Act.HISTORY, "3")),
        ("/Remove@rowhand_bot 2 yes", ChatOrder(Act.REMOVE, "2 yes")),
        ("handing over to Ann Lee", ChatOrder(Act.HANDOVER, "Ann Lee")),
        ("handing over", ChatOrder(Act.HANDOVER)),
        ("summary row two", None),
        ("/nothing", None),
        ("", None),
    ],
)
def test_an_order_and_what_was_said_behind_it(said: str, order: ChatOrder | None) -> None:
    assert ChatTexts.load().order(said, "en") == order


async def test_language_and_units_by_button(server: TelegramServer) -> None:
    person = server.user(201)
    await ask(person, "/language")
    person.presses("Español")
    assert "español" in (await person.receives()).text
    await ask(person, "cambiar unidades")
    person.presses("Unidades métricas")
    assert "métricas" in (await person.receives()).text


async def test_summary_history_and_record_of_ones_own(server: TelegramServer, database: Database) -> None:
    person = server.user(202)
    assert "no test run" in await ask(person, "/summary")
    assert "no test run" in await ask(person, "history")
    assert "Nothing is kept" in await ask(person, "/export")
    almost_done(database, 202)
    assert "Test run 1" in await ask(person, "summary")
    assert person.received[-1].method == "sendPhoto"
    pages = await person.receives()
    assert pages.method == "sendDocument"
    assert re.fullmatch(r"rowhand-\d{4}-\d\d-\d\d-\d{4}\.pdf", pages.file_name or "")
    told = await ask(person, "/history 4")
    assert re.search(r"Row 4:\n  .* lb/acre .*: 12 gave 70\.0 g \(\+2\.9 %\)", told) and "Row 1" not in told
    assert "Row 1" in await ask(person, "/history")
    assert "no catch of that row" in await ask(person, "/history 9")
    assert "4 lines" in await ask(person, "send the record")
    table = (person.received[-1].file or b"").decode("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(table)))
    assert [row["row"] for row in rows] == ["1", "2", "3", "4"]
    assert "telegram" not in table


async def test_who_may_not_gets_one_line_and_nothing_happens(server: TelegramServer, database: Database) -> None:
    operator = joined(server, database, 203, "north", PersonRole.OPERATOR)
    joined(server, database, 204, "north", PersonRole.OWNER)
    for act in set(Act) - MAY[PersonRole.OPERATOR]:
        assert "Ask one of them" in await ask(operator, f"/{act} 1 yes")
    assert len(Farm(database, seat(database, 203)).people()) == 2


def seat(database: Database, number: int) -> Member:
    member = People(database).seat(f"telegram:{number}")
    assert member is not None
    return member


async def test_an_owner_removes_a_member_after_a_yes(server: TelegramServer, database: Database) -> None:
    owner = joined(server, database, 205, "north", PersonRole.OWNER)
    gone = joined(server, database, 206, "north", PersonRole.OPERATOR)
    assert "2." in await ask(owner, "/members")
    owner.presses("Remove 2")
    assert "Remove" in (await owner.receives()).text
    assert People(database).member("telegram:206") is not None
    owner.presses("Yes, remove")
    assert "no member any more" in (await owner.receives()).text
    assert "not a member" in (await gone.receives()).text
    assert "private assistant" in await ask(gone, "status")
    assert "nobody of that number" in await ask(owner, "/remove 1 yes")
    assert "only owner" in await ask(owner, "/leave")


async def test_leaving_by_words_and_coming_back_by_invitation(server: TelegramServer, database: Database) -> None:
    joined(server, database, 207, "north", PersonRole.OWNER)
    person = joined(server, database, 208, "north", PersonRole.OPERATOR)
    assert "invitation" in await ask(person, "leave the farm")
    assert "You left" in await ask(person, "yes leave the farm")
    assert "private assistant" in await ask(person, "help")
    assert "set up" in await ask(person, f"/start {invited(database, 'north', PersonRole.OPERATOR)}")


async def test_invitations_let_in_whom_the_role_allows(server: TelegramServer, database: Database) -> None:
    foreman = joined(server, database, 209, "north", PersonRole.FOREMAN)
    assert "operator" in await ask(foreman, "/invite owner")
    told = await ask(foreman, "/invite operator")
    code = re.search(r"start=(\S+)", told)
    assert code is not None and "https://t.me/" in told
    assert "set up" in await ask(server.user(210), f"/start {code.group(1)}")
    member = seat(database, 210)
    assert (member.farm, member.role, member.name) == ("north", PersonRole.OPERATOR, "Operator")


async def test_two_phones_in_one_conversation(server: TelegramServer, database: Database) -> None:
    first = joined(server, database, 211, "north", PersonRole.OPERATOR)
    await ask(first, "set up")
    code = re.search(r"start=(\S+)", await ask(first, "add a phone"))
    assert code is not None
    second = server.user(212)
    assert "How many rows" in await ask(second, f"/start {code.group(1)}")
    second.says("two")
    assert "far apart" in (await second.receives()).text
    heard = await first.receives()
    assert "far apart" in heard.text and heard.silent
    first.says("thirty inches")
    second.says("status")
    while len(Journal(database).turns("telegram:211")) < 4:
        await second.receives()
    turns = Journal(database).turns("telegram:211")
    assert [one.seq for one in turns] == [1, 2, 3, 4]
    assert {one.heard for one in turns[2:]} == {"thirty inches", "status"}
    assert Journal(database).turns("telegram:212") == ()


async def test_a_reminder_rings_on_every_phone_of_its_conversation_and_no_other(
    server: TelegramServer, database: Database
) -> None:
    first = joined(server, database, 221, "north", PersonRole.OPERATOR)
    other = joined(server, database, 222, "north", PersonRole.OPERATOR)
    code = People(database).invite(
        "north", PersonRole.OPERATOR, datetime.now(UTC) + timedelta(days=1), into="telegram:221"
    )
    People(database).join("telegram:223", code, datetime.now(UTC))
    second = server.user(223)
    second.chat.open = True
    with database.begin() as connection:
        look = TextMessage(text="Look at the hoppers.")
        put(connection, [Outgoing("ring/1/1", "telegram:221", look, datetime.now(UTC))])
    for phone in (first, second):
        rung = await phone.receives()
        assert rung.text == "Look at the hoppers." and not rung.silent
    await ask(first, "help")
    await second.receives()
    assert [[one.text for one in phone.received].count("Look at the hoppers.") for phone in (first, second)] == [1, 1]
    assert other.received == []


async def test_planters_have_conversations_of_their_own(server: TelegramServer, database: Database) -> None:
    person = joined(server, database, 213, "north", PersonRole.OPERATOR)
    await ask(person, "set up")
    assert "How many rows" in await ask(person, "/planter Big one")
    assert "Say" in await ask(person, "this is planter Small one")
    assert "Big one" in await ask(person, "/planter")
    person.presses("Big one")
    assert "How many rows" in (await person.receives()).text
    assert "far apart" in await ask(person, "two")


async def test_who_speaks_is_noted_and_stands_on_the_summary(server: TelegramServer, database: Database) -> None:
    person = joined(server, database, 214, "north", PersonRole.OPERATOR)
    almost_done(database, 214, -1)
    assert "Ann Lee" in await ask(person, "handing over to Ann Lee")
    person.says(ALMOST_DONE[-1])
    await person.receives()
    assert "with Ann Lee" in await ask(person, "/summary")
    assert [one.name for one in Farm(database, seat(database, 214)).speakers("telegram:214")] == ["Ann Lee"]


def outbox_of(database: Database, chat: str) -> list[Row[Any]]:
    with database.read() as connection:
        return list(connection.execute(select(tables.outbox).where(tables.outbox.c.conversation == chat)))


async def test_forgetting_asks_first_and_says_what_the_law_keeps(server: TelegramServer, database: Database) -> None:
    joined(server, database, 215, "north", PersonRole.OWNER)
    person = joined(server, database, 216, "north", PersonRole.OPERATOR)
    await ask(person, "set up")
    told = await ask(person, "forget me")
    assert "two years (7 CFR 110.3)" in told and "Local law" in told
    assert People(database).member("telegram:216") is not None
    person.presses("Yes, forget me")
    assert "forgotten" in (await person.receives()).text
    owner = seat(database, 215)
    kept = [one for one in Farm(database, owner).planters() if Farm(database, owner).turns(one.conversation)]
    assert [turn.heard for turn in Farm(database, owner).turns(kept[0].conversation)] == ["set up"]
    while any(one.key.startswith("notice:") for one in outbox_of(database, "telegram:216")):
        await asyncio.sleep(0.01)
    with database.read() as connection:
        for table in ("person", "outbox", "inbox", "conversation", "turn", "news", "invitation"):
            for row in connection.exec_driver_sql(f"SELECT * FROM {table}"):
                assert "telegram:216" not in str(tuple(row)), table
    assert "private assistant" in await ask(person, "status")


async def test_a_foreman_chooses_what_to_hear_and_when(server: TelegramServer, database: Database) -> None:
    foreman = joined(server, database, 217, "north", PersonRole.FOREMAN)
    assert "End of a test run: on" in await ask(foreman, "/news")
    foreman.presses("Test runs: off")
    assert "End of a test run: off" in (await foreman.receives()).text
    assert "Quiet from 22:30 to 05:00, America/Chicago" in await ask(foreman, "/quiet 22:30 5:00 America/Chicago")
    for wrong in ("/quiet", "/quiet 25:00 6:00", "/quiet 21:00", "/quiet 21:00 6:00 Nowhere/Atall", "/quiet a b"):
        assert "22:30" in await ask(foreman, wrong)
    assert await ask(foreman, "/quiet off") == "No quiet hours."
    operator = joined(server, database, 218, "north", PersonRole.OPERATOR)
    almost_done(database, 218)
    operator.says("enough")
    for _ in range(3):
        await operator.receives()
    assert len(foreman.received) == foreman.seen


async def test_a_row_that_gives_nothing_or_too_much_is_an_alarm(server: TelegramServer, database: Database) -> None:
    operator = joined(server, database, 219, "north", PersonRole.OPERATOR)
    foreman = joined(server, database, 220, "north", PersonRole.FOREMAN)
    await ask(foreman, "/news runs off")
    await ask(foreman, "/quiet 0:00 0:00")
    almost_done(database, 219, -4)
    for said in ("row one zero grams", "yes", "row two ninety grams", "row three sixty eight grams"):
        await ask(operator, said)
    # ten pounds an acre is the highest rate entered: on 30 in rows over 300 ft that is 78.1 g
    await ask(operator, "row four seventy eight grams")
    await ask(operator, "cancel")
    await ask(operator, "yes")
    stopped, over = await foreman.receives(), await foreman.receives()
    assert "nothing comes out of row 1." in stopped.text and "row 2 is over" in over.text
    assert not stopped.silent and not over.silent
    assert len(foreman.received) == foreman.seen
