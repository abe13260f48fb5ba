"""The shift in the README is the one that the golden conversation plays."""

from __future__ import annotations

import re

import yaml

from tests.docs.examples import README, ROOT


def test_every_turn_of_the_shift_in_the_readme_is_played() -> None:
    chapter = README.read_text(encoding="utf-8").partition("\n## A shift\n")[2].partition("\n## ")[0]
    block = re.search(r"```text\n(.*?)```", chapter, re.DOTALL)
    assert block
    played = yaml.safe_load((ROOT / "tests" / "conversations" / "shift.yaml").read_text(encoding="utf-8"))["turns"]
    turns = [(turn["say"], turn["reply"].splitlines()) for turn in played]
    shown = [part.splitlines() for part in block[1].split("> ")[1:]]
    assert len(shown) > 8
    for say, *reply in shown:
        assert (say, reply) in turns
