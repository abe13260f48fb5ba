"""Doubtful values of one utterance are asked one after another: whatever is answered, none is lost or kept unasked."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from engine.entries.numerals import spell
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
