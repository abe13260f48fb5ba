"""The hands-free channel with a voice that speaks like an operator, to see whether it listens to itself.

``python -m tests.helpers.echo RECORD RECORDING [listening]`` says the recording as its greeting; with the last
word it hears while it speaks.
"""

from __future__ import annotations

import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from rich.console import Console

from bot.handsfree import turn_taking
from bot.handsfree.announcements import Announcements
from bot.handsfree.channel import HandsfreeChannel, ReplyVoices
from bot.handsfree.command import until_stopped
from bot.handsfree.conversation import Conversation
from bot.handsfree.headset import Headset
from bot.handsfree.screen import HandsfreeScreen
from bot.handsfree.sound import Kind, Sound, portaudio
from bot.handsfree.texts import HandsfreeTexts
from engine.assistant import Assistant
from engine.database import open_database
from engine.queues.outbox import Outbox
from speech import recognizer_choice
from speech.audio import AudioClip, decode
from speech.endpoint import endpointer
from tests.helpers.lessons import tutor


class Parrot:
    """Says the same recording whatever the text."""

    name = identity = "parrot"

    def __init__(self, recording: Path) -> None:
        self.recording = recording

    def speak(self, text: str) -> AudioClip:
        return decode(self.recording)


def main(record: str, recording: str, *more: str) -> None:
    if more:
        turn_taking.TurnTaking.hears = lambda self, now: True  # type: ignore[method-assign]
    database = open_database(record)
    teaching = tutor(Path(record).parent, database)
    conversation = Conversation(Assistant(database), HandsfreeTexts.load(), recognizer_choice.choose, teaching)
    mouth = ReplyVoices(lambda language: Parrot(Path(recording)), ThreadPoolExecutor(1))
    headset = Headset(Sound(portaudio()), {Kind.INPUT: None, Kind.OUTPUT: None})
    with HandsfreeScreen(Console(highlight=False)) as screen:
        until_stopped(
            HandsfreeChannel(
                conversation, endpointer, mouth, headset, screen, HandsfreeTexts.load(), Announcements(Outbox(database))
            )
        )


if __name__ == "__main__":
    try:
        main(*sys.argv[1:])
    except KeyboardInterrupt:
        sys.exit(130)
