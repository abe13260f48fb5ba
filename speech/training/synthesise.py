"""``python -m speech.training.synthesise OUT``: read random phrases with the synthetic voices, one Opus file each.

Item ``i`` of a run depends on the seed and ``i`` alone, so shards (``--shard 0/2``) can run side by side or be resumed.
``--held-out`` makes test phrases with the voices that training never hears, and a table of all that lies in OUT for
``rowhand bench voice``.
"""

from __future__ import annotations

import argparse
import json
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import soundfile

from speech.training import voices
from speech.training.lexicon import DIALOGS, shipped
from speech.training.phrases import Sentence, phrase, soup

MIXTURE = {"entry": 0.55, "catch": 0.2, "chatter": 0.12, "number": 0.13}
WHOLE_MIXTURE = {
    "entry": 0.2,
    "trial": 0.16,
    "night": 0.2,
    "number": 0.12,
    "command": 0.06,
    "question": 0.06,
    "choice": 0.04,
    "chatter": 0.1,
    "soup": 0.06,
}
"""All that the job says at once, for a language that has no training behind it: so is Spanish read."""
SOUP = "soup"
OPUS_LEVEL = 0.94
"""libsndfile's compression level for Opus; about 20 kbit/s."""
TRIAL, CHATTER = "trial", "chatter"
TABLE_HEAD = "file\tset\ttext\tkind\tspeaker"


def _engines(given: argparse.Namespace, spelt: Mapping[str, str] | None) -> Mapping[str, voices.TrainingVoice]:
    found = _spanish(given.part) if given.language == "es" else _english(given.part)
    if given.kokoro is not None:
        found.append(voices.Kokoro(given.kokoro, given.part, given.language, spelt))
    return {voice.name: voice for voice in found}


def _english(part: str) -> list[voices.TrainingVoice]:
    if part == voices.TRAINING:
        return [voices.EspeakThroats(), voices.Flite(), voices.Festival()]
    held = (
        voices.EspeakThroats(throats=voices.ESPEAK_HELD_OUT),
        voices.Flite(voices=voices.FLITE_HELD_OUT),
        voices.PiperPhrases(),
    )
    return list(held)


def _spanish(part: str) -> list[voices.TrainingVoice]:
    if part == voices.TRAINING:
        return [voices.EspeakThroats(accents=voices.SPANISH_ACCENTS), voices.Flite(language="es")]
    espeak = voices.EspeakThroats(throats=voices.SPANISH_THROATS[part], accents=voices.SPANISH_ACCENTS)
    return [espeak, voices.Pico()] if part == voices.SCORING else [espeak]


def _sentence(rng: random.Random, rule: str | None, language: str) -> Sentence:
    """A sentence of ``rule``, or of the mixture for training."""
    shares = {rule: 1.0} if rule else MIXTURE if language == "en" else WHOLE_MIXTURE
    chosen = rng.choices(list(shares), list(shares.values()))[0]
    return soup(rng, _vocabulary(language)) if chosen == SOUP else phrase(rng, chosen, language)


@cache
def _vocabulary(language: str) -> Sequence[str]:
    return tuple(shipped(DIALOGS, language))


def _write(file: Path, sound: voices.Sound) -> None:
    loud = sound / max(float(np.abs(sound).max()), 1e-4) * 0.6
    soundfile.write(file, loud, voices.RATE, format="OGG", subtype="OPUS", compression_level=OPUS_LEVEL)


@dataclass(frozen=True, slots=True)
class SynthesisRun:
    """What fixes the sentences of a run: its seed, whose voices, and their rule where it is not the mixture."""

    seed: int
    part: str
    rule: str | None = None
    language: str = "en"

    def drawn(self, voice: str, item: int) -> tuple[Sentence, random.Random]:
        """The sentence of an item, and the generator that its voice goes on with."""
        part = self.part if self.part == voices.DEVELOPMENT else self.part == voices.SCORING
        rng = random.Random(f"{self.seed} {voice} {item} {part}")
        return _sentence(rng, self.rule, self.language), rng


def synthesise(out: Path, voice: voices.TrainingVoice, items: range, run: SynthesisRun) -> None:
    """Write ``<voice>_<item>.ogg`` and, once it is complete, ``<voice>_<item>.txt``, for each item not there yet."""
    for item in items:
        text = out / f"{voice.name}_{item:05}.txt"
        if not text.exists():
            sentence, rng = run.drawn(voice.name, item)
            _write(text.with_suffix(".ogg"), voice.say(sentence, rng))
            text.write_text(sentence)


def write_table(out: Path, rule: str) -> None:
    """``transcripts.tsv`` of every phrase in ``out``: one set, named after the rule."""
    kind = "out of grammar" if rule == CHATTER else "synthetic"
    texts = sorted(out.glob("*_*.txt"))
    lines = [
        "\t".join((f"{text.stem}.ogg", rule, text.read_text(encoding="utf-8"), kind, text.stem.split("_")[0]))
        for text in texts
    ]
    (out / "transcripts.tsv").write_text("\n".join([TABLE_HEAD, *lines, ""]), encoding="utf-8")


def spell(voice: str, count: int, run: SynthesisRun) -> dict[str, str]:
    """The phonemes of every sentence of a run, for a machine without espeak-ng."""
    texts = dict.fromkeys(run.drawn(voice, item)[0] for item in range(count))
    accents = voices.ACCENTS if run.language == "en" else (voices.LATIN_AMERICA,)
    return {f"{accent}|{text}": voices.phonemes(text, accent) for text in texts for accent in accents}


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("out", type=Path)
    arguments.add_argument("--voice", required=True)
    arguments.add_argument("--count", type=int, required=True)
    arguments.add_argument("--language", choices=["en", "es"], default="en")
    arguments.add_argument("--shard", default="0/1")
    arguments.add_argument("--seed", type=int, default=1)
    arguments.add_argument("--kokoro", type=Path, help="folder with the unpacked packages (see speech.training.voices)")
    arguments.add_argument("--part", choices=voices.PARTS, default=voices.TRAINING, help="which of the voices")
    arguments.add_argument(
        "--held-out",
        action="store_const",
        dest="part",
        const=voices.SCORING,
        help="the voices that training never hears: --part scoring",
    )
    arguments.add_argument("--rule", help="of phrases.LANGUAGE.yaml; else a mixture, or trial with --held-out")
    arguments.add_argument("--spell", action="store_true", help="write only OUT, a JSON file of phonemes")
    arguments.add_argument("--spelt", type=Path, help="such a file, in place of espeak-ng")
    given = arguments.parse_args()
    rule = given.rule or (TRIAL if given.part != voices.TRAINING else None)
    run = SynthesisRun(given.seed, given.part, rule, given.language)
    if given.spell:
        given.out.write_text(json.dumps(spell(given.voice, given.count, run)))
        return
    given.out.mkdir(parents=True, exist_ok=True)
    spelt = json.loads(given.spelt.read_text()) if given.spelt else None
    part, parts = map(int, given.shard.split("/"))
    voice = _engines(given, spelt)[given.voice]
    synthesise(given.out, voice, range(part, given.count, parts), run)
    if given.part != voices.TRAINING and rule:
        write_table(given.out, rule)


if __name__ == "__main__":
    main()
