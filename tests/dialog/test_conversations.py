"""Golden conversations: the real assistant on a database, turn by turn as the files say."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml

from engine.messages import System
from tests.helpers.talking import Conversation, beginnings, caught, told_facts

FOLDER = Path(__file__).parents[1] / "conversations"
FILES = sorted(FOLDER.glob("*.yaml"))
RUNS = 8


@cache
def conversation(path: Path) -> dict[str, Any]:
    found: dict[str, Any] = yaml.safe_load(path.read_text(encoding="utf-8"))
    return found


def test_the_conversations_were_found() -> None:
    languages = [conversation(path)["language"] for path in FILES]
    assert len(FILES) >= 25
    assert languages.count("es") >= 6


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_conversation_goes_as_written(path: Path, tmp_path: Path) -> None:
    script = conversation(path)
    talk = Conversation(tmp_path / "talk.db", script["language"], System(script.get("system", "us")))
    for name in script.get("begins", ()):
        talk.say_all(beginnings()[name])
    for number, turn in enumerate(script["turns"], 1):
        problems = take(talk, turn, script)
        assert not problems, f"turn {number}, {turn.get('say', 'drive')}: {problems}"


def take(talk: Conversation, turn: dict[str, Any], script: dict[str, Any]) -> list[str]:
    """Say one turn and list what is not as written."""
    if turn.get("restart"):
        talk.restart()
    talk.wait(turn.get("wait", 0))
    if "drive" in turn:
        return drive(talk, script["planter"], turn)
    answered = talk.say(turn["say"], turn.get("heard"))
    text = answered.reply.text
    problems = [f"{part!r} is missing in {text!r}" for part in turn.get("has", ()) if part not in text]
    problems += [f"{part!r} stands in {text!r}" for part in turn.get("hasn't", ()) if part in text]
    if "buttons" in turn and turn["buttons"] != (says := [button.says for button in answered.reply.buttons]):
        problems.append(f"buttons {says}")
    if "reply" in turn and turn["reply"].splitlines() != text.splitlines():
        problems.append(f"reply {text!r}")
    if "facts" in turn and turn["facts"] != (facts := told_facts(answered)):
        problems.append(f"facts {facts}")
    asks = talk.asks
    if "asks" in turn and turn["asks"] != asks:
        problems.append(f"asks {asks}")
    if asks is not None and "?" not in text.splitlines()[-1] and not text.endswith("."):
        problems.append(f"no question at the end of {text!r}")
    return problems


def drive(talk: Conversation, planter: dict[str, Any], turn: dict[str, Any]) -> list[str]:
    """Catch what a planter gives, run after run, until something else than catches is asked for."""
    collecting = talk.asks
    for run in range(1, RUNS + 1):
        answered = talk.say(caught(talk.settings(), planter))
        if talk.asks != collecting:
            missing = [part for part in turn.get("has", ()) if part not in answered.reply.text]
            wrong = [] if talk.asks == turn["drive"] else [f"asks {talk.asks}"]
            return (
                wrong
                + [f"{part!r} is missing in {answered.reply.text!r}" for part in missing]
                + ([f"{run} runs"] if run > turn.get("runs", RUNS) else [])
            )
    return [f"still catching after {RUNS} runs"]
