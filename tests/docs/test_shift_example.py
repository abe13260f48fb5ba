"""The shift in the guide: its conversation is a golden one, its tables say what is understood and asked."""

from __future__ import annotations

import re
from datetime import timedelta
from functools import cache
from pathlib import Path

import pytest

from engine.dialog.facts.state import ConversationState
from engine.dialog.interpreter import Interpreter
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.entries.strict_reader import read
from engine.messages import Asked, Commanded, Given, Opened, Reported, Utterance
from tests.dialog.test_laws import beginning, interpreter
from tests.dialog.test_shift import Night
from tests.docs.examples import GUIDE, README, examples, golden
from tests.helpers.talking import START

TEXT = GUIDE.read_text(encoding="utf-8")
CHAPTER = TEXT.partition("\n## A shift\n")[2].partition("\n## ")[0]


def first_cells(head: str) -> list[str]:
    """The first column of the table of the chapter whose head begins so."""
    table = re.search(rf"^\| {head} \|.*\n\|[-|]+\n((?:\|.*\n)+)", CHAPTER, re.MULTILINE)
    assert table, head
    return [line.split("|")[1].strip() for line in table[1].splitlines()]


def told() -> list[str]:
    """All that the tables and the text of the chapter say may be said."""
    after = CHAPTER.partition("### What can be told")[2]
    return list(dict.fromkeys(re.findall(r"`([^`\n]+)`", after)))


PARTS = {"each", "in all", "up to the mark", "on top", "shift", "the applicator is"}
"""What is no sentence of its own during a shift."""


@cache
def state() -> tuple[Interpreter, ConversationState]:
    return interpreter(), beginning("planting")


@pytest.mark.parametrize("page", [README, GUIDE], ids=lambda page: page.name)
def test_every_turn_of_the_shift_is_played(page: Path) -> None:
    (found,) = [one for one in examples(page.read_text(encoding="utf-8")) if one.is_golden]
    assert len(found.said) > 7
    assert found.body == golden(found)


@pytest.mark.parametrize("said", [one for one in told() if one not in PARTS])
def test_all_that_may_be_said_is_understood(said: str) -> None:
    talk, now = state()
    expected = talk.expectation(now)
    heard = Utterance(id=said, conversation="c", text=said, language="en", said_at=START)
    entries = read(heard, expected, load_vocabulary("en")).entries
    assert entries
    assert [one for one in entries if not isinstance(one, Reported | Given | Commanded | Asked | Opened)] == []


PROVOKED: tuple[tuple[tuple[float, str], ...], ...] = (
    ((60, "refilled all, four bags"),),
    ((60, "refilled all, five pounds"),),
    ((60, "all full"),),
    ((6, "forty acres done"),),
    ((120, "thirteen acres done"), (0, "all five pounds left")),
)
"""What is said so many minutes later, in a shift that begins with 40 lb in each hopper, for each question in turn."""


def night(said: tuple[tuple[float, str], ...]) -> tuple[Night, str]:
    """A shift with what was said in it, and the last answer."""
    shift, answer = Night(), ""
    shift.now = shift.shift.started
    for minutes, text in said:
        shift.now += timedelta(minutes=minutes)
        answer = shift.say(text).reply.text
    return shift, answer


def test_all_that_is_asked_back_is_asked() -> None:
    *questions, heard, back, clock = [cell.strip('"') for cell in first_cells("it asks")]
    assert heard == "Row five stopped?", "the golden conversation of what was heard unsurely has it"
    assert [night(said)[1] for said in PROVOKED] == questions
    assert back.startswith("The clock jumped back")
    asked = night(((13 * 60, "all good"),))[1]
    assert clock.startswith("No word since") and asked.rpartition(". ")[2] == clock.rpartition(". ")[2]


def test_a_rate_over_the_label_stops_planting_until_the_applicator_decides() -> None:
    shift, _ = night(PROVOKED[-1])
    assert "Stop planting" in shift.say("yes").reply.text
    assert "Over the label" in shift.say("all good").reply.text
    assert "Jones decides" in shift.say("the applicator is Jones").reply.text
    assert "Over the label" not in shift.say("all good").reply.text
