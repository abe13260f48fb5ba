"""Two models hear a clip at several speeds, and what they all hold possible is weighed together.

A word's confidence is the share of everything weighed that has this word in this place. Models that err
in different ways, and sound played a little faster or slower, disagree where one of them is wrong; so agreement says
more than the confidence of any one of them. Where a third recogniser is there, its opinion counts too
(``speech/panel/arbiter.py``).
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping, Sequence
from difflib import SequenceMatcher

from speech.audio import AudioClip
from speech.decoding import grammar as grammars
from speech.level import level
from speech.panel.arbiter import Arbiter
from speech.panel.hypothesis import Hypothesis
from speech.panel.synonyms import load_synonyms
from speech.panel.weights import Key, Opinion, Weights, evidence, key, load_weights, posterior, weights_file
from speech.transcript import SoundTrouble, Transcript, TranscriptWord
from speech.vosk import VoskRecognizer

NAME = "panel"
SPEEDS = (1.0, 0.92, 1.08)
LEAST = 0.02
MOST = 5


class Panel:
    """The two models of one language, and a third opinion where there is one. Threads take turns."""

    name = NAME

    def __init__(
        self,
        first: VoskRecognizer,
        second: VoskRecognizer,
        weights: Weights | None = None,
        arbiter: Arbiter | None = None,
    ) -> None:
        self.first, self.second = first, second
        self.same = load_synonyms(first.language)
        self.arbiter = arbiter
        self.weights = weights or load_weights(weights_file(first.language))

    def transcribe(self, clip: AudioClip, language: str, grammar: str) -> Transcript:
        """Hear a clip; see ``Recognizer.transcribe``. Raises ModelMissing for another language."""
        started = time.perf_counter()
        trouble = level(clip).trouble
        first, second = self.opinions(clip, language, grammar) if trouble is not SoundTrouble.SILENCE else ((), ())
        words, others, talk = self._weighed(first, second, clip) if first else ((), (), 0.0)
        return Transcript(words, others, NAME, time.perf_counter() - started, trouble, talk)

    def opinions(self, clip: AudioClip, language: str, grammar: str) -> tuple[Sequence[Opinion], Sequence[Opinion]]:
        """What each model holds possible, at each of ``SPEEDS``."""
        grammars.automaton(grammar)
        clips = [clip if speed == 1.0 else clip.at_speed(speed) for speed in SPEEDS]
        first, second = (
            [model.hypotheses(one, language, grammar) for one in clips] for model in (self.first, self.second)
        )
        return first, second

    def _weighed(
        self, first: Sequence[Opinion], second: Sequence[Opinion], clip: AudioClip
    ) -> tuple[tuple[TranscriptWord, ...], tuple[str, ...], float]:
        """The likeliest reading with its words, other readings, likeliest first, and the share of none at all."""
        shares = posterior(evidence(first, second, self.same), self.weights)
        likeliest = sorted((reading for reading in shares if reading), key=lambda reading: -shares[reading])
        if not likeliest:
            return (), (), shares.get((), 0.0)
        spoken = {reading: _spoken(reading, first, second, self.same) for reading in likeliest}
        best, *rest = likeliest
        words = tuple(_words(spoken[best], best, shares, self.same))
        if self.arbiter is not None:
            words = self.arbiter.judged(words, len(best), [" ".join(spoken[one].texts) for one in rest], clip)
        others = (" ".join(spoken[reading].texts) for reading in rest[:MOST] if shares[reading] >= LEAST)
        return words, tuple(others), shares.get((), 0.0)


def _spoken(reading: Key, first: Sequence[Opinion], second: Sequence[Opinion], same: Mapping[str, str]) -> Hypothesis:
    """The words that were said for a reading, from the most trusted decode that has it."""
    everything = (one for opinion in (*first[:1], *second[:1], *first[1:], *second[1:]) for one in opinion)
    return next(one for one in everything if key(one.texts, same) == reading)


def _words(
    said: Hypothesis, reading: Key, shares: Mapping[Key, float], same: Mapping[str, str]
) -> Iterator[TranscriptWord]:
    sure = iter(_certainties(reading, shares))
    for word in said.words:
        counts = bool(same.get(word.text, word.text))
        yield TranscriptWord(word.text, min(next(sure) if counts else 1.0, 1.0), word.start_s, word.end_s)


def _certainties(reading: Key, shares: Mapping[Key, float]) -> list[float]:
    """For each word of a reading, the share of all readings that have it in its place."""
    total = [0.0] * len(reading)
    for other, share in shares.items():
        for block in SequenceMatcher(None, reading, other, autojunk=False).get_matching_blocks():
            for at in range(block.a, block.a + block.size):
                total[at] += share
    return total
