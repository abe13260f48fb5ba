"""A verdict is short enough to be listened to: what is to be moved first, the rest counted, whole when asked."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from engine.dialog.reply.speech_text import Unshown, Unspoken, aloud, shown_text, spoken_text
from engine.messages import Reply
from speech.synthesis.voices import choose
from tests.helpers.talking import Conversation, beginnings

CATCHES = {
    "all differ": (58, 64, 70, 75, 84, 90, 96, 102),
    "three to move": (79, 79, 79, 70, 79, 79, 68, 85),
    "one to move": (79, 79, 79, 70, 79, 79, 79, 79),
    "none to move": (79, 79, 79, 79, 79, 79, 79, 79),
}
MOST_S = 8.0
"""Seconds in which a verdict of eight rows is said by espeak-ng."""
MORE = re.compile(r"(\w+) more: say “verdict”\.")
COUNTS = ("one", "two", "three", "four", "five", "six", "seven", "eight")


def judged(folder: Path, catches: tuple[int, ...]) -> tuple[Conversation, Reply]:
    talk = Conversation(folder / "talk.db")
    talk.say_all(beginnings()["prepared"] + beginnings()["catching"])
    weights = [f"row {row} {grams}" for row, grams in enumerate(catches, 1)]
    return talk, talk.say(", ".join(["forty one seconds", *weights])).reply


def verdict(reply: Reply) -> tuple[list[str], list[str]]:
    """The lines of a verdict as shown and as said, without what was read back and what is asked next."""
    shown, said = reply.text.splitlines(), reply.speech.splitlines()
    begin = next(place for place, line in enumerate(shown) if line.startswith("Run 1 ("))
    end = next(place for place, line in enumerate(shown) if line.startswith(("(Move those", "Nothing to", "All rows")))
    after = 1 + max(
        place for place, line in enumerate(said) if re.match("Rows? .*grams\\.$", line) and "gave" not in line
    )
    return shown[begin + 1 : end], said[after:-1]


@pytest.mark.parametrize("catches", CATCHES.values(), ids=CATCHES)
def test_a_verdict_of_eight_rows_is_said_in_eight_seconds(catches: tuple[int, ...], tmp_path: Path) -> None:
    voice = choose("en", "espeak-ng", by_espeak="en-us", cache=tmp_path / "said")
    if voice is None:
        pytest.skip("espeak-ng is not installed")
    _, said = verdict(judged(tmp_path, catches)[1])
    assert said
    assert voice.speak("\n".join(said)).duration_s <= MOST_S, said


@pytest.mark.parametrize("catches", CATCHES.values(), ids=CATCHES)
def test_no_row_to_be_moved_is_left_out_unsaid(catches: tuple[int, ...], tmp_path: Path) -> None:
    """The rows told, those counted as more and those of the last line are all there are to act on."""
    shown, said = verdict(judged(tmp_path, catches)[1])
    moved = [aloud(line, "en").replace(": to ", " to ") for line in shown if ": to " in line]
    unsaid = [line for line in moved if line not in said]
    more = sum(COUNTS.index(found[1]) + 1 for line in said if (found := MORE.fullmatch(line)))
    assert more >= len(unsaid), (unsaid, said)
    assert len(unsaid) < max(len(moved), 1)


def test_what_is_to_be_moved_is_said_first_and_good_rows_in_a_word(tmp_path: Path) -> None:
    _, said = verdict(judged(tmp_path, CATCHES["three to move"])[1])
    assert said[0] == "Row four to fifteen."
    assert said[-1] == "Rest good."


def test_the_whole_is_told_on_request(tmp_path: Path) -> None:
    talk, reply = judged(tmp_path, CATCHES["all differ"])
    shown, said = verdict(reply)
    assert any(map(MORE.fullmatch, said))
    whole = talk.say("verdict").reply.speech.splitlines()
    assert [aloud(line, "en") for line in shown] == whole[1 : 1 + len(shown)]


def test_rows_of_one_breath_are_read_back_in_one_and_shown_line_by_line(tmp_path: Path) -> None:
    _, reply = judged(tmp_path, CATCHES["all differ"])
    assert "Rows one to eight: five eight, six four, seven zero, seven five, eight four, nine zero, nine six, one zero two grams." in reply.speech  # fmt: skip # noqa: E501
    assert "Row 1, 58 g.\nRow 2, 64 g.\n" in reply.text


def test_only_what_was_just_said_is_read_back(tmp_path: Path) -> None:
    talk = Conversation(tmp_path / "talk.db")
    talk.say_all(beginnings()["prepared"] + beginnings()["catching"])
    talk.say("forty one seconds, row 1 79, row 2 79, row 3 81, row 4 70, row 5 80, row 6 79")
    said = talk.say("row 7 68, row 8 85").reply.speech
    assert said.startswith("Row seven, six eight grams.\nRow eight, eight five grams.\nRow four to")


def test_a_line_may_be_only_shown_or_only_said() -> None:
    lines = ["Row 2.", Unspoken("Row 3."), Unshown("Row 4."), ""]
    assert shown_text(lines) == "Row 2.\nRow 3."
    assert spoken_text(lines, "en") == "Row two.\nRow four."
