"""Calls on the page: shown once a phone is in reach, quiet everywhere once anybody answers, beside other channels."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest

from bot.bell.calls import Calls
from bot.page.views.calls import PageCalls
from bot.wiring import watch
from engine.database import Database
from engine.queues.outbox import DeliveryState, Outbox
from engine.queues.outbox_message import TextMessage, words_of
from engine.reminders.schedule import Schedule
from engine.shift.record.shift_state import ShiftState
from tests.helpers.bell import field_over
from tests.helpers.page_client import PhoneWire, paired
from tests.helpers.page_host import PageHost
from tests.helpers.reminding import apply
from tests.helpers.talking import beginnings

PLANTED = timedelta(minutes=30)
"""So long ago planting began: a look at once after it would change nothing."""
SHIFT = ("prepared", "catching", "finished", "planting")


@pytest.fixture
def due(host: PageHost) -> Iterator[PageHost]:
    """A shift whose look is due: it rings with the next step of any program on the record."""
    host.elsewhere(*(text for place in SHIFT for text in beginnings()[place]), ago=PLANTED)
    ring_now(host.record)
    yield host


def ring_now(record: Database) -> None:
    """Bring what waits forward to now, a second after it was set: what is set anew is for another moment then, as it is
    where nothing is brought forward."""
    time.sleep(1.1)
    from sqlalchemy import update

    from engine.history.store import tables

    with record.begin() as connection:
        waiting = update(tables.reminder).where(tables.reminder.c.next_at.is_not(None))
        connection.execute(waiting.values(next_at=datetime.now(UTC) - timedelta(seconds=1)))


def ring_key(host: PageHost) -> str:
    keys = Schedule(host.record).asking("console")
    return keys[0] if keys else ""


async def rung(host: PageHost, phone: PhoneWire) -> dict[str, object]:
    while not phone.view["calls"]:
        await phone.read("view")
    found: dict[str, object] = phone.view["calls"][0]
    return found


async def test_a_call_stands_on_the_phone_until_it_is_answered_there(due: PageHost) -> None:
    phone = await PhoneWire.open(due, paired(due))
    call = await rung(due, phone)
    assert call["attempt"] == 1 and call["asks"] and "Look at the hoppers" in str(call["text"])
    phone.wire.write_message(json.dumps({"kind": "shown", "key": call["key"]}))
    assert (await phone.say("all good", seq=0, call=call["key"], tapped=True))["how"] == "taken"
    while phone.view["calls"]:
        await phone.read("view")
    message = Outbox(due.record).find(str(call["key"]))
    assert message is not None and message.state is DeliveryState.SENT
    assert (await phone.say("all good", seq=0, call=call["key"], tapped=True))["how"] == "moved_on"


async def test_what_another_channel_answers_is_quiet_on_the_phone(due: PageHost) -> None:
    phone = await PhoneWire.open(due, paired(due))
    await rung(due, phone)
    due.elsewhere("all good")
    while phone.view["calls"]:
        await phone.read("view")


async def test_what_another_program_rang_stands_on_the_phone_too(due: PageHost) -> None:
    due.stop()
    step = watch(due.settings, due.parts.taker.assistant, due.record).step
    shown = [*Calls(Outbox(due.record), "console", "talk", step).due()]
    assert len(shown) == 1
    due.start()
    phone = await PhoneWire.open(due, paired(due))
    assert (await rung(due, phone))["key"] == ring_key(due)


async def test_without_a_phone_in_reach_nothing_is_taken_from_the_outbox(due: PageHost) -> None:
    await PhoneWire.open(due, paired(due))
    due.stop()
    waiting = Outbox(due.record).find(ring_key(due))
    assert waiting is not None and waiting.state is DeliveryState.PENDING and waiting.leased_until is None
    step = watch(due.settings, due.parts.taker.assistant, due.record).step
    assert len([*Calls(Outbox(due.record), "console", "talk", step).due()]) == 1


def test_two_programs_on_one_record_bring_a_call_out_once(due: PageHost) -> None:
    due.stop()
    step = watch(due.settings, due.parts.taker.assistant, due.record).step
    step()
    page = PageCalls(Outbox(due.record), "console")
    assert page.take()
    assert [*Calls(Outbox(due.record), "console", "talk", step).due()] == []
    page.shown(ring_key(due))
    assert not page.take() and [*Calls(Outbox(due.record), "console", "talk", step).due()] == []
    assert len(page.ringing()) == 1, "it is shown as long as nobody answers"
    due.elsewhere("all good")
    assert page.ringing() == ()


def test_a_message_that_asks_nothing_stays_until_it_was_read(host: PageHost) -> None:
    from engine.queues.outbox import Outgoing, put

    host.stop()
    with host.record.begin() as connection:
        put(connection, [Outgoing("note", "console", TextMessage(text="The clock went back."), datetime.now(UTC))])
    page = PageCalls(Outbox(host.record), "console")
    assert page.take()
    assert [(one.key, one.asks) for one in page.ringing()] == [("note", False)]
    page.shown("note")
    assert page.ringing() == () and not page.take()


def test_a_field_that_is_over_is_shown_once_on_the_page_or_in_talk(host: PageHost) -> None:
    host.stop()
    step = watch(host.settings, host.parts.taker.assistant, host.record).step
    page = PageCalls(Outbox(host.record), "console")
    apply(host.record, field_over(datetime.now(UTC)), conversation="console", at=datetime.now(UTC))
    step()
    assert page.take()
    (call,) = page.ringing()
    assert not call.asks and call.buttons == () and call.text.startswith("Ridge 40: the re-entry time told")
    page.shown(call.key)
    assert page.ringing() == () and [*Calls(Outbox(host.record), "console", "talk", step).due()] == []
    later = datetime.now(UTC)
    apply(host.record, field_over(later, "South"), conversation="console", at=later)
    (message,) = Calls(Outbox(host.record), "console", "talk", step).due()
    assert words_of(message).startswith("South: the re-entry time told")
    assert [*Calls(Outbox(host.record), "console", "talk", step).due()] == []


def test_a_call_that_was_leased_and_never_shown_is_given_back(due: PageHost) -> None:
    due.stop()
    watch(due.settings, due.parts.taker.assistant, due.record).step()
    page = PageCalls(Outbox(due.record), "console")
    assert page.take()
    page.release()
    assert PageCalls(Outbox(due.record), "console").take()


def test_the_shift_of_these_tests_is_one(due: PageHost) -> None:
    dialog = due.parts.taker.assistant.state("console").dialog
    assert dialog is not None and isinstance(dialog.activity, ShiftState)
