"""The process that holds the assistant: hears one note a line on standard input, answers one turn a line.

It keeps nothing but the record on the disk, so that it may be killed at any moment.
"""

from __future__ import annotations

import hashlib
import sys
import time
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import TextIO, assert_never

from bot.bell.ringing import Ringing
from bot.hear import utterance
from bot.settings import CONVERSATION, load_settings
from demo.demo_farm import join
from demo.letters import SENT, DemoCall, DemoCalls, DemoStatus, DemoTurn, DemoUtterance, DemoWait, Orders
from demo.script_lines import Keeps, kept, place_in, reported, shown
from demo.turn_results import doubt, result
from engine.assistant import Assistant
from engine.conversation_defaults import ConversationDefaults
from engine.database import open_database
from engine.dialog.facts.state import DialogState
from engine.dialog.reply.wording import Wording
from engine.dialog.schema.script import Script
from engine.entries.grammar import grammar
from engine.history.store.journal import Journal
from engine.history.store.turn_facts import facts_of
from engine.library import load_library
from engine.messages import Utterance
from engine.queues.outbox import Outbox
from engine.queues.outbox_message import ReminderMessage
from engine.reminders.schedule import Schedule
from engine.shift import WatchSettings
from speech.audio import decode
from speech.recognizer_choice import choose

LEASE = timedelta(minutes=1)


class Worker:
    """The assistant on a record, with ears and a bell. Its clock is that of who talks to it."""

    def __init__(self, orders: Orders) -> None:
        database = open_database(orders.place)
        join(database, orders.began)
        self._orders = orders
        self._journal, self._schedule, self._outbox = Journal(database), Schedule(database), Outbox(database)
        self._library = load_library()
        defaults = ConversationDefaults(language=orders.language, watch=WatchSettings(zone=orders.zone))
        self._assistant = Assistant(database, defaults, self._library)
        self._wording = Wording(orders.language, defaults.system, orders.zone)
        self._bell = Ringing(self._assistant, database, orders.zone)

    def standing(self) -> DemoStatus:
        state = self._assistant.state(CONVERSATION)
        return DemoStatus(
            turn=self._journal.last(CONVERSATION),
            digest=hashlib.sha256(state.model_dump_json().encode()).hexdigest(),
            prompt=self._assistant.prompt(CONVERSATION).text,
            asking=self._assistant.expectation(CONVERSATION).asking,
            choices=tuple(_choices(state.dialog)),
        )

    def hear(self, said: DemoUtterance) -> DemoTurn:
        started = time.perf_counter()
        heard, ears = self._heard(said)
        before = self._assistant.state(CONVERSATION).dialog
        turn = self._assistant.hear(heard)
        seconds = time.perf_counter() - started
        facts = facts_of(turn)
        after = self._assistant.state(CONVERSATION).dialog
        return DemoTurn(
            at=said.at,
            heard=turn.heard,
            ears=ears,
            sure=turn.confidence,
            seconds=seconds,
            reply=turn.reply.text,
            kept=kept(facts, before),
            result=result(facts, before),
            doubt=doubt(facts, after, self._script(after), self._wording, said.at),
            standing=self.standing(),
        )

    def wait(self, until: datetime) -> DemoCalls:
        """Ring what is due until then."""
        return DemoCalls(calls=tuple(self._rung(until)))

    def _rung(self, until: datetime) -> Iterator[DemoCall]:
        while (due := self._schedule.next_due()) is not None and due <= until:
            self._schedule.tick(due, self._bell.compose)
            for one in self._outbox.claim("demo", due, LEASE, 1, CONVERSATION):
                self._outbox.mark_sent(one.key)
                if isinstance(one.message, ReminderMessage):
                    yield DemoCall(at=due, text=one.message.text, attempt=one.message.attempt)

    def _script(self, dialog: DialogState | None) -> Script | None:
        return self._library.script(dialog.script) if dialog else None

    def _heard(self, said: DemoUtterance) -> tuple[Utterance, str | None]:
        if said.note is None:
            return self._typed(said), None
        expected = self._assistant.expectation(CONVERSATION)
        wanted = grammar(expected, self._assistant.vocabulary(expected.language))
        ears = choose(expected.language, self._orders.ears, load_settings().models)
        transcript = ears.transcribe(decode(Path(said.note)), expected.language, wanted)
        heard = utterance(transcript, expected.language)
        return heard.model_copy(
            update={"id": said.id, "conversation": CONVERSATION, "said_at": said.at}
        ), transcript.engine

    def _typed(self, said: DemoUtterance) -> Utterance:
        return Utterance(
            id=said.id,
            conversation=CONVERSATION,
            text=said.text,
            language=self._orders.language,
            said_at=said.at,
        )


def _choices(dialog: DialogState | None) -> Iterator[Keeps]:
    """What each way of understanding a doubtful answer would keep."""
    for question in dialog.questions[:1] if dialog else ():
        for reading in question.readings:
            yield {place_in(dialog, given): shown(given.value) for given in reading.givens}
        if question.reports:
            yield {
                of: told for one in question.reports for of, told in reported(one.report, one.rows, one.value).items()
            }


def work(orders: Orders, source: TextIO, target: TextIO) -> None:
    """Answer until the input ends."""
    worker = Worker(orders)
    target.write(worker.standing().model_dump_json() + "\n")
    target.flush()
    for line in source:
        target.write(_answer(worker, SENT.validate_json(line)).model_dump_json() + "\n")
        target.flush()


def _answer(worker: Worker, sent: DemoUtterance | DemoWait) -> DemoTurn | DemoCalls:
    match sent:
        case DemoUtterance():
            return worker.hear(sent)
        case DemoWait(until=until):
            return worker.wait(until)
        case other:
            assert_never(other)


if __name__ == "__main__":
    work(Orders.model_validate_json(sys.argv[1]), sys.stdin, sys.stdout)
