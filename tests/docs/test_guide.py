"""All that the guide says may be said is understood where it may be said; what it shows is tested in ``test_pages``."""

from __future__ import annotations

import re
from functools import cache

import pytest

from engine.dialog.facts.state import ConversationState
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.entries.strict_reader import read
from engine.messages import Utterance
from tests.dialog.test_laws import PLACES, Pure, beginning, interpreter
from tests.docs.examples import GUIDE
from tests.helpers.talking import START, beginnings

TEXT = GUIDE.read_text(encoding="utf-8")
NOT_SAID = {"record.db.said", "rowhand talk", "NO_COLOR", "exit", "quit", "salir", "ROWHAND_ADVICE"}
"""What stands in the type of a sentence, and is none."""
WHERE = {
    "Talking": "catching",
    "What can be asked": "planting",
    "The parts of the job": "nothing",
    "Calibrating": "catching",
    "Reminders": "planting",
    "The years of a row": "nothing",
    "The application record": "nothing",
}
"""In which place of a conversation the sentences of each chapter may be said."""
ELSEWHERE = {
    "what is my row spacing": ["set up", "eight", "thirty inches"],
    "all fit but row three hose": ["ready check", "eight"],
    "measure it": [*beginnings()["tubes"][:-2]],
    "row two level four": [*beginnings()["tubes"], "test run", "all at twelve"],
}
"""What has to be said before, for sentences that belong to another place."""


def chapter(title: str) -> str:
    """The chapter without its blocks and the chapters below it."""
    found = re.search(rf"^##+ {re.escape(title)}\n(.*?)(?=^##|\Z)", TEXT, re.MULTILINE | re.DOTALL)
    assert found, title
    return re.sub(r"^```.*?^```$", "", found[1], flags=re.MULTILINE | re.DOTALL)


def sentences() -> list[tuple[str, str]]:
    """Every sentence with the place where it may be said."""
    found = [
        (place, " ".join(said.split()))
        for title, place in WHERE.items()
        for said in re.findall(r"`([^`]+)`", chapter(title))
    ]
    return [
        one for one in dict.fromkeys(found) if one[1] not in NOT_SAID and not one[1].startswith(("ROWHAND", "rowhand"))
    ]


@cache
def at(place: str) -> ConversationState:
    return beginning(place)


def after(said: list[str]) -> ConversationState:
    talk = Pure()
    talk.say_all(said)
    return talk.state


def test_there_is_much_to_say() -> None:
    assert len(sentences()) > 50
    assert set(WHERE.values()) <= set(PLACES)


@pytest.mark.parametrize(("place", "said"), sentences())
def test_what_may_be_said_is_understood(place: str, said: str) -> None:
    now = after(ELSEWHERE[said]) if said in ELSEWHERE else at(place)
    heard = Utterance(id=said, conversation="c", text=said, language="en", said_at=START)
    reading = read(heard, interpreter().expectation(now), load_vocabulary("en"))
    assert reading.entries and not [one for one in reading.entries if one.kind == "unclear"], reading
