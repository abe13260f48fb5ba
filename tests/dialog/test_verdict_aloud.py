"""A verdict is short enough to be listened to: what is left out of it aloud is named, and said whole when asked for."""

from __future__ import annotations

from pathlib import Path

import pytest

from engine.dialog.aloud import Unshown, Unspoken, aloud, shown_text, spoken_text
from engine.dialog.step_text import MOST_WORDS
from tests.helpers.talking import Conversation, beginnings

CATCHES = {
    "all differ": (58, 64, 70, 75, 84, 90, 96, 102),
    "three to move": (79, 79, 79, 70, 79, 79, 68, 85),
    "none to move": (79, 79, 79, 79, 79, 79, 79, 79),
}
REST = 9
"""Words of the line that names the rows left out."""


def verdict(folder: Path, catches: tuple[int, ...]) -> tuple[Conversation, list[str], list[str]]:
    """The conversation after a run of these catches, and the lines of its verdict as shown and as said."""
    talk = Conversation(folder / "talk.db")
    talk.say_all(beginnings()["prepared"] + beginnings()["catching"])
    weights = [f"row {row} {grams}" for row, grams in enumerate(catches, 1)]
    reply = talk.say(", ".join(["forty one seconds", *weights])).reply
    shown, said = reply.text.splitlines(), reply.speech.splitlines()
    begin = next(place for place, line in enumerate(shown) if line.startswith("Run 1 ("))
    end = next(place for place, line in enumerate(shown) if line.startswith(("(Move those", "Nothing to", "All rows")))
    read_back = begin
    after = ("Nothing to", "All rows", "Run two", "Say done", "Next,", "Once more")
    finish = next(i for i, one in enumerate(said) if i >= begin and one.startswith(after))
    return talk, shown[begin + 1 : end], said[read_back:finish]


@pytest.mark.parametrize("catches", CATCHES.values(), ids=CATCHES)
def test_a_verdict_of_eight_rows_is_short_aloud(catches: tuple[int, ...], tmp_path: Path) -> None:
    """Within its words, but for the first line of rows that are told one by one: that is said however long it is."""
    _, _, said = verdict(tmp_path, catches)
    assert said
    assert len(" ".join(said).split()) <= MOST_WORDS + REST + (len(said[0].split()) if "gave" in said[0] else 0)


def test_rows_that_are_not_said_are_named_and_told_on_request(tmp_path: Path) -> None:
    talk, shown, said = verdict(tmp_path, CATCHES["all differ"])
    *first, rest = said
    assert first == [line for line in (aloud(line, "en") for line in shown) if line in first]
    assert 0 < len(first) < len(shown)
    assert rest.endswith("too: say “verdict”.")
    whole = talk.say("verdict").reply.speech.splitlines()
    assert [aloud(line, "en") for line in shown] == whole[1 : 1 + len(shown)]


def test_a_line_may_be_only_shown_or_only_said() -> None:
    lines = ["Row 2.", Unspoken("Row 3."), Unshown("Row 4."), ""]
    assert shown_text(lines) == "Row 2.\nRow 3."
    assert spoken_text(lines, "en") == "Row two.\nRow four."
