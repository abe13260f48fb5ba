"""A shift at night from its start to its reminders, with an injected clock: what is said is what rings."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from bot.bell.ringing import Ringing
from engine.assistant import Assistant
from engine.database import Database, open_database
from engine.messages import HeardWord, Language, Utterance
from engine.queues.outbox import Outbox
from engine.queues.outbox_message import words_of
from engine.reminders.local_time import zone_called
from engine.reminders.reminder import Ring
from engine.reminders.schedule import Schedule
from tests.helpers.bell import CHICAGO, assistant
from tests.helpers.talking import beginnings

SAID = re.compile(r"Next look by (\d+:\d+ [AP]M)")
CALLED = re.compile(r"Look at the hoppers: due at (\d+:\d+ [AP]M), about [\d.]+ acres since the last look\.")
MINUTE = timedelta(minutes=1)
PLACES = {"en": ("prepared", "catching", "finished", "planting"), "es": ("preparada", "pesando", "terminada")}
PLANTING_ES = ["turno", "salta", "salta", "rodillo", "salta", "salta", "salta", "todos prendidos", "todos veinte kilos",
               "salta", "salta", "dos hectáreas", "salta"]  # fmt: skip


@dataclass
class Night:
    """One operator, ``now`` the time; ``called`` is what rang, with its time."""

    database: Database
    now: datetime
    zone: str = CHICAGO
    language: Language = "en"
    called: list[tuple[datetime, str]] = field(default_factory=list)
    count: int = 0

    def __post_init__(self) -> None:
        self.assistant: Assistant = assistant(self.database, self.language, zone=self.zone)
        self.schedule = Schedule(self.database)
        self.ringing = Ringing(self.assistant, self.database, self.zone)

    def say(self, text: str, *, heard: bool = False) -> str:
        self.count += 1
        language = self.assistant.state("c").language
        words = tuple(HeardWord(text=word, confidence=1.0) for word in text.split()) if heard else ()
        said = Utterance(
            id=f"u{self.count}",
            conversation="c",
            text=text,
            language=language,
            said_at=self.now,
            spoken=heard,
            words=words,
        )
        return self.assistant.hear(said).reply.text

    def plant(self) -> str:
        lines = [line for name in PLACES[self.language] for line in beginnings()[name]]
        lines += PLANTING_ES if self.language == "es" else []
        return [self.say(line) for line in lines][-1]

    def wait(self, minutes: float) -> tuple[Ring, ...]:
        """Time goes by, a quarter of a minute at a step; what rings meanwhile is sent and noted."""
        rings: tuple[Ring, ...] = ()
        end = self.now + minutes * MINUTE
        while self.now < end:
            self.now += MINUTE / 4
            rings += self.schedule.tick(self.now, self.ringing.compose)
            box = Outbox(self.database)
            for one in box.pending("c"):
                self.called.append((self.now, words_of(one.outgoing.message)))
                box.mark_sent(one.outgoing.key)
        return rings

    def wait_for_ring(self) -> None:
        """Time goes by until something rings; a night in which nothing does is wrong."""
        assert any(self.wait(1) for _ in range(600)), "nothing rang in ten hours"


@pytest.fixture
def database(tmp_path: Path) -> Iterator[Database]:
    opened = open_database(tmp_path / "record.db")
    yield opened
    opened.close()


def evening(database: Database, start: str = "2027-04-21T02:00+00:00", **more: object) -> Night:
    return Night(database, datetime.fromisoformat(start), **more)  # type: ignore[arg-type]


NIGHTS = [
    (CHICAGO, "2027-03-14T07:00+00:00", ("1:59 AM", "3:00 AM")),
    (CHICAGO, "2027-11-07T06:00+00:00", ("1:59 AM", "1:00 AM")),
    pytest.param("Europe/Berlin", "2027-03-28T00:00+00:00", ("1:59 AM", "3:00 AM"), marks=pytest.mark.campaign),
    pytest.param("Europe/Berlin", "2027-10-31T00:00+00:00", ("2:59 AM", "2:00 AM"), marks=pytest.mark.campaign),
]


@pytest.mark.parametrize(("zone", "start", "change"), NIGHTS)
def test_through_a_night_of_change_what_was_said_is_what_rings(
    database: Database, zone: str, start: str, change: tuple[str, str]
) -> None:
    night = evening(database, start, zone=zone)
    told = [night.plant()]
    while night.now < datetime.fromisoformat(start) + timedelta(hours=3):
        if night.wait(1):
            told.append(night.say("all good"))
    said = [match[1] for match in map(SAID.search, told) if match]
    rung = [match[1] for match in map(CALLED.fullmatch, (text for _, text in night.called)) if match]
    assert len(said) == len(told) and len(rung) == len(night.called) >= 10
    assert said[: len(rung)] == rung
    gaps = [(late - early) / MINUTE for (early, _), (late, _) in zip(night.called, night.called[1:], strict=False)]
    assert max(gaps) - min(gaps) < 2, "real minutes, whatever the wall does"
    hours = [text.partition(":")[0] for text in rung]
    assert (change[0][0] in hours) and (change[1][0] in hours)


def test_put_off_in_words_it_asks_again_when_it_said(database: Database) -> None:
    night = evening(database)
    night.plant()
    night.wait_for_ring()
    night.wait(5.5)
    assert len(night.called) == 2
    put_off = night.say("ten more minutes", heard=True)
    again = night.now + 10 * MINUTE
    night.wait(9.5)
    assert len(night.called) == 2
    night.wait(1)
    moment, text = night.called[-1]
    assert moment - again < MINUTE
    time = re.search(r"I ask again at (\d+:\d+ [AP]M)", put_off)
    called = CALLED.fullmatch(text)
    assert time and called and time[1] == called[1]


PUT_OFF = [
    ("en", "ten more minutes", "I ask again at 1:05 AM; about 3.3 acres since the last look by then."),
    (
        "en",
        "give me half an hour",
        "I ask again at 1:25 AM; by then about 5.9 acres since the last look, more than the",
    ),
    ("en", "at two", "I ask again at 2:00 AM; by then about 11 acres since the last look, more than the 5 acres"),
    (
        "es",
        "una hora",
        "Pregunto otra vez a la 1:55 AM; para entonces cerca de 9.8 acres desde la última revisión, más de lo",
    ),
    (
        "es",
        "a las dos",
        "Pregunto otra vez a las 2:00 AM; para entonces cerca de 10 acres desde la última revisión, más de lo",
    ),
]


@pytest.mark.parametrize(("language", "words", "answer"), PUT_OFF)
def test_put_off_beyond_the_area_that_may_be_lost_it_says_so(
    database: Database, language: Language, words: str, answer: str
) -> None:
    night = evening(database, "2027-04-21T05:40+00:00", language=language)
    night.plant()
    night.wait_for_ring()
    told = night.say(words)
    assert told.startswith(answer) and "\n" not in told
    due = night.schedule.waiting("c")[0].due_at
    assert f"{due.astimezone(zone_called(CHICAGO)):%-H:%M}" in told


def test_an_answer_ends_the_calls_and_sets_the_next_one(database: Database) -> None:
    night = evening(database)
    night.plant()
    night.wait_for_ring()
    night.wait(5.5)
    answer = SAID.search(night.say("all good"))
    (open_one,) = night.schedule.waiting("c")
    assert answer and open_one.asked == 0 and open_one.due_at > night.now
    calls = len(night.called)
    night.wait((open_one.due_at - night.now) / MINUTE - 0.5)
    assert len(night.called) == calls
    night.wait(1)
    called = CALLED.fullmatch(night.called[-1][1])
    assert called and called[1] == answer[1]


def test_away_for_hours_is_one_message(database: Database) -> None:
    night = evening(database)
    said = SAID.search(night.plant())
    night.now += timedelta(hours=4)
    night.wait(2)
    assert said and [text for _, text in night.called] == [
        f"While I was away the look at the hoppers was due at {said[1]}. Look now."
    ]


@pytest.mark.parametrize("words", ["lunch", "done for the night", "end of shift"])
def test_nothing_rings_while_nothing_is_planted(database: Database, words: str) -> None:
    night = evening(database)
    night.plant()
    night.say(words)
    night.wait(90)
    assert night.called == []


def test_in_spanish(database: Database) -> None:
    night = evening(database, language="es")
    said = re.search(r"(\d+:\d+)", night.plant())
    night.wait_for_ring()
    ((_, text),) = night.called
    called = re.fullmatch(
        r"Revise las tolvas: tocaba a las? (\d+:\d+) [AP]M, cerca de [\d.]+ (acres|ha) desde .*", text
    )
    assert called, text
    assert night.say("diez minutos más")
    assert night.schedule.waiting("c")[0].due_at == night.now + 10 * MINUTE
    night.say("todo bien")
    assert night.schedule.waiting("c")[0].asked == 0
    assert said
