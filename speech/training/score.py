"""``python -m speech.training.score MODEL``: what a model hears on the development sets, as JSON lines.

Each clip is decoded by the stock recogniser in two ways: with the run-time word list of its state (``words``) and with
the fixed graph of its state (``fixed``). ``--second`` names another model whose agreement is asked for. A line gives,
for a set, a condition and an engine, how many clips were exact, and for each gate the shares kept right and kept wrong.
"""

from __future__ import annotations

import argparse
import json
import random
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import vosk

from speech.audio import AudioClip
from speech.decoding import closed
from speech.decoding import grammar as grammars
from speech.decoding.transducer import UNKNOWN
from speech.pocketsphinx import PocketSphinxRecognizer
from speech.training import sets
from speech.training.conditions import NoiseCondition
from speech.training.voices import RATE, read_sound

GATES = (0.0, 0.5, 0.8, 0.9, 0.95, 0.99, 0.999)
DEVELOPMENT = Path(__file__).with_name("development.txt")


@dataclass(frozen=True, slots=True)
class ScoredClip:
    """What an engine made of a clip; empty text means nothing that could be kept."""

    text: str
    confidence: float
    seconds: float


class Vosk:
    """One model, held to the states' grammars by a fixed graph or by a word list alone."""

    def __init__(self, folder: Path, fixed: bool, unknown: tuple[float, float]) -> None:
        self.folder, self.fixed, self.unknown = folder, fixed, unknown
        self.model = None if fixed else vosk.Model(str(folder))
        self.recognizers: dict[str, Any] = {}

    def hear(self, group: str, sound: npt.NDArray[np.int16]) -> ScoredClip:
        if group not in self.recognizers:
            self.recognizers[group] = self._recognizer(sets.grammar(group))
        recognizer = self.recognizers[group]
        started = time.perf_counter()
        parts = [recognizer.Result()] if recognizer.AcceptWaveform(sound.tobytes()) else []
        found = [word for part in [*parts, recognizer.FinalResult()] for word in json.loads(part).get("result", ())]
        recognizer.Reset()
        words = [word["word"] for word in found]
        sure = min((word["conf"] for word in found), default=0.0)
        usable = UNKNOWN not in words and grammars.automaton(sets.grammar(group)).accepts(words)
        return ScoredClip(" ".join(words) if usable else "", sure, time.perf_counter() - started)

    def _recognizer(self, text: str) -> Any:
        automaton = grammars.automaton(text)
        if self.model is None:
            made = vosk.KaldiRecognizer(closed.load(self.folder, automaton, self.unknown), RATE)
        else:
            known = [word for word in sorted(automaton.words()) if self.model.vosk_model_find_word(word) >= 0]
            made = vosk.KaldiRecognizer(self.model, RATE, json.dumps([*known, UNKNOWN]))
        made.SetWords(True)
        return made


class Sphinx:
    """PocketSphinx as the product uses it, with the same grammars."""

    def __init__(self) -> None:
        self.recognizer = PocketSphinxRecognizer()

    def hear(self, group: str, sound: npt.NDArray[np.int16]) -> ScoredClip:
        clip = AudioClip((sound / 32_768).astype(np.float32))
        found = self.recognizer.transcribe(clip, "en", sets.grammar(group))
        sure = min((word.confidence for word in found.words), default=0.0)
        return ScoredClip(" ".join(word.text for word in found.words), sure, found.seconds)


def _gated(results: Sequence[tuple[str, ScoredClip, bool]]) -> Iterator[tuple[str, dict[str, float]]]:
    for name, agreed_only in (("alone", False), ("agreed", True)):
        for gate in GATES:
            kept = [
                sets.meant(heard.text) == sets.meant(text)
                for text, heard, agreed in results
                if heard.text and heard.confidence >= gate and (agreed or not agreed_only)
            ]
            right, wrong = kept.count(True) / len(results), kept.count(False) / len(results)
            yield f"{name} {gate}", {"right": round(right, 4), "wrong": round(wrong, 4)}


def line(place: dict[str, str], results: Sequence[tuple[str, ScoredClip, bool]]) -> dict[str, Any]:
    """One line of the report; for chatter every kept clip is wrong."""
    seconds = [heard.seconds for _, heard, _ in results]
    return {
        **place,
        "n": len(results),
        "exact": round(sum(sets.meant(heard.text) == sets.meant(text) for text, heard, _ in results) / len(results), 4),
        "p50_s": round(float(np.median(seconds)), 3),
        "p95_s": round(float(np.quantile(seconds, 0.95)), 3),
        "gates": dict(_gated(results)),
    }


def conditions(noise: Path | None, held: frozenset[str]) -> list[NoiseCondition]:
    made = [NoiseCondition("clean", None), *(NoiseCondition(f"{ratio} dB", ratio) for ratio in (20.0, 10.0, 5.0))]
    loops = tuple(file for file in sorted(noise.glob("*.ogg")) if file.stem not in held) if noise else ()
    return [*made, *(NoiseCondition(f"{ratio} dB engine", ratio, loops) for ratio in (10.0, 5.0) if loops)]


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("model", type=Path)
    arguments.add_argument("--second", type=Path)
    arguments.add_argument("--data", type=Path, help="folder with a transcripts.tsv")
    arguments.add_argument("--spoken", type=Path, help="folder of speech.training.synthesise --held-out")
    arguments.add_argument("--words", type=Path, help="the same, of single words (--held-out --rule word)")
    arguments.add_argument("--noise", type=Path, help="folder of recorded loops")
    arguments.add_argument("--trained-on", nargs="*", default=["compressor_motor_01"], help="loops not to score with")
    arguments.add_argument("--engines", nargs="+", default=["fixed", "words"], choices=["fixed", "words", "sphinx"])
    arguments.add_argument("--only", nargs="*", help="conditions by name")
    arguments.add_argument("--sets", nargs="*")
    arguments.add_argument("--most", type=int, default=10_000, help="clips a set at most, drawn with a fixed seed")
    arguments.add_argument("--unknown", type=float, nargs=2, default=(closed.UNKNOWN_FIRST, closed.UNKNOWN_EACH))
    arguments.add_argument("--misses", action="store_true", help="print what was misheard")
    given = arguments.parse_args()
    vosk.SetLogLevel(-1)
    clips = sets.recorded(given.data, sets.left_out(DEVELOPMENT)) if given.data else []
    clips += sets.spoken(given.spoken) if given.spoken else []
    clips += sets.spoken(given.words, sets.WORDS) if given.words else []
    engines: dict[str, Vosk | Sphinx] = {
        name: Sphinx() if name == "sphinx" else Vosk(given.model, name == "fixed", tuple(given.unknown))
        for name in given.engines
    }
    second = Vosk(given.second, True, tuple(given.unknown)) if given.second else None
    for group in given.sets or sorted({clip.group for clip in clips}):
        chosen = [clip for clip in clips if clip.group == group and "?" not in clip.text]
        random.Random(5).shuffle(chosen)
        for condition in conditions(given.noise, frozenset(given.trained_on)):
            if given.only and condition.name not in given.only:
                continue
            results: dict[str, list[tuple[str, ScoredClip, bool]]] = {name: [] for name in engines}
            for clip in chosen[: given.most]:
                sound = condition.heard(read_sound(clip.file), clip.file.stem)
                other = second.hear(group, sound).text if second else ""
                for name, engine in engines.items():
                    heard = engine.hear(group, sound)
                    results[name].append(
                        (clip.text, heard, bool(other) and sets.meant(heard.text) == sets.meant(other))
                    )
                    if given.misses and sets.meant(heard.text) != sets.meant(clip.text):
                        print(f"# {name} {condition.name}: {clip.text} -> {heard.text} ({heard.confidence:.3f})")
            for name, found in results.items():
                print(json.dumps(line({"set": group, "condition": condition.name, "engine": name}, found)), flush=True)


if __name__ == "__main__":
    main()
