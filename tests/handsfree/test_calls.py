"""Reminders of a shift, hands-free: beeps and words that get louder, and nothing once it is answered."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from sqlalchemy import update

from bot.handsfree.announcements import Announcements
from bot.handsfree.chime import BEEP_S, GAP_S, MOST_BEEPS, called
from bot.settings import CONVERSATION, Settings
from bot.wiring import watch
from engine.assistant import Assistant
from engine.database import Database, open_database
from engine.history.store import tables
from engine.queues.outbox import Outbox
from engine.reminders.reminder import Answer, Snooze
from speech.audio import AudioClip
from speech.synthesis import voices
from tests.helpers.bell import field_over, look
from tests.helpers.cab import Cab
from tests.helpers.reminding import apply

WORDS = AudioClip((0.2 * np.sin(np.arange(16_000) / 20)).astype(np.float32))
EACH = round((BEEP_S + GAP_S) * 16_000)


def now() -> datetime:
    return datetime.now(UTC)


def remind(database: Database) -> None:
    apply(database, look(now()), conversation=CONVERSATION, at=now())


def next_try(database: Database) -> None:
    with database.begin() as connection:
        connection.execute(update(tables.reminder).where(tables.reminder.c.state == "asked").values(next_at=now()))


@pytest.mark.parametrize("attempt", range(1, 9))
def test_a_beep_for_each_call_up_to_some_then_all_the_words(attempt: int) -> None:
    sound = called(WORDS, attempt).samples
    assert len(sound) == min(attempt, MOST_BEEPS) * EACH + len(WORDS.samples)
    assert float(np.abs(sound).max()) <= 1.0
    beep, gap = sound[: round(BEEP_S * 16_000)], sound[round(BEEP_S * 16_000) : EACH]
    assert float(np.abs(beep).max()) > 0.29
    assert not gap.any()


def test_every_call_is_louder_than_the_one_before() -> None:
    def power(samples: np.ndarray) -> float:
        return float(np.sqrt(np.mean(samples**2)))

    words = [power(called(WORDS, attempt).samples[-len(WORDS.samples) :]) for attempt in (1, 2, 3)]
    beeps = [power(called(WORDS, attempt).samples[:EACH]) for attempt in (1, 2, 3)]
    assert words[0] == pytest.approx(power(WORDS.samples))
    assert words[1] > 1.5 * words[0] and words[2] > 1.5 * words[1]
    assert beeps[0] < beeps[1] < beeps[2]


@pytest.fixture
def database(tmp_path: Path) -> Database:
    return open_database(str(tmp_path / "a.db"))


def errand(database: Database, folder: Path) -> Announcements:
    settings = Settings(database=str(folder / "a.db"), time_zone="America/Chicago")
    return Announcements(Outbox(database), watch(settings, Assistant(database), database).step)


def test_calls_come_as_lines_that_know_how_often_it_was_called(database: Database, tmp_path: Path) -> None:
    calls = errand(database, tmp_path)
    remind(database)
    for attempt in (1, 2, 3):
        line = calls.look(10.0 * attempt)
        assert line is not None and line.key is not None
        assert line.attempt == attempt
        assert line.reply.speech and not any(sign.isdigit() for sign in line.reply.speech)
        assert calls.wanted(line.key)
        calls.said(line.key)
        next_try(database)


@pytest.mark.parametrize("change", [Answer("look"), Snooze("look", now() + timedelta(minutes=10))])
def test_what_was_answered_while_it_waited_is_not_wanted(
    database: Database, tmp_path: Path, change: Answer | Snooze
) -> None:
    calls = errand(database, tmp_path)
    remind(database)
    line = calls.look(0.0)
    assert line is not None and line.key is not None
    apply(database, change, conversation=CONVERSATION, at=now())
    assert not calls.wanted(line.key)


def test_a_field_that_is_over_is_said_once(database: Database, tmp_path: Path) -> None:
    calls = errand(database, tmp_path)
    apply(database, field_over(now()), conversation=CONVERSATION, at=now())
    line = calls.look(0.0)
    assert line is not None and line.key is not None and calls.wanted(line.key)
    assert line.reply.speech.startswith("Ridge forty: the re-entry time told from the label ended at")
    calls.said(line.key)
    next_try(database)
    assert calls.look(10.0) is None


def test_others_are_rung_while_a_line_waits_for_the_end_of_an_utterance(database: Database, tmp_path: Path) -> None:
    calls = errand(database, tmp_path)
    remind(database)
    assert calls.look(0.0) is not None
    apply(database, look(now()), conversation="telegram:1", at=now())
    assert calls.look(5.0) is None
    assert len(Outbox(database).pending("telegram:1")) == 1


@pytest.mark.xdist_group("sound card")
def test_a_reminder_rings_in_the_cab_again_and_louder(cab: Cab, tmp_path: Path) -> None:
    record = str(tmp_path / "night.db")
    database = open_database(record)
    voice = cab.run("-m", "bot.cli", "handsfree", "--db", record)
    try:
        voice.wait_for("Listening.")
        cab.wait_until_quiet()
        before = cab.loud_s
        remind(database)
        seen = voice.wait_for("Look at the hoppers: due")
        cab.wait_until_quiet()
        next_try(database)
        voice.wait_for("No answer since", after=seen)
        cab.wait_until_quiet()
        assert (cab.loud_s - before > 3) is (voices.choose("en") is not None)
        apply(database, Answer("look"), conversation=CONVERSATION, at=now())
    finally:
        voice.stop()
    assert [line for line in voice.lines if "hoppers" in line] == voice.lines[-2:]
