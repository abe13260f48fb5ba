"""Vosk: used whenever a model for the language is installed. Any standard Vosk model folder works.

A model that brings its lexicon is held to the sentences of the grammar by a fixed graph (``decoding.closed``). Another
one with a run-time graph takes only the words of the grammar that it knows, and may put them in any order, so what
it returns is read again with the grammar's automaton: the first reading the grammar accepts wins, and
words that fit no sentence stay as they were heard, for the reader to judge. ``[unk]`` at either end is dropped.
"""

from __future__ import annotations

import json
import threading
import time
from collections import OrderedDict
from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path
from typing import Any

import vosk

from speech.audio import AudioClip
from speech.decoding import closed
from speech.decoding import grammar as grammars
from speech.decoding.automaton import Automaton
from speech.decoding.transducer import UNKNOWN
from speech.errors import GrammarError, ModelBroken, ModelMissing
from speech.level import level
from speech.panel.hypothesis import Hypothesis, TimedWord, distinct, trimmed, whole
from speech.transcript import SoundTrouble, Transcript, TranscriptWord

NAME = "vosk"
RATE = 16_000.0
ALTERNATIVES = 8
GRAMMARS_KEPT = 3
"""Each holds the weights of its model again: with ten grammars in turn both models took 528 MB at 8, 317 MB at 3."""
SECOND_CHOICE = 0.5
"""Bound on the confidence of a reading that was not the first: it may have won by leaving a word out (no source)."""


def is_model(folder: Path) -> bool:
    """Whether a folder looks like a Vosk model: an acoustic model and its settings."""
    return (folder / "am" / "final.mdl").is_file() or (folder / "final.mdl").is_file()


@lru_cache(maxsize=2)
def _loaded(folder: Path) -> vosk.Model:
    vosk.SetLogLevel(-1)
    if not is_model(folder):
        raise ModelBroken(folder, "there is no final.mdl in it")
    try:
        return vosk.Model(str(folder))
    except Exception as error:
        raise ModelBroken(folder, str(error)) from error


Reading = tuple[TranscriptWord, ...]


class VoskRecognizer:
    """One Vosk model; decoders are kept for the grammars used last. Threads take turns."""

    name = NAME

    def __init__(self, folder: Path, language: str) -> None:
        self.language = language
        self.folder = folder
        self.model = _loaded(folder)
        self.rejects = self.model.vosk_model_find_word(UNKNOWN) >= 0
        self.decoders: OrderedDict[str, Any] = OrderedDict()
        self.turn = threading.Lock()

    def transcribe(self, clip: AudioClip, language: str, grammar: str) -> Transcript:
        """Hear a clip; see ``Recognizer.transcribe``."""
        self._understands(language)
        started = time.perf_counter()
        automaton = grammars.automaton(grammar)
        trouble = level(clip).trouble
        with self.turn:
            readings = [] if trouble is SoundTrouble.SILENCE else self._readings(clip, grammar, automaton)
        best = next((one for one in readings if automaton.accepts(_texts(one))), readings[0] if readings else ())
        said = [" ".join(_texts(one)) for one in (best, *readings)]
        others = dict.fromkeys(text for text in said if text not in ("", said[0]))
        return Transcript(best, tuple(others), NAME, time.perf_counter() - started, trouble)

    def hypotheses(self, clip: AudioClip, language: str, grammar: str) -> list[Hypothesis]:
        """All that the grammar allows and this model holds possible, best first; empty where nothing was for us.

        Raises what ``transcribe`` raises.
        """
        self._understands(language)
        automaton = grammars.automaton(grammar)
        with self.turn:
            decoder = self._decoder(grammar, automaton)
            decoder.SetMaxAlternatives(ALTERNATIVES)
            parts = [_hypotheses(part) for part in _parts(decoder, clip.pcm16())]
        return distinct(whole([part for part in parts if part]), automaton.accepts)

    def _understands(self, language: str) -> None:
        if language != self.language:
            raise ModelMissing(language, NAME, f"this model speaks {self.language}")

    def _readings(self, clip: AudioClip, grammar: str, automaton: Automaton) -> list[Reading]:
        """What was heard, best first: the words with their confidences, then the alternatives with theirs estimated."""
        decoder = self._decoder(grammar, automaton)
        sound = clip.pcm16()
        decoder.SetMaxAlternatives(0)
        first = trimmed([word for part in _parts(decoder, sound) for word in _words(part)])
        decoder.SetMaxAlternatives(ALTERNATIVES)
        parts = _parts(decoder, sound)
        rest = _alternatives(parts[0], first) if len(parts) == 1 else []
        return [first, *rest]

    def _decoder(self, grammar: str, automaton: Automaton) -> Any:
        if grammar in self.decoders:
            self.decoders.move_to_end(grammar)
            return self.decoders[grammar]
        decoder = self._fixed(automaton) if closed.supports(self.folder) else self._listed(automaton)
        decoder.SetWords(True)
        self.decoders[grammar] = decoder
        if len(self.decoders) > GRAMMARS_KEPT:
            self.decoders.popitem(last=False)
        return decoder

    def _fixed(self, automaton: Automaton) -> Any:
        """A decoder for the sentences of the grammar alone."""
        if not automaton.words() & closed.lexicon(self.folder).keys():
            raise GrammarError("words", "the model knows none of them")
        return vosk.KaldiRecognizer(closed.load(self.folder, automaton, language=self.language), RATE)

    def _listed(self, automaton: Automaton) -> Any:
        """A decoder for the words of the grammar, in any order."""
        known = sorted(word for word in automaton.words() if self.model.vosk_model_find_word(word) >= 0)
        if not known:
            raise GrammarError("words", "the model knows none of them")
        words = [*known, UNKNOWN] if self.rejects else known
        return vosk.KaldiRecognizer(self.model, RATE, json.dumps(words, ensure_ascii=False))


def _texts(reading: Reading) -> list[str]:
    return [word.text for word in reading]


def _parts(decoder: Any, sound: bytes) -> list[dict[str, Any]]:
    """The results of one whole clip; Vosk closes one at each long pause."""
    parts = [decoder.Result()] if decoder.AcceptWaveform(sound) else []
    parts.append(decoder.FinalResult())
    decoder.Reset()
    return [part for part in map(json.loads, parts) if part.get("text") or part.get("alternatives")]


def _words(part: dict[str, Any]) -> Iterable[TranscriptWord]:
    for word in part.get("result", ()):
        yield TranscriptWord(word["word"], min(max(float(word.get("conf", 0.0)), 0.0), 1.0), word["start"], word["end"])


def _hypotheses(part: dict[str, Any]) -> list[Hypothesis]:
    return [
        Hypothesis(
            tuple(TimedWord(word["word"], word["start"], word["end"]) for word in one.get("result", ())),
            float(one["confidence"]),
        )
        for one in part.get("alternatives", ())
    ]


def _alternatives(part: dict[str, Any], first: Reading) -> list[Reading]:
    """Other readings, never surer than ``SECOND_CHOICE`` and no surer of a word than the first reading was.

    A word that the first reading does not have gets what its least certain word left over.
    """
    known = {word.text: min(word.confidence, SECOND_CHOICE) for word in first}
    doubt = min(1 - min((word.confidence for word in first), default=1.0), SECOND_CHOICE)
    return [
        trimmed(
            [
                TranscriptWord(word["word"], known.get(word["word"], doubt), word["start"], word["end"])
                for word in alternative.get("result", ())
            ]
        )
        for alternative in part.get("alternatives", ())
    ]
