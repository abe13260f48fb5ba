"""Where somebody begins and ends to speak, told while the sound still comes in.

A Vosk decoder held to a grammar hears every block as it arrives. It knows a whole sentence from half a one, so that a
short pause ends the first and not the second; the pauses are those of the model's ``conf/model.conf`` (Kaldi's
endpoint rules). What was said is not decided here: the sound goes whole to a ``Recognizer``.

Memory is bounded: before the first word only the last ``LEAD_S`` are kept, after it at most the longest utterance, and
Vosk begins anew at every end, and after every ``IDLE_S`` without a word.
"""

from __future__ import annotations

import json
from collections import OrderedDict
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import vosk

from speech import recognizer_choice
from speech.audio import SAMPLE_RATE_HZ, AudioClip, clip
from speech.decoding import closed
from speech.decoding import grammar as grammars
from speech.decoding.transducer import UNKNOWN
from speech.errors import GrammarError, ModelBroken, ModelMissing

BYTES_A_SECOND = 2 * SAMPLE_RATE_HZ
LONGEST_S = 14.0
"""Less than the 20 seconds of Kaldi's fifth rule: the longest end is ours."""
LEAD_S = 1.0
IDLE_S = 1.2
"""Vosk begins anew after so long without a word: what it makes of a longer stretch of near silence costs it seconds."""
SEAM_S = 0.6
"""Heard again at each new beginning."""
CALM, CALM_PIECES = 1.5, 6
"""The loudest tenth of a second of the seam is so many times the quietest: where a word begins it is more."""
GRAMMARS_KEPT = 2


@dataclass(frozen=True, slots=True, eq=False)
class UtteranceSound:
    """The sound of one utterance with a little before it.

    ``words`` are those of the grammar that the endpoint itself made out, empty where it was other talk or noise;
    ``is_cut`` says that it was ended for its length.
    """

    clip: AudioClip
    words: tuple[str, ...]
    is_cut: bool = False


class Endpointer:
    """Hears blocks of 16-bit mono at 16 kHz with one Vosk model. ``expect`` a grammar before the first ``feed``."""

    def __init__(self, folder: Path, longest_s: float = LONGEST_S, language: str = "en") -> None:
        self.folder, self.longest_s, self.language = folder, longest_s, language
        self.is_open = False
        """Whether somebody is in the middle of speaking."""
        self._sound, self._idle_s = bytearray(), 0.0
        self._decoders: OrderedDict[str, Any] = OrderedDict()
        self._decoder: Any = None

    def expect(self, grammar: str) -> None:
        """Listen for the sentences of a JSGF text from now on, and forget what was heard before.

        Raises GrammarError, or ModelBroken where the model cannot be loaded.
        """
        if grammar not in self._decoders:
            self._decoders[grammar] = self._made(grammar)
        self._decoders.move_to_end(grammar)
        while len(self._decoders) > GRAMMARS_KEPT:
            self._decoders.popitem(last=False)
        self._decoder = self._decoders[grammar]
        self.forget()

    def forget(self) -> None:
        """Begin anew."""
        self._sound.clear()
        self.is_open, self._idle_s = False, 0.0
        self._decoder.Reset()

    def feed(self, block: bytes) -> UtteranceSound | None:
        """Hear one block; the whole utterance where it ends in this one."""
        self._sound += block
        if self._decoder.AcceptWaveform(block):
            if self.is_open:
                return self._ended(self._decoder.Result())
            self._begin_anew()
        self.is_open = self.is_open or bool(json.loads(self._decoder.PartialResult())["partial"])
        self._idle_s = 0.0 if self.is_open else self._idle_s + len(block) / BYTES_A_SECOND
        if self._idle_s >= IDLE_S and self._is_calm():
            self._begin_anew()
        if not self.is_open:
            self._keep(LEAD_S)
        elif len(self._sound) >= self.longest_s * BYTES_A_SECOND:
            return self._ended(self._decoder.FinalResult(), is_cut=True)
        return None

    def _ended(self, result: str, is_cut: bool = False) -> UtteranceSound:
        words = tuple(word for word in json.loads(result)["text"].split() if word != UNKNOWN)
        sound = np.frombuffer(bytes(self._sound), "<i2") / 32768
        self.forget()
        return UtteranceSound(clip(sound, SAMPLE_RATE_HZ), words, is_cut)

    def _begin_anew(self) -> None:
        """After a while of nothing; what was kept stays, and its end is heard again."""
        self._decoder.Reset()
        self._decoder.AcceptWaveform(bytes(self._sound[-round(SEAM_S * BYTES_A_SECOND) :]))
        self._idle_s = 0.0

    def _is_calm(self) -> bool:
        """Whether the last ``SEAM_S`` are as even as noise: no word is beginning."""
        tail = np.frombuffer(bytes(self._sound[-round(SEAM_S * BYTES_A_SECOND) :]), "<i2").astype(np.float32)
        pieces = tail[: len(tail) // CALM_PIECES * CALM_PIECES].reshape(CALM_PIECES, -1)
        levels = np.sqrt(np.mean(pieces**2, axis=1))
        return bool(levels.max() <= CALM * max(levels.min(), 1.0))

    def _keep(self, seconds: float) -> None:
        del self._sound[: -round(seconds * BYTES_A_SECOND)]

    def _made(self, grammar: str) -> Any:
        automaton = grammars.automaton(grammar)
        vosk.SetLogLevel(-1)
        try:
            if closed.supports(self.folder):
                made = closed.load(self.folder, automaton, language=self.language)
                return vosk.KaldiRecognizer(made, SAMPLE_RATE_HZ)
            model = vosk.Model(str(self.folder))
        except Exception as error:
            raise ModelBroken(self.folder, str(error)) from error
        known = sorted(word for word in automaton.words() if model.vosk_model_find_word(word) >= 0)
        if not known:
            raise GrammarError("words", "the model knows none of them")
        return vosk.KaldiRecognizer(model, SAMPLE_RATE_HZ, json.dumps([*known, UNKNOWN], ensure_ascii=False))


def endpointer(language: str, models: Path | None = None) -> Endpointer:
    """The endpointer for a language, with its model of ``speech.recognizer_choice``; raises ModelMissing."""
    folder = recognizer_choice.model(language, models)
    if folder is None:
        raise ModelMissing(language, "vosk", f"rowhand models install SOURCE --language {language} adds one")
    return Endpointer(folder.resolve(), language=language)
