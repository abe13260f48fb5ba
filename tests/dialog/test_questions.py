"""Doubtful values of one utterance are asked one after another: whatever is answered, none is lost or kept unasked."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from engine.entries.matching.numerals import spell
from engine.expectation import Asking
from tests.helpers.talking import Conversation, beginnings

ROWS = range(1, 9)


def catching(folder: Path) -> Conversation:
    talk = Conversation(folder / "talk.db")
    talk.say_all(beginnings()["prepared"] + beginnings()["catching"])
    return talk


def kept(talk: Conversation) -> dict[int, float]:
    dialog = talk.assistant.state("c").dialog
    return {row: value.value for row, value in dialog.rows.get("catch_mass", {}).items()}


@pytest.mark.parametrize("seed", range(10))
def test_every_doubtful_value_is_asked_and_kept_with_a_yes(seed: int, tmp_path: Path) -> None:
    chance = random.Random(seed)
    talk = catching(tmp_path)
    said = dict(zip(chance.sample(ROWS, 5), chance.sample((72, 74, 76, 78, 82, 84), 5), strict=True))
    talk.say(" ".join(f"row {spell(row, 'en')} {spell(grams, 'en')}" for row, grams in said.items()), "badly")
    agreed: dict[int, float] = {}
    asked = 0
    for _ in range(2 * len(said)):
        expects = talk.expects
        if expects.asking is Asking.SLOT:
            break
        asked += 1
        yes = chance.random() < 0.7
        before = kept(talk)
        first = "first" if expects.asking is Asking.CHOOSE else "yes"
        talk.say(first if yes else "no", "well")
        new = {row: value for row, value in kept(talk).items() if row not in before}
        assert bool(new) == yes
        agreed |= new
    assert (asked, talk.expects.asking) == (len(said), Asking.SLOT)
    assert kept(talk) == agreed
    assert set(talk.expects.slots[0].open_rows) == set(ROWS) - set(agreed)


def test_what_is_asked_later_is_said_at_once(tmp_path: Path) -> None:
    """While another question is open, a new catch is read back, and one that replaces another is announced."""
    talk = catching(tmp_path)
    talk.say_all(["row one seventy nine grams", "row three eighty one grams", "row one eighty three grams"])
    assert talk.say("row four seventy eight grams").reply.text.startswith("Row 4, 78 g.")
    told = talk.say("row three eighty five grams").reply.text
    assert told.startswith("Row 3, 85 g: I ask about that next.") and "Row 1 was 79 g" in told
    assert "Row 3 was 81 g" in talk.say("yes").reply.text
    talk.say("yes")
    assert kept(talk) == {1: 83, 3: 85, 4: 78}


@pytest.mark.parametrize(("language", "said"), [("en", ["ready check", "8"]), ("es", ["español", "revisión", "8"])])
def test_one_button_answers_for_all_rows(tmp_path: Path, language: str, said: list[str]) -> None:
    talk = Conversation(tmp_path / "talk.db")
    talk.say_all(said)
    (button,) = talk.assistant.prompt("c").buttons
    assert (button.label, button.says) in (("All rows: fit", "all fit"), ("Todos los surcos: bien", "todos listos"))
    talk.say(button.says)
    dialog = talk.assistant.state("c").dialog
    assert dialog is not None and set(dialog.rows["condition"].values()) == {"fit"}
    assert len(dialog.rows["condition"]) == 8


def test_the_button_for_all_rows_goes_once_a_row_is_answered(tmp_path: Path) -> None:
    talk = Conversation(tmp_path / "talk.db")
    talk.say_all(["ready check", "8", "row three hose"])
    assert not any("All rows" in one.label for one in talk.assistant.prompt("c").buttons)
