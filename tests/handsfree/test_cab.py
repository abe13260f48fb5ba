"""``rowhand handsfree`` through PortAudio on a virtual sound card: real speech in, real sound out."""

from __future__ import annotations

from pathlib import Path

import pytest

from bot.console import Talk
from bot.settings import CONVERSATION
from demo.recording import FOLDER
from engine.assistant import Assistant
from engine.database import open_database
from speech.synthesis import voices
from tests.helpers.cab import ANSWERED_S, TRIES, Cab, Voice
from tests.helpers.talking import beginnings

pytestmark = pytest.mark.xdist_group("sound card")


def prepared(folder: Path, *more: str) -> str:
    """A record whose planter is set up, and what else was typed before."""
    record = str(folder / "evening.db")
    talk = Talk(Assistant(open_database(record)))
    for line in (*beginnings()["prepared"], *more):
        talk.hear(line)
    return record


def settings(record: str) -> list[object]:
    state = Assistant(open_database(record)).state(CONVERSATION)
    assert state.dialog is not None
    return [setting.label for setting in state.dialog.rows["dial_setting"].values()]


VOICE = Path(__file__).parent / "voice"
"""Two phrases more by the voice of the demo."""


def say(cab: Cab, voice: Voice, note: Path, answer: str, silence_s: float = 0.9) -> None:
    """Say a recorded note once the program was quiet for so long, and wait for what it answers.

    While it makes a sentence to say it is quiet and hears nothing, the longer the busier the machine is: like an
    operator who gets no answer, say it again.
    """
    seen = len(voice.lines)
    for _ in range(TRIES):
        cab.wait_until_quiet(silence_s)
        cab.say(note)
        if voice.shows(answer, ANSWERED_S, after=seen):
            return
    voice.wait_for(answer, after=seen)


def test_what_was_set_up_by_typing_goes_on_hands_free(cab: Cab, tmp_path: Path) -> None:
    record = prepared(tmp_path, "test run")
    voice = cab.run("-m", "bot.cli", "handsfree", "--db", record)
    try:
        voice.wait_for("What are the dials set to?")
        say(cab, voice, FOLDER / "evening/all-seventeen.ogg", "Rows 1-8: setting 17.")
        if voices.choose("en") is not None:
            cab.wait_until_loud(1.0)
    finally:
        code = voice.stop()
    assert code == 130
    assert settings(record) == ["17"] * 8


@pytest.mark.parametrize("listens_to_itself", [False, True])
def test_it_hears_neither_itself_nor_anybody_while_it_is_told_to_wait(
    cab: Cab, tmp_path: Path, listens_to_itself: bool
) -> None:
    """Its voice says what an operator would; where it listened while it speaks, it would answer itself."""
    record, note = str(tmp_path / "echo.db"), FOLDER / "test-run.ogg"
    cab.loop()
    voice = cab.run("-m", "tests.helpers.echo", record, str(note), *(["listening"] if listens_to_itself else []))
    try:
        voice.wait_for("Listening.")
        if listens_to_itself:
            voice.wait_for("> test run")
        else:
            cab.wait_until_loud(0.5)
            cab.wait_until_quiet(1.6)
            assert [line for line in voice.lines if line.startswith(">")] == []
            say(cab, voice, VOICE / "wait-a-minute.ogg", "I wait.")
            cab.wait_until_quiet(1.0)
            cab.say(note)
            cab.wait_until_quiet(1.0)
            assert voice.lines[-1].startswith("I wait.")
            say(cab, voice, VOICE / "carry-on.ogg", "Listening again.")
    finally:
        voice.stop()


def test_it_goes_on_when_the_headset_is_plugged_in_again(cab: Cab, tmp_path: Path) -> None:
    record = prepared(tmp_path)
    voice = cab.run("-m", "bot.cli", "handsfree", "--db", record)
    try:
        voice.wait_for("Listening.")
        cab.unplug()
        voice.wait_for("The microphone is gone.")
        cab.plug()
        voice.wait_for("I have a microphone again")
        say(cab, voice, FOLDER / "test-run.ogg", "What are the dials set to?", silence_s=2.0)
    finally:
        voice.stop()
