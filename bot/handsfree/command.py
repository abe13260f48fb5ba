"""``rowhand handsfree``: the parts put together."""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, nullcontext, suppress
from functools import cache, partial
from types import FrameType

from rich.console import Console

from bot.handsfree.announcements import Announcements
from bot.handsfree.channel import HandsfreeChannel, ReplyVoices
from bot.handsfree.conversation import Conversation
from bot.handsfree.headset import Headset
from bot.handsfree.screen import HandsfreeScreen
from bot.handsfree.sound import Kind, Sound, listing, portaudio
from bot.handsfree.texts import HandsfreeTexts
from bot.settings import Settings
from bot.wiring import open_record, rules, tutor, voice, watch
from engine.assistant import Assistant
from engine.messages import Language
from engine.queues.outbox import Outbox
from speech import recognizer_choice
from speech.endpoint import endpointer


def devices() -> list[str]:
    """One line for each sound device; raises SoundMissing."""
    with _quiet_libraries():
        return listing(Sound(portaudio()))


def run(
    settings: Settings,
    language: Language | None,
    wanted: dict[Kind, str | None],
    person: str | None = None,
    lesson: bool = False,
) -> str | None:
    """Talk until stopped by hand, or with ``lesson`` to its end; gives what came of a lesson.

    Raises ModelMissing where the language cannot be heard, SoundMissing, DeviceUnknown, and what ``bot.wiring`` raises.
    """
    record = open_record(settings)
    assistant = Assistant(record, rules(settings))
    teaching = tutor(settings, record, person)
    conversation = Conversation(
        assistant,
        HandsfreeTexts.load(),
        lambda spoken: recognizer_choice.choose(spoken, settings.recognizer.value, settings.models),
        teaching,
    )
    hearing = cache(lambda spoken: endpointer(spoken, settings.models))
    hearing(language or conversation.language)
    with _quiet_libraries():
        sound = Sound(portaudio())
        for kind, name in wanted.items():
            if name is not None:
                sound.named(kind, name)
        if lesson:
            conversation.learn(language or conversation.language)
        elif language is not None:
            conversation.speak(language)
        mouth = ReplyVoices(cache(partial(voice, settings)), ThreadPoolExecutor(1, thread_name_prefix="mouth"))
        with HandsfreeScreen(Console(highlight=False, emoji=False)) as screen:
            headset = Headset(sound, wanted)
            errand = Announcements(Outbox(record), watch(settings, assistant, record).step)
            channel = HandsfreeChannel(conversation, hearing, mouth, headset, screen, HandsfreeTexts.load(), errand)
            if lesson:
                teaching.ended = channel.stop
            with suppress(KeyboardInterrupt) if lesson else nullcontext():
                until_stopped(channel)
    return teaching.outcome


def until_stopped(channel: HandsfreeChannel) -> None:
    """Run; the first Ctrl-C ends the step that is under way and then raises KeyboardInterrupt, the second one at once.

    Raised anywhere it could get lost: Python drops what is raised while an object is freed.
    """

    def stop(number: int, frame: FrameType | None) -> None:  # noqa: ARG001
        signal.signal(signal.SIGINT, before)
        channel.stop()

    before = signal.signal(signal.SIGINT, stop)
    try:
        channel.run()
    finally:
        signal.signal(signal.SIGINT, before)
    raise KeyboardInterrupt


@contextmanager
def _quiet_libraries() -> Iterator[None]:
    """Sound libraries write what goes wrong inside them to standard error: over the meter, and told better by us."""
    sys.stderr.flush()
    kept, nowhere = os.dup(2), os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 2)
    before = sys.stderr
    sys.stderr = os.fdopen(os.dup(kept), "w", buffering=1)
    try:
        yield
    finally:
        sys.stderr.close()
        sys.stderr = before
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nowhere)
