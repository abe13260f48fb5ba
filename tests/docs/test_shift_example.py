"""The shift in the README: its conversation is a golden one, its tables say what is understood and asked."""

from __future__ import annotations

import re
from functools import cache

import pytest
import yaml

from engine.dialog.interpreter import Interpreter
from engine.dialog.state import ConversationState
from engine.entries.reader import read
from engine.entries.vocabulary import load_vocabulary
from engine.messages import Asked, Commanded, Given, Opened, Reported, Utterance
from tests.dialog.test_laws import beginning, interpreter
from tests.docs.examples import README, ROOT, examples, golden
from tests.helpers.talking import START

TEXT = README.read_text(encoding="utf-8")
CHAPTER = TEXT.partition("\n## A shift\n")[2].partition("\n## ")[0]
ASKED_BACK = "it asks"


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


def test_every_turn_of_the_shift_in_the_readme_is_played() -> None:
    (found,) = [one for one in examples(TEXT) if one.is_golden]
    assert len(found.said) > 8
    assert found.body == golden(found)


@pytest.mark.parametrize("said", [one for one in told() if one not in PARTS])
def test_all_that_may_be_said_is_understood(said: str) -> None:
    talk, now = state()
    expected = talk.expectation(now)
    heard = Utterance(id=said, conversation="c", text=said, language="en", said_at=START)
    entries = read(heard, expected, load_vocabulary("en")).entries
    assert entries
    assert [one for one in entries if not isinstance(one, Reported | Given | Commanded | Asked | Opened)] == []


def test_all_that_is_asked_back_is_a_text() -> None:
    texts = yaml.safe_load((ROOT / "dialogs" / "house.yaml").read_text(encoding="utf-8"))["texts"]
    forms = [re.sub(r"\\\{\w+\\\}", ".+", re.escape(text["en"])) for key, text in texts.items() if "shift_" in key]
    questions = [cell.strip('"') for cell in first_cells(ASKED_BACK)]
    assert len(questions) > 4
    assert [one for one in questions if not any(re.fullmatch(form, one) for form in forms)] == ["Row five stopped?"]
