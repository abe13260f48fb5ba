"""Where somebody begins and ends to speak, told while the sound still comes in.

A Vosk decoder held to a grammar hears every block as it arrives. It knows a whole sentence from half a one, so that a
short pause ends the first and not the second; the pauses are those of the model's ``conf/model.conf`` (Kaldi's
endpoint rules). What was said is not decided here: the sound goes whole to a ``Recognizer``.

Memory is bounded: before the first word only the last ``LEAD_S`` are kept, after it at most the longest utterance, and
Vosk begins anew at every end, which comes after five seconds of nothing at the latest.
"""

from __future__ import annotations

import json
from collections import OrderedDict
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import vosk

from speech import closed, ears
from speech import grammar as grammars
from speech.audio import SAMPLE_RATE_HZ, AudioClip, clip
from speech.errors import GrammarError, ModelBroken, ModelMissing
from speech.transducer import UNKNOWN

BYTES_A_SECOND = 2 * SAMPLE_RATE_HZ
LONGEST_S = 14.0
"""With five seconds of nothing before it less than the 20 seconds of Kaldi's fifth rule: the longest end is ours."""
LEAD_S = 1.0
SEAM_S = 0.3
"""Heard again after an end in silence, so that a word which begins right there is whole."""
GRAMMARS_KEPT = 2


@dataclass(frozen=True, slots=True, eq=False)
class Stretch:
    """The sound of one utterance with a little before it.

    ``words`` are those of the grammar that the endpoint itself made out, empty where it was other talk or noise;
    ``is_cut`` says that it was ended for its length.
    """

    clip: AudioClip
    words: tuple[str, ...]
    is_cut: bool = False


class Endpointer:
    """Hears blocks of 16-bit mono at 16 kHz with one Vosk model. ``expect`` a grammar before the first ``feed``."""

    def __init__(self, folder: Path, longest_s: float = LONGEST_S) -> None:
        self.folder, self.longest_s = folder, longest_s
        self.is_open = False
        """Whether somebody is in the middle of speaking."""
        self._sound = bytearray()
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
        self.is_open = False
        self._decoder.Reset()

    def feed(self, block: bytes) -> Stretch | None:
        """Hear one block; the whole utterance where it ends in this one."""
        self._sound += block
        if self._decoder.AcceptWaveform(block):
            return self._ended(self._decoder.Result())
        self.is_open = self.is_open or bool(json.loads(self._decoder.PartialResult())["partial"])
        if not self.is_open:
            self._keep(LEAD_S)
        elif len(self._sound) >= self.longest_s * BYTES_A_SECOND:
            return self._ended(self._decoder.FinalResult(), is_cut=True)
        return None

    def _ended(self, result: str, is_cut: bool = False) -> Stretch | None:
        was_open, sound = self.is_open, bytes(self._sound)
        words = tuple(word for word in json.loads(result)["text"].split() if word != UNKNOWN)
        self._keep(SEAM_S)
        seam = bytes(self._sound) if not was_open else b""
        self.forget()
        if not was_open:
            self._sound += seam
            self._decoder.AcceptWaveform(seam)
            return None
        return Stretch(clip(np.frombuffer(sound, "<i2") / 32768, SAMPLE_RATE_HZ), words, is_cut)

    def _keep(self, seconds: float) -> None:
        del self._sound[: -round(seconds * BYTES_A_SECOND)]

    def _made(self, grammar: str) -> Any:
        automaton = grammars.automaton(grammar)
        vosk.SetLogLevel(-1)
        try:
            if closed.supports(self.folder):
                return vosk.KaldiRecognizer(closed.load(self.folder, automaton), SAMPLE_RATE_HZ)
            model = vosk.Model(str(self.folder))
        except Exception as error:
            raise ModelBroken(self.folder, str(error)) from error
        known = sorted(word for word in automaton.words() if model.vosk_model_find_word(word) >= 0)
        if not known:
            raise GrammarError("words", "the model knows none of them")
        return vosk.KaldiRecognizer(model, SAMPLE_RATE_HZ, json.dumps([*known, UNKNOWN], ensure_ascii=False))


def endpointer(language: str, models: Path | None = None) -> Endpointer:
    """The endpointer for a language, with the model that ``speech.ears`` has for it; raises ModelMissing."""
    folder = ears.model(language, models)
    if folder is None:
        raise ModelMissing(language, "vosk", f"rowhand models install SOURCE --language {language} adds one")
    return Endpointer(folder.resolve())
