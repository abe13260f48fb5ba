"""The recorded operator's lines are those that the planter and today's advice give, and every one has its note."""

from __future__ import annotations

from itertools import chain
from pathlib import Path

from demo.evening import ANSWERS, FILE, DemoLine, evening, load
from demo.letters import DemoStatus
from demo.play import FOLDER, answer
from engine.expectation import Asking

LINES = load()


def test_the_lines_are_what_the_planter_and_the_advice_give_today() -> None:
    assert evening() == LINES, "speak the evening again: python -m demo.recording"


def test_every_line_has_its_note_and_every_note_its_line() -> None:
    names = {line.note for line in (*LINES, *ANSWERS.values())}
    assert {path.stem for path in FOLDER.glob("*.ogg")} == names


def test_the_notes_stay_small() -> None:
    assert sum(path.stat().st_size for path in FILE.parent.rglob("*")) < 2**20


def test_eight_rows_are_caught_until_the_end_with_one_slip_and_one_crash() -> None:
    caught = list(chain.from_iterable(line.keeps for line in LINES if not line.crash))
    assert sum(line.crash for line in LINES) == 1
    assert {f"catch_mass {row}" for row in range(1, 9)} <= set(caught)
    assert [line.en for line in LINES if " was " in line.en]
    assert LINES[-1].keeps == {"again": "enough"}


def standing(asking: Asking, *choices: dict[str, str]) -> DemoStatus:
    return DemoStatus(turn=1, digest="", prompt="", asking=asking, choices=choices)


def test_the_operator_says_yes_only_to_what_he_said() -> None:
    meant = {"catch_mass 1": "64 g", "catch_mass 2": "78 g"}
    right, wrong = {"catch_mass 1": "64 g"}, {"catch_mass 1": "16.4 g"}
    assert answer(standing(Asking.CONFIRM, right), meant) == ANSWERS["yes"]
    assert answer(standing(Asking.CONFIRM, wrong), meant) == ANSWERS["no"]
    assert answer(standing(Asking.CHOOSE, wrong, right), meant) == ANSWERS["2"]
    assert answer(standing(Asking.SLOT), meant) is None


def test_a_note_is_named_by_its_words() -> None:
    assert DemoLine("row one 6, row two", "").note == "row-one-row-two"
    assert Path(f"{LINES[0].note}.ogg").name == "set-up.ogg"
