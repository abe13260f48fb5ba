"""The recorded operator's lines are those that the planter and today's advice give, and every one has its note."""

from __future__ import annotations

from itertools import chain, pairwise
from pathlib import Path

from demo.evening import evening
from demo.hoppers import STOPPED_ROW, STOPS
from demo.letters import DemoStatus
from demo.play import FOLDER, answer
from demo.script_lines import ANSWERS, FILE, DemoLine, DemoPart, load, notes
from engine.expectation import Asking

LINES = load()
NIGHT = [line for line in LINES if line.part is DemoPart.NIGHT]


def test_the_lines_are_what_the_planter_and_the_advice_give_today() -> None:
    assert evening() == LINES, "speak the evening again: python -m demo.recording"


def test_every_spoken_line_has_its_note_and_every_note_its_line() -> None:
    assert {path.stem for path in FOLDER.glob("*.ogg")} == notes(LINES).keys()


def test_only_names_are_typed() -> None:
    assert {place for line in LINES if line.typed for place in line.keeps} == {"product", "lot", "field", "field_area"}


def test_the_notes_stay_small() -> None:
    assert sum(path.stat().st_size for path in FILE.parent.rglob("*")) < 2**20


def test_eight_rows_are_caught_until_the_end_with_one_slip_and_one_crash() -> None:
    lines = [line for line in LINES if line.part is DemoPart.CALIBRATE]
    caught = list(chain.from_iterable(line.keeps for line in lines if not line.crash))
    assert sum(line.crash for line in LINES) == 1
    assert {f"catch_mass {row}" for row in range(1, 9)} <= set(caught)
    assert [line.en for line in lines if " was " in line.en]
    assert lines[-1].keeps == {"again": "enough"}


def test_the_evening_goes_one_way() -> None:
    assert all(one.at < other.at for one, other in pairwise(LINES))


def test_a_row_stops_between_two_looks_and_is_found_at_the_second() -> None:
    before, after = (
        next(line for line in NIGHT if place in line.keeps) for place in ("dropping", f"stopped {STOPPED_ROW}")
    )
    assert f"dropping {STOPPED_ROW}" in before.keeps
    assert before.at < STOPS < after.at
    assert NIGHT.index(after) == NIGHT.index(before) + 1


def test_the_row_that_stopped_kept_more_in_its_hopper() -> None:
    left = {
        place: float(value.removesuffix(" lb"))
        for line in NIGHT
        for place, value in line.keeps.items()
        if place.startswith("left ")
    }
    stopped = left.pop(f"left {STOPPED_ROW}")
    assert len(left) == 7
    assert stopped > max(left.values()) + 2


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
