"""Reminders in the chat: rung by the channel itself, louder and by voice, then told to the foreman."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from datetime import UTC, datetime, time, timedelta

import pytest
from sqlalchemy import func, select, update

from bot import wiring
from bot.settings import Settings
from bot.telegram import delivery, worker
from engine.assistant import Assistant
from engine.crew.notifications import Notifications, NotificationWishes, Quiet
from engine.crew.roles import PersonRole
from engine.database import Database
from engine.history.store import tables
from engine.history.store.journal import Journal
from engine.queues.outbox import ANSWERED, DeliveryState, Outbox
from engine.reminders.reminder import Answer, Snooze, Stage
from engine.reminders.schedule import Schedule
from tests.helpers.bell import look
from tests.helpers.chat_bot import started
from tests.helpers.crew import joined
from tests.helpers.reminding import apply, sit
from tests.helpers.telegram_server import Person, TelegramServer
from tests.helpers.telegram_server.fault import Refused
from tests.helpers.telegram_server.refusal import bad_request
from tests.helpers.telegram_server.transcript import Sent
from tests.helpers.tone import Tone
from tests.helpers.worker import dead_worker

CALLS = "Look at the hoppers: due"


def soon(seconds: float = 0.0) -> datetime:
    return datetime.now(UTC) + timedelta(seconds=seconds)


def remind(database: Database, number: int, due: datetime | None = None, at: datetime | None = None) -> None:
    apply(database, look(due or soon()), conversation=f"telegram:{number}", at=at or soon())


async def next_try(database: Database) -> None:
    """The few minutes until the next try are over, and it is known that the last one was sent."""
    await until(lambda: not pending(database))
    time_is_over(database)


def pending(database: Database) -> int:
    with database.read() as connection:
        waits = tables.outbox.c.state == DeliveryState.PENDING
        return connection.execute(select(func.count()).where(waits)).scalar() or 0


def time_is_over(database: Database) -> None:
    """The next try is now."""
    waiting = tables.reminder.c.next_at.is_not(None)
    with database.begin() as connection:
        connection.execute(update(tables.reminder).where(waiting).values(next_at=soon()))


def shown(server: TelegramServer, number: int) -> list[Sent]:
    """What the bot sent into a chat and did not take out of it again."""
    there = server.account.messages
    return [one for one in server.transcript.of(number) if (number, one.message_id) in there]


def operator(server: TelegramServer, number: int) -> Person:
    person = server.user(number)
    person.chat.open = True
    return person


@pytest.fixture
async def tone(settings: Settings, monkeypatch: pytest.MonkeyPatch) -> AsyncIterator[Tone]:
    """A channel that runs and has a voice."""
    voice = Tone()
    monkeypatch.setattr(wiring, "voice", lambda settings, language: voice)
    async with started(settings):
        yield voice


async def test_called_loud_then_also_by_voice_until_it_is_answered(
    server: TelegramServer, database: Database, tone: Tone
) -> None:
    person = operator(server, 401)
    remind(database, 401)
    first = await person.receives()
    assert first.text.startswith(CALLS) and not first.silent
    assert first.buttons == [["All good"], ["Ten more minutes"]]
    await next_try(database)
    second, note = await person.receives(), await person.receives()
    assert second.text.startswith("No answer since") and not second.silent
    assert note.method == "sendVoice" and not note.silent
    assert tone.said == [said for said in tone.said if said.startswith("No answer since")]
    await until(lambda: shown(server, 401) == [second, note])
    apply(database, Answer("look"), conversation="telegram:401", at=soon())
    await next_try(database)
    person.says("help")
    await person.hears("set up")
    assert Schedule(database).waiting("telegram:401") == ()
    assert len(person.received) == 4


async def test_a_phone_that_was_out_of_reach_shows_the_last_call_alone(
    server: TelegramServer, database: Database, tone: Tone
) -> None:
    """What the chat took while the phone was away cannot be held back, but it can be taken out again."""
    person = operator(server, 411)
    remind(database, 411)
    await person.receives()
    for _ in range(2):
        await next_try(database)
        call, note = await person.receives(), await person.receives()
    assert call.text.startswith("Call 3: no answer since") and note.method == "sendVoice"
    await until(lambda: shown(server, 411) == [call, note])
    apply(database, Snooze("look", soon()), conversation="telegram:411", at=soon())
    again = await person.receives()
    assert again.text.startswith(CALLS)
    person.says("help")
    await person.hears("set up")
    assert shown(server, 411)[:3] == [call, note, again]
    assert len(tone.said) == 2


async def test_a_call_waits_for_room_to_be_said(
    server: TelegramServer, database: Database, tone: Tone, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(worker, "AT_MOST", 0)
    monkeypatch.setattr(delivery, "ROOM", timedelta(milliseconds=20))
    person = operator(server, 414)
    remind(database, 414, due=soon(-600))
    assert (await person.receives()).text.startswith("While I was away")
    await until(lambda: attempts(database) > 0)
    monkeypatch.setattr(worker, "AT_MOST", 8)
    note = await person.receives()
    assert note.method == "sendVoice" and not note.silent and len(tone.said) == 1


@pytest.mark.usefixtures("running")
async def test_a_call_too_old_to_be_taken_back_stays(server: TelegramServer, database: Database) -> None:
    person = operator(server, 412)
    remind(database, 412)
    first = await person.receives()
    server.faults.plan("deleteMessage", Refused(bad_request("message can't be deleted")))
    for told in ("No answer since", "Call 3"):
        await next_try(database)
        last = await person.receives()
        assert last.text.startswith(told)
    await until(lambda: shown(server, 412) == [first, last])


async def test_answered_while_it_was_on_its_way_it_is_not_sent(
    server: TelegramServer, database: Database, settings: Settings
) -> None:
    """A worker had taken the call when the answer came, and was killed."""
    person = operator(server, 413)
    remind(database, 413)
    wiring.watch(settings, Assistant(database), database).step()
    (call,) = Outbox(database).claim(dead_worker(), soon(), timedelta(minutes=2))
    apply(database, Answer("look"), conversation="telegram:413", at=soon())
    async with started(settings):
        person.says("help")
        assert "set up" in (await person.receives()).text
    found = Outbox(database).find(call.key)
    assert found and (found.state, found.why) == (DeliveryState.FAILED, ANSWERED)


@pytest.mark.usefixtures("running")
async def test_away_for_hours_is_one_message(server: TelegramServer, database: Database, settings: Settings) -> None:
    person = operator(server, 402)
    due = soon(-3 * 3600)
    remind(database, 402, due=due, at=due)
    assert (await person.receives()).text.startswith("While I was away the look at the hoppers was due at")


async def test_a_line_that_is_down_over_several_tries_brings_one_message(
    server: TelegramServer, database: Database, settings: Settings
) -> None:
    person = operator(server, 403)
    server.faults.network_down = True
    async with started(settings):
        remind(database, 403)
        await until(lambda: attempts(database) > 0)
        for _ in range(3):
            time_is_over(database)
            await until(lambda: next_at(database) > soon(10))
        server.faults.network_down = False
        assert CALLS in (await person.receives()).text
    assert len(person.received) == 1
    assert Schedule(database).waiting("telegram:403")[0].asked == 1


@pytest.mark.usefixtures("running")
async def test_a_button_of_a_ring_counts_until_the_ring_is_answered(server: TelegramServer, database: Database) -> None:
    person = operator(server, 404)
    remind(database, 404)
    await person.receives()
    person.says("help")
    await person.receives()
    person.presses("Ten more minutes")
    await person.receives()
    apply(database, Answer("look"), conversation="telegram:404", at=soon())
    answered = len(server.account.answered)
    person.presses("All good")
    await until(lambda: len(server.account.answered) > answered)
    assert "earlier question" in [one.get("text", "") for one in server.account.answered.values()][-1]
    assert [turn.heard for turn in Journal(database).turns("telegram:404")] == ["help", "ten more minutes"]


@pytest.mark.usefixtures("running")
async def test_the_foreman_is_told_loud_in_his_quiet_hours_and_in_his_language(
    server: TelegramServer, database: Database
) -> None:
    person = joined(server, database, 405, "north", PersonRole.OPERATOR)
    foreman = joined(server, database, 406, "north", PersonRole.FOREMAN)
    second = joined(server, database, 410, "north", PersonRole.FOREMAN)
    stranger = joined(server, database, 407, "south", PersonRole.FOREMAN)
    quiet_all_day = Quiet(time(0), time(0), "UTC")
    Notifications(database, "UTC").want("telegram:406", NotificationWishes(runs=True, shifts=True, quiet=quiet_all_day))
    foreman.says("español")
    await foreman.receives()
    remind(database, 405)
    for told in (CALLS, "No answer", "Call 3"):
        assert (await person.receives()).text.startswith(told)
        await next_try(database)
    message = await foreman.receives()
    assert message.text.startswith("Sin respuesta de un operador desde la")
    assert "3 avisos, cerca de" in message.text
    assert not message.silent and message.buttons == []
    assert (await second.receives()).text.startswith("No answer from an operator since")
    await next_try(database)
    foreman.says("ayuda")
    await foreman.receives()
    received = [len(one.received) for one in (person, foreman, second, stranger)]
    assert received == [3, 3, 1, 0]
    assert Schedule(database).waiting("telegram:405")[0].stage is Stage.TOLD
    apply(database, Answer("look"), conversation="telegram:405", at=soon())
    for one, told in ((foreman, "Respuesta de un operador a la"), (second, "Answer from an operator at ")):
        after_all = await one.receives()
        assert after_all.text.startswith(told) and after_all.silent
    assert len(stranger.received) == 0


@pytest.mark.usefixtures("running")
async def test_everybody_who_shares_the_conversation_is_called_and_may_answer(
    server: TelegramServer, database: Database
) -> None:
    person = joined(server, database, 408, "north", PersonRole.OPERATOR)
    other = joined(server, database, 409, "north", PersonRole.OPERATOR)
    sit(database, "telegram:409", "telegram:408")
    remind(database, 408)
    for one in (person, other):
        call = await one.receives()
        assert call.text.startswith(CALLS) and call.buttons == [["All good"], ["Ten more minutes"]]
    other.presses("Ten more minutes")
    await other.receives()
    assert [turn.heard for turn in Journal(database).turns("telegram:408")] == ["ten more minutes"]


async def test_two_programs_on_one_record_ring_once(
    server: TelegramServer, database: Database, settings: Settings
) -> None:
    """The second one rings as well as it can, but has no chat."""
    people = [operator(server, number) for number in range(420, 440)]
    other = wiring.watch(settings, Assistant(database), database)
    start = soon(0.5)
    for number in range(420, 440):
        remind(database, number, due=start + timedelta(milliseconds=37 * (number - 420)))
    async with started(settings):
        while len(server.transcript.sent) < len(people):
            await asyncio.to_thread(other.step)
            await asyncio.sleep(0.01)
        await asyncio.sleep(0.2)
    assert [len(person.received) for person in people] == [1] * len(people)
    with database.read() as connection:
        assert connection.execute(select(func.count()).select_from(tables.ring)).scalar() == len(people)


def attempts(database: Database) -> int:
    with database.read() as connection:
        return connection.execute(select(func.coalesce(func.sum(tables.outbox.c.attempts), 0))).scalar() or 0


def next_at(database: Database) -> datetime:
    found = Schedule(database).next_due()
    assert found
    return found


async def until(what: Callable[[], bool]) -> None:
    async with asyncio.timeout(60):
        while not what():
            await asyncio.sleep(0.02)
