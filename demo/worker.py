"""The process that holds the assistant: hears one note a line on standard input, answers one turn a line.

It keeps nothing but the record on the disk, so that it may be killed at any moment.
"""

from __future__ import annotations

import hashlib
import sys
import time
from collections.abc import Iterable
from datetime import UTC, datetime
from pathlib import Path
from typing import TextIO

from bot.hear import utterance
from bot.settings import load_settings
from demo.evening import place, shown
from demo.letters import DemoResult, DemoStatus, DemoTurn, DemoUtterance, Orders, RowResult
from engine.assistant import Assistant
from engine.conversation_defaults import ConversationDefaults
from engine.database import open_database
from engine.dialog.facts.events import Computed, Fact, Kept
from engine.dialog.facts.role_values import by_role
from engine.dialog.facts.state import DialogState
from engine.dialog.schema.slot_roles import Role, role_of
from engine.entries.grammar import grammar
from engine.history.store.journal import Journal
from engine.history.store.turn_facts import facts_of
from engine.messages import Given, Language, Utterance
from engine.quantities import Measure
from engine.values import Rows, Value
from speech.audio import decode
from speech.recognizer_choice import choose

CONVERSATION = "evening"


class Worker:
    """The assistant on a record, with ears."""

    def __init__(self, orders: Orders) -> None:
        database = open_database(orders.place)
        self._language: Language = orders.language
        self._ears = orders.ears
        self._journal = Journal(database)
        self._assistant = Assistant(database, ConversationDefaults(language=orders.language))

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
        return DemoTurn(
            heard=turn.heard,
            ears=ears,
            sure=turn.confidence,
            seconds=seconds,
            reply=turn.reply.text,
            kept={_place(before, fact): shown(fact.value) for fact in facts if isinstance(fact, Kept)},
            result=_result(facts, before),
            standing=self.standing(),
        )

    def _heard(self, said: DemoUtterance) -> tuple[Utterance, str | None]:
        if said.note is None:
            return self._typed(said), None
        expected = self._assistant.expectation(CONVERSATION)
        wanted = grammar(expected, self._assistant.vocabulary(expected.language))
        ears = choose(expected.language, self._ears, load_settings().models)
        transcript = ears.transcribe(decode(Path(said.note)), expected.language, wanted)
        heard = utterance(transcript, expected.language)
        return heard.model_copy(update={"id": said.id, "conversation": CONVERSATION}), transcript.engine

    def _typed(self, said: DemoUtterance) -> Utterance:
        return Utterance(
            id=said.id,
            conversation=CONVERSATION,
            text=said.text,
            language=self._language,
            said_at=datetime.now(UTC),
        )


def _place(dialog: DialogState | None, given: Kept | Given) -> str:
    """Where a value belongs, by what the dialog says it means."""
    role = role_of(dialog.records, given.slot) if dialog else None
    return place(role or given.slot, given.row)


def _choices(dialog: DialogState | None) -> Iterable[dict[str, str]]:
    for reading in dialog.questions[0].readings if dialog and dialog.questions else ():
        yield {_place(dialog, given): shown(given.value) for given in reading.givens}


def _result(facts: Iterable[Fact], dialog: DialogState | None) -> DemoResult | None:
    """The run that these facts judged, if they did."""
    judged = [fact for fact in facts if isinstance(fact, Computed) and fact.formula == "judge-run"]
    if not judged or dialog is None:
        return None
    fact = judged[-1]
    caught, settings = _newest(fact.arguments["caught"]), _newest(fact.arguments["settings"])
    target = _as(fact.arguments["target"], "g")
    results = by_role(dialog.records, fact.results)
    errors, verdicts = _rows(results[Role.ERROR]), _rows(results[Role.VERDICT])
    after = _rows(results[Role.NEXT_SETTING])
    rows = (
        RowResult(
            row=row,
            setting=shown(settings[row]),
            next=shown(after[row]),
            caught_g=_as(caught[row], "g"),
            off=_as(errors[row], "1") if row in errors else _as(caught[row], "g") / target - 1,
            verdict=shown(verdicts[row]),
        )
        for row in verdicts
    )
    return DemoResult(run=fact.run, target_g=target, rows=tuple(rows))


def _newest(value: object) -> Rows:
    """Of each row the newest of a per-row argument given for every run: it may have been spared in the last."""
    if not isinstance(value, tuple):
        raise TypeError(f"{value!r} is not given for every run")
    return {row: one for run in value for row, one in _rows(run).items()}


def _rows(value: object) -> Rows:
    if not isinstance(value, dict):
        raise TypeError(f"{value!r} is not given per row")
    return value


def _as(value: Value | Rows | tuple[Rows, ...], unit: str) -> float:
    if not isinstance(value, Measure):
        raise TypeError(f"{value!r} is not a measure")
    return value.to(unit).value


def work(orders: Orders, source: TextIO, target: TextIO) -> None:
    """Answer until the input ends."""
    worker = Worker(orders)
    target.write(worker.standing().model_dump_json() + "\n")
    target.flush()
    for line in source:
        target.write(worker.hear(DemoUtterance.model_validate_json(line)).model_dump_json() + "\n")
        target.flush()


if __name__ == "__main__":
    work(Orders.model_validate_json(sys.argv[1]), sys.stdin, sys.stdout)
