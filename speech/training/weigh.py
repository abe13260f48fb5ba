"""``python -m speech.training.weigh FIRST SECOND``: weigh two models' opinions for ``speech/weights.LANGUAGE.yaml``.

Every clip of the development speakers, of ``--spoken`` and of the chatter is heard in four conditions; the weights
are those under which the right reading, or nothing for chatter, is most probable. ``--folds`` parts of the clips are
left out in turn, and what is printed (and written beside the weights) is how the weights of the others do on them.
"""

from __future__ import annotations

import argparse
import json
import random
import zlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.optimize import minimize

from speech.audio import AudioClip
from speech.panel.ensemble import Panel
from speech.panel.weights import Weights, evidence, key, weights_file
from speech.training import sets
from speech.training.conditions import NoiseCondition
from speech.training.score import DEVELOPMENT, conditions
from speech.training.voices import read_sound
from speech.vosk import VoskRecognizer

Table = npt.NDArray[np.float64]
SLIGHT = 0.3
"""Weight of chatter, and of a clip whose right reading nobody holds possible: then "nothing" is to win."""
PENALTY = 0.05
GATES = (0.8, 0.9, 0.95, 0.97, 0.98, 0.99, 0.995)


@dataclass(frozen=True, slots=True)
class WeighedClip:
    """One clip in one condition: the evidence for each reading, and which readings are right."""

    file: str
    chatter: bool
    table: Table
    right: npt.NDArray[np.bool_]


def case(panel: Panel, clip: sets.SetClip, condition: NoiseCondition) -> WeighedClip:
    sound = condition.heard(read_sound(clip.file), clip.file.stem)
    heard = AudioClip((sound / 32_768).astype(np.float32))
    language = panel.first.language
    found = evidence(*panel.opinions(heard, language, sets.grammar(clip.group, language)), panel.same)
    chatter = clip.group == sets.CHATTER
    truth = () if chatter else key(clip.text.split(), panel.same)
    return WeighedClip(
        clip.file.name, chatter, np.array(list(found.values())), np.array([one == truth for one in found])
    )


def fit(cases: Sequence[WeighedClip]) -> Table:
    """The weights under which what is right is most probable, held small by a slight penalty."""
    start = np.zeros(cases[0].table.shape[1])
    return np.asarray(minimize(_loss, start, args=(cases,), jac=True, method="BFGS").x)


def shares(weights: Table, one: WeighedClip) -> Table:
    scores = one.table @ weights
    odds = np.exp(scores - scores.max())
    return np.asarray(odds / odds.sum())


def _loss(weights: Table, cases: Sequence[WeighedClip]) -> tuple[float, Table]:
    loss, slope = PENALTY * float(weights @ weights), 2 * PENALTY * weights
    for one in cases:
        share = shares(weights, one)
        goal = one.right if one.right.any() else one.table[:, -1] > 0
        counts = SLIGHT if one.chatter or not one.right.any() else 1.0
        hit = float(share[goal].sum()) + 1e-12
        loss -= counts * float(np.log(hit))
        slope = slope - counts * one.table.T @ (np.where(goal, share, 0) / hit - share)
    return loss, slope


def crossed(cases: Sequence[WeighedClip], folds: int) -> Iterator[tuple[WeighedClip, float, bool]]:
    """Each case under weights that never saw its clip: the share of the best reading, and whether it is right."""
    place = [zlib.crc32(one.file.encode()) % folds for one in cases]
    for fold in range(folds):
        weights = fit([one for one, at in zip(cases, place, strict=True) if at != fold])
        for one in (one for one, at in zip(cases, place, strict=True) if at == fold):
            share = np.where(one.table[:, -1] > 0, -1.0, shares(weights, one))
            best = int(share.argmax())
            yield one, float(share[best]), bool(one.right[best])


def report(found: Sequence[tuple[WeighedClip, float, bool]]) -> Iterator[dict[str, Any]]:
    """For each gate the shares of all clips kept right and kept wrong, and of the chatter kept."""
    talk = [(share, right) for one, share, right in found if not one.chatter]
    chatter = [share for one, share, _ in found if one.chatter]
    for gate in GATES:
        kept = [right for share, right in talk if share >= gate]
        yield {
            "gate": gate,
            "right": round(kept.count(True) / len(talk), 4),
            "wrong": round(kept.count(False) / len(talk), 4),
            "chatter": round(sum(share >= gate for share in chatter) / max(len(chatter), 1), 4),
        }


def clips(data: Path | None, folders: Mapping[str, Path | None], most: int) -> Iterator[sets.SetClip]:
    """At most ``most`` clips a set, the same ones each time."""
    found = sets.recorded(data, sets.left_out(DEVELOPMENT)) if data else []
    for group, folder in folders.items():
        found += sets.spoken(folder, group) if folder else []
    for group in sorted({clip.group for clip in found}):
        chosen = [clip for clip in found if clip.group == group and "?" not in clip.text]
        random.Random(5).shuffle(chosen)
        yield from chosen[:most]


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("first", type=Path)
    arguments.add_argument("second", type=Path)
    arguments.add_argument("--language", choices=["en", "es"], default="en")
    arguments.add_argument("--data", type=Path, help="folder with a transcripts.tsv")
    arguments.add_argument("--spoken", type=Path, help="folder of speech.training.synthesise, catch phrases")
    arguments.add_argument("--told", type=Path, help="the same, what is told during a shift")
    arguments.add_argument("--chatter", type=Path, help="the same, other talk")
    arguments.add_argument("--noise", type=Path, help="folder of recorded loops")
    arguments.add_argument("--most", type=int, default=70, help="clips a set at most")
    arguments.add_argument("--folds", type=int, default=5)
    arguments.add_argument("--out", type=Path)
    given = arguments.parse_args()
    first, second = (VoskRecognizer(folder, given.language) for folder in (given.first, given.second))
    panel = Panel(first, second, Weights(*[0.0] * 6))
    heard = [
        one
        for one in conditions(given.noise, frozenset(["compressor_motor_01"]))
        if one.name in ("clean", "10.0 dB", "5.0 dB", "5.0 dB engine")
    ]
    folders = {sets.SYNTHETIC: given.spoken, sets.TOLD: given.told, sets.CHATTER: given.chatter}
    cases = [case(panel, clip, one) for clip in clips(given.data, folders, given.most) for one in heard]
    lines = [json.dumps(line) for line in report(list(crossed(cases, given.folds)))]
    print("\n".join(lines))
    names = Weights.__dataclass_fields__
    weights = "".join(f"{name}: {value:.3f}\n" for name, value in zip(names, fit(cases), strict=True))
    head = f"# From speech.training.weigh: {len(cases)} decodings. Left-out clips, by the share of the best reading:\n"
    (given.out or weights_file(given.language)).write_text(
        head + "".join(f"# {line}\n" for line in lines) + weights, encoding="utf-8"
    )


if __name__ == "__main__":
    main()
