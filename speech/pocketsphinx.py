"""PocketSphinx: the recogniser that needs no download, since its English model comes in the package.

Settings that were measured to matter on clips of 1 to 6 s (exact sentences of 40 per set, clean · 10 dB · 5 dB):

- arcs weighted 1 / ways out, from a minimal automaton, lattice search off: census .85 · .82 · .72, joined numbers
  .72 · .85 · .62; with the lattice search .68 · .78 · .72 and .47 · .78 · .40;
- a hiss under clips that are too clean (digital silence between words), 45 dB below the peak: see ``HISS_DB``;
- the noise of the clip learnt before it is decoded, by hearing it twice, against a start without any: at 5 dB digits
  .40 → .50, joined numbers .55 → .65, single words .80 → .82, on the 40 clips a set that chose the settings. Left to
  itself the decoder carries the noise of the clip before over, which is as good on average and never repeats itself;
- a loop over all phones beside the grammar, which tells other talk from words of the grammar: it explained 81 % of
  clips with other words better, 90 % at 10 dB, and took no census sentence, 7 % of the joined numbers and a quarter
  of the lone short words, so it lowers confidence and rejects nothing by itself.

The score of a decode says nothing about its truth, so confidence is agreement: see ``speech.panel.voting``.
"""

from __future__ import annotations

import math
import threading
import time
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pocketsphinx

from speech.audio import AudioClip
from speech.decoding import grammar as grammars
from speech.decoding.automaton import Automaton
from speech.decoding.transducer import PHONES
from speech.errors import GrammarError, ModelMissing
from speech.level import level, with_comfort_noise
from speech.panel import voting
from speech.transcript import SoundTrouble, Transcript, TranscriptWord

NAME = "pocketsphinx"
LANGUAGE = "en"
SETTINGS: dict[str, Any] = {"lm": None, "bestpath": False, "lw": 5.0, "wip": 0.05, "loglevel": "FATAL"}
FRAMES_A_SECOND = 100
HISS_DB = -45.0
"""Exact sentences of 60 clean clips a set, census · digits · joined numbers · single words, by level of the hiss:
none .80 · .48 · .93 · .90; -60 .82 · .42 · .62 · .90; -50 .87 · .45 · .75 · .90; **-45 .87 · .52 · .80 · .92**;
-40 .78 · .52 · .88 · .93; -35 .73 · .45 · .78 · .82."""
SPEEDS = (1.0, 0.93, 1.07)
OTHER_TALK_SHARE = 1e-4
"""Weight of each phone of other talk; 1e-1 takes a third of the single words too, 1e-6 lets a third of the talk by."""
GRAMMARS_KEPT = 8
NOISE_SEARCH = "noise"
PRONUNCIATIONS = {"recatch": "R IY K AE CH"}
"""Phones of words that the dictionary of the package lacks."""


@dataclass(frozen=True, slots=True)
class _Names:
    """Under which names a grammar is kept in the decoder: alone, and beside other talk."""

    alone: str
    beside: str


class PocketSphinxRecognizer:
    """The English model of the package; grammars used last stay compiled. Threads take turns."""

    name = NAME

    def __init__(self) -> None:
        self.decoder = pocketsphinx.Decoder(**SETTINGS)
        self.grammars: OrderedDict[str, _Names] = OrderedDict()
        self.count = 0
        self._add(NOISE_SEARCH, Automaton(({"yes": 1}, {}), frozenset({1})), ())
        self.turn = threading.Lock()
        for word, phones in PRONUNCIATIONS.items():
            if self.decoder.lookup_word(word) is None:
                self.decoder.add_word(word, phones, True)
        for phone in PHONES:
            self.decoder.add_word(_other(phone), phone, True)

    def transcribe(self, clip: AudioClip, language: str, grammar: str) -> Transcript:
        """Hear a clip; see ``Recognizer.transcribe``."""
        if language != LANGUAGE:
            raise ModelMissing(language, NAME, "PocketSphinx brings English only; install a Vosk model")
        started = time.perf_counter()
        trouble = level(clip).trouble
        with self.turn:
            names = self._names(grammar)
            ballot = voting.NOTHING if trouble is SoundTrouble.SILENCE else self._ballot(clip, names, grammar)
        return Transcript(ballot.words, ballot.others, NAME, time.perf_counter() - started, trouble)

    def _ballot(self, clip: AudioClip, names: _Names, grammar: str) -> voting.Ballot:
        automaton = grammars.automaton(grammar)
        self._learn_noise(clip)
        readings = [self._decode(clip, speed, names.alone) for speed in SPEEDS]
        whole = [reading if automaton.accepts([word.text for word in reading]) else () for reading in readings]
        beside = self._decode(clip, 1.0, names.beside)
        return voting.count(whole, talk=not beside or any(_is_other(word.text) for word in beside))

    def _learn_noise(self, clip: AudioClip) -> None:
        """Forget the noise of earlier clips and learn that of this one, by listening once for a single word."""
        self.decoder.reinit_feat()
        self._decode(clip, 1.0, NOISE_SEARCH)

    def _decode(self, clip: AudioClip, speed: float, search: str) -> tuple[TranscriptWord, ...]:
        """One decode; times are those of the clip itself, confidences are 1 until the votes are counted."""
        sound = _ready(clip if speed == 1.0 else clip.at_speed(speed))
        self.decoder.activate_search(search)
        self.decoder.start_utt()
        self.decoder.process_raw(sound, full_utt=True)
        self.decoder.end_utt()
        if self.decoder.hyp() is None:
            return ()
        scale = speed / FRAMES_A_SECOND
        return tuple(
            TranscriptWord(_plain(part.word), 1.0, part.start_frame * scale, (part.end_frame + 1) * scale)
            for part in self.decoder.seg() or ()
            if not part.word.startswith(("<", "(", "+"))
        )

    def _names(self, grammar: str) -> _Names:
        if grammar in self.grammars:
            self.grammars.move_to_end(grammar)
            return self.grammars[grammar]
        automaton = self._pronounceable(grammars.automaton(grammar))
        self.count += 1
        names = _Names(f"alone {self.count}", f"beside {self.count}")
        self._add(names.alone, automaton, ())
        self._add(names.beside, automaton, _other_talk(len(automaton.arcs)))
        self.grammars[grammar] = names
        if len(self.grammars) > GRAMMARS_KEPT:
            _, old = self.grammars.popitem(last=False)
            self.decoder.remove_search(old.alone)
            self.decoder.remove_search(old.beside)
        return names

    def _pronounceable(self, automaton: Automaton) -> Automaton:
        """Without the words that nobody can say: those missing from the dictionary."""
        missing = {word for word in automaton.words() if self.decoder.lookup_word(word) is None}
        if not missing:
            return automaton
        sayable = automaton.without(missing)
        if not sayable.final:
            raise GrammarError("words", f"no pronunciation for {', '.join(sorted(missing))}")
        return sayable

    def _add(self, name: str, automaton: Automaton, more: Sequence[tuple[Any, ...]]) -> None:
        arcs = [arc if arc.word is not None else arc[:3] for arc in automaton.shared_arcs()]
        model = self.decoder.create_fsg(name, 0, len(automaton.arcs), [*map(tuple, arcs), *more])
        self.decoder.add_fsg(name, model)


def _other_talk(end: int) -> list[tuple[Any, ...]]:
    """Arcs for any phones at all, from the start to the end of a grammar whose end state is ``end``."""
    loop = end + 1
    return [
        (0, loop, 1.0),
        (loop, end, 1.0),
        *((loop, loop, OTHER_TALK_SHARE, _other(phone)) for phone in PHONES),
    ]


def _other(phone: str) -> str:
    return f"[{phone.lower()}]"


def _is_other(word: str) -> bool:
    return word.startswith("[")


def _plain(word: str) -> str:
    """The word itself; the second pronunciation of "a" is called "a(2)"."""
    return word.partition("(")[0]


def _ready(clip: AudioClip) -> bytes:
    samples = clip.samples
    peak_db = 20 * math.log10(float(np.abs(samples).max(initial=0.0)) + 1e-9)
    if level(clip).quiet_db - peak_db < HISS_DB:
        samples = with_comfort_noise(samples, HISS_DB)
    return AudioClip(samples, clip.sample_rate_hz).pcm16()
