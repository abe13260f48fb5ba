"""The hands-free loop: hear, answer, speak, one step after another on one thread."""

from __future__ import annotations

import time
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass

from bot.handsfree.announcements import Announcements
from bot.handsfree.chime import called
from bot.handsfree.conversation import Conversation, HeardTurn
from bot.handsfree.headset import Change, Headset
from bot.handsfree.screen import FLOOR_DB, HandsfreeScreen, level_db
from bot.handsfree.texts import HandsfreeKey, HandsfreeOrder, HandsfreeTexts
from bot.handsfree.turn_taking import QueuedSpeech, TurnTaking
from engine.errors import WorldError
from engine.messages import Language, Reply
from speech.audio import AudioClip
from speech.endpoint import Endpointer, UtteranceSound
from speech.errors import SpeechError
from speech.synthesis.synthesizer import Synthesizer

PATIENCE_S = 0.1


@dataclass(frozen=True)
class ReplyVoices:
    """The voice of each language, None where there is none; ``pool`` is where it thinks."""

    voices: Callable[[Language], Synthesizer | None]
    pool: ThreadPoolExecutor


@dataclass
class _Speech:
    """A line being said: first it becomes sound, then it is played."""

    line: QueuedSpeech
    sound: Future[AudioClip]
    is_played: bool = False


class HandsfreeChannel:
    """Half duplex: while it speaks, and a moment after, what the microphone brings is dropped."""

    def __init__(
        self,
        conversation: Conversation,
        ears: Callable[[Language], Endpointer],
        mouth: ReplyVoices,
        headset: Headset,
        screen: HandsfreeScreen,
        texts: HandsfreeTexts,
        errand: Announcements,
    ) -> None:
        self._conversation, self._ears, self._mouth = conversation, ears, mouth
        self._headset, self._screen, self._texts, self._errand = headset, screen, texts, errand
        self._floor, self._db = TurnTaking(), FLOOR_DB
        self._speech: _Speech | None = None
        self._told: set[HandsfreeKey | Language] = set()
        self._stopped = False
        self._language = conversation.language
        self._ear = ears(self._language)

    def stop(self) -> None:
        """Let ``run`` come back. May be called from any thread."""
        self._stopped = True

    def run(self) -> None:
        """Greet, and go on until stopped."""
        self._listen()
        self._floor = self._floor.answer(self._asked_after(HandsfreeKey.BEGIN))
        try:
            while not self._stopped:
                self.step()
        finally:
            self._headset.close()
            self._mouth.pool.shutdown(wait=False, cancel_futures=True)

    def step(self) -> None:
        """A tenth of a second, longer where something must be decided."""
        self._mind_devices()
        for block in self._headset.blocks(PATIENCE_S):
            self._hear(block)
        self._collect()
        self._speak()
        self._screen.meter(self._db, self._say(self._doing()))

    # ---- hearing

    def _hear(self, block: bytes) -> None:
        self._db = level_db(block)
        if not self._floor.hears(time.monotonic()):
            return
        stretch = self._ear.feed(block)
        self._floor = self._floor.heard(self._ear.is_open)
        if stretch is not None:
            self._take(stretch)

    def _take(self, stretch: UtteranceSound) -> None:
        try:
            taken = self._conversation.take(stretch, self._floor.held)
            self._language = self._conversation.language
        except WorldError:
            taken = HeardTurn("", self._conversation.apology())
        match taken:
            case HeardTurn(heard, reply):
                if heard:
                    self._screen.heard(heard)
                self._floor = self._floor.answer(reply)
            case HandsfreeOrder.HOLD:
                self._floor = self._floor.hold(True).answer(Reply(text=self._say(HandsfreeKey.HOLD)))
            case HandsfreeOrder.GO_ON:
                self._floor = self._floor.hold(False).answer(self._asked_after(HandsfreeKey.GO_ON))
            case None:
                return

    def _asked_after(self, before: HandsfreeKey) -> Reply:
        """What is asked now, after a word of our own."""
        try:
            asked = self._conversation.prompt()
        except WorldError:
            asked = self._conversation.apology()
        return Reply(
            text=f"{self._say(before)} {asked.text}", speech=f"{self._say(before)} {asked.speech or asked.text}"
        )

    def _listen(self) -> None:
        """Begin anew, for what may be said now; for the same as before where the record cannot be read."""
        try:
            self._language = self._conversation.language
            self._ear = self._ears(self._language)
            self._ear.expect(self._conversation.grammar(self._floor.held))
        except WorldError:
            self._ear.forget()
        self._floor = self._floor.heard(False)

    # ---- speaking

    def _collect(self) -> None:
        line = self._errand.look(time.monotonic())
        if line is not None:
            self._floor = self._floor.announce(line)

    def _speak(self) -> None:
        if self._speech is not None:
            self._go_on_speaking(self._speech)
            return
        self._floor, line = self._floor.take()
        if line is None:
            return
        if line.key is not None and not self._errand.wanted(line.key):
            self._end(line, aloud=False)
            return
        self._screen.reply(line.reply)
        voice = self._mouth.voices(self._language)
        if voice is None:
            self._tell_once(self._language, HandsfreeKey.NO_VOICE)
        else:
            said = self._mouth.pool.submit(voice.speak, line.reply.speech or line.reply.text)
            self._speech = _Speech(line, said)
        self._listen()
        if voice is None:
            self._end(line, aloud=False)

    def _go_on_speaking(self, speech: _Speech) -> None:
        if self._headset.is_playing or not speech.sound.done():
            return
        if not speech.is_played and self._begin(speech):
            return
        if not self._headset.hush():
            self._tell_once(HandsfreeKey.LOUDSPEAKER_LOST, HandsfreeKey.LOUDSPEAKER_LOST)
        self._end(speech.line, aloud=speech.is_played)

    def _begin(self, speech: _Speech) -> bool:
        """Play it; False where it cannot be heard."""
        try:
            clip = speech.sound.result()
        except SpeechError as error:
            self._screen.notice(str(error))
            return False
        if not len(clip.samples):
            return False
        attempt = speech.line.attempt
        speech.is_played = self._headset.play(called(clip, attempt) if attempt else clip)
        if speech.is_played:
            self._told.discard(HandsfreeKey.LOUDSPEAKER_LOST)
        else:
            self._tell_once(HandsfreeKey.LOUDSPEAKER_LOST, HandsfreeKey.LOUDSPEAKER_LOST)
        return speech.is_played

    def _end(self, line: QueuedSpeech, aloud: bool) -> None:
        self._speech = None
        self._floor = self._floor.give(time.monotonic(), aloud)
        if line.key is not None:
            self._errand.said(line.key)

    # ---- devices and words about them

    def _mind_devices(self) -> None:
        match self._headset.watch(time.monotonic()):
            case Change.LOST:
                self._db = FLOOR_DB
                self._listen()
                self._put_up(HandsfreeKey.MICROPHONE_LOST)
            case Change.BACK:
                microphone = self._headset.microphone
                name = microphone.device.name if microphone else ""
                self._floor = self._floor.announce(
                    QueuedSpeech(Reply(text=self._say(HandsfreeKey.MICROPHONE_BACK, name=name)))
                )
            case None:
                return

    def _doing(self) -> HandsfreeKey:
        if self._headset.microphone is None:
            return HandsfreeKey.DEAF
        if self._floor.speaking:
            return HandsfreeKey.SPEAKING
        return HandsfreeKey.HELD if self._floor.held else HandsfreeKey.LISTENING

    def _tell_once(self, what: HandsfreeKey | Language, key: HandsfreeKey) -> None:
        if what not in self._told:
            self._told.add(what)
            self._put_up(key)

    def _put_up(self, key: HandsfreeKey) -> None:
        self._screen.notice(self._say(key))

    def _say(self, key: HandsfreeKey, **values: str) -> str:
        return self._texts.say(key, self._language, **values)
