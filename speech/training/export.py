"""``python -m speech.training.export OUT WEIGHTS``: a Vosk model folder from trained weights.

Writes ``am/final.mdl`` (Kaldi's binary form), ``conf/``, the run-time graph in ``graph/`` and ``lexicon.txt``; see
``speech.training.kaldi`` and ``speech.training.graphs``. Without WEIGHTS only the words are written anew, where
dialogs or vocabulary let more be said; no word is taken out.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Mapping
from pathlib import Path

import numpy as np

from speech.decoding.transducer import Ways
from speech.training.graphs import write_run_time
from speech.training.kaldi import acoustic_model
from speech.training.lexicon import DIALOGS, shipped
from speech.training.shape import NetworkShape

PRIOR_SHARE = 0.3
"""Power of the token priors that scores are divided by; chosen on the development recordings (see README.md)."""
UNKNOWN_FIRST, UNKNOWN_EACH = 1.0, 2.0
"""Cost of starting ``[unk]`` and of each of its phones; chosen on the development recordings (see README.md)."""
BEAM, LATTICE_BEAM, MOST_ACTIVE = 14.0, 4.0, 2000
ACOUSTIC_SCALE = 1.0


def _mfcc(shape: NetworkShape) -> str:
    return (
        f"--use-energy=false\n--num-mel-bins={shape.mel_bins}\n--num-ceps={shape.coefficients}\n--low-freq={shape.low_hz:g}\n"
        f"--high-freq={shape.high_hz:g}\n--allow-upsample=true\n--allow-downsample=true\n--dither=1\n"
    )


def _decoding(acoustic_scale: float) -> str:
    return (
        f"--min-active=200\n--max-active={MOST_ACTIVE}\n--beam={BEAM}\n--lattice-beam={LATTICE_BEAM}\n--acoustic-scale={acoustic_scale}\n"
        "--frame-subsampling-factor=3\n--endpoint.silence-phones=1\n--endpoint.rule2.min-trailing-silence=0.7\n"
        "--endpoint.rule3.min-trailing-silence=1.0\n--endpoint.rule4.min-trailing-silence=2.0\n"
    )


def write_lexicon(file: Path, lexicon: Mapping[str, Ways]) -> None:
    lines = [f"{word} {' '.join(way)}\n" for word, ways in sorted(lexicon.items()) for way in ways]
    file.write_text("".join(lines), encoding="utf-8")


def read_lexicon(file: Path) -> dict[str, Ways]:
    """The words of a written lexicon with their ways to be said; none where there is no file."""
    found: dict[str, list[tuple[str, ...]]] = {}
    for line in file.read_text(encoding="utf-8").splitlines() if file.exists() else ():
        word, *phones = line.split()
        found.setdefault(word, []).append(tuple(phones))
    return {word: tuple(ways) for word, ways in found.items()}


def export(
    out: Path,
    weights_file: Path,
    coarse: bool,
    unknown: tuple[float, float] = (UNKNOWN_FIRST, UNKNOWN_EACH),
    prior_share: float = PRIOR_SHARE,
    acoustic_scale: float = ACOUSTIC_SCALE,
    language: str = "en",
) -> None:
    """Write the model folder ``out``; ``coarse`` keeps weights in 8 bits, otherwise in 16."""
    stored = np.load(weights_file)
    described = json.loads(str(stored["shape"]))
    shape = NetworkShape(**{**described, "dilations": tuple(described["dilations"])})
    weights = {name: stored[name].astype(np.float32) for name in stored.files if name != "shape"}
    priors = weights["priors"] ** prior_share
    for folder in ("am", "conf"):
        (out / folder).mkdir(parents=True, exist_ok=True)
    (out / "am" / "final.mdl").write_bytes(acoustic_model(weights, shape, priors / priors.sum(), coarse))
    (out / "conf" / "mfcc.conf").write_text(_mfcc(shape))
    (out / "conf" / "model.conf").write_text(_decoding(acoustic_scale))
    write_words(out, unknown, language)


def write_words(out: Path, unknown: tuple[float, float] = (UNKNOWN_FIRST, UNKNOWN_EACH), language: str = "en") -> None:
    """The lexicon of a model folder and its run-time graph; words that it had stay, as free speech is told by them."""
    lexicon = {**read_lexicon(out / "lexicon.txt"), **shipped(DIALOGS, language)}
    write_run_time(out / "graph", lexicon, unknown)
    write_lexicon(out / "lexicon.txt", lexicon)


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("out", type=Path)
    arguments.add_argument("weights", type=Path, nargs="?")
    arguments.add_argument("--coarse", action="store_true", help="8-bit weights: half the size again")
    arguments.add_argument("--language", choices=["en", "es"], default="en")
    given = arguments.parse_args()
    if given.weights is None:
        write_words(given.out, language=given.language)
    else:
        export(given.out, given.weights, given.coarse, language=given.language)


if __name__ == "__main__":
    main()
