"""``python -m bot.bench.arbitrate``: how much the third opinion counts, by recordings (``speech/panel/arbiter.yaml``).

Every clip is heard by the panel alone in silence and noise, and the third opinion scores what it proposes. The weights
are those under which right readings are most probably right (logistic regression with a slight penalty). Parts of the
speakers are left out in turn: printed is what would be kept of their clips by the limits of the product, by the panel
alone and by both, for several values that are added to ``constant``. Which of them to take is a decision.
"""

from __future__ import annotations

import argparse
import sys
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
from scipy.optimize import minimize

from bot.bench.engine import POLICY, engine
from bot.bench.recording import Recording, by_set, recordings
from bot.bench.state import State, shift, state
from bot.hear import utterance
from engine.entries.acceptance import load_acceptance
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.messages import Decision
from speech.audio import AudioClip
from speech.panel.arbiter import WEIGHTS, Arbiter, Consultation, Scores, certainty, features, load_limits, raised
from speech.panel.ensemble import Panel
from speech.training.conditions import NoiseCondition
from speech.training.voices import read_sound
from speech.transcript import Transcript, TranscriptWord

Table = npt.NDArray[np.float64]
UNHURRIED_S = 60.0
PENALTY = 1.0
ADDED = (0.0, 0.25, 0.5, 0.75)


@dataclass(frozen=True, slots=True)
class Decoding:
    """One clip in one condition: what the panel heard alone, what was made of it, and whether it is right."""

    clip: Recording
    heard: Transcript
    scored: tuple[int, Scores] | None
    matters: bool
    right: bool
    waiting: State

    def kept(self, limits: Consultation | None) -> bool:
        """Whether it would be kept, with the third opinion or, without limits, by the panel alone."""
        words = self.heard.words
        if limits and self.scored and self.matters:
            count, scores = self.scored
            words = raised(words, certainty(self.heard.confidence, count, scores, limits))
        said = utterance(replace(self.heard, words=words), "en")
        return bool(words) and self.waiting.decision(said) is Decision.KEEP


class Witness(Arbiter):
    """Changes nothing, and keeps what it was told."""

    told: tuple[int, Scores] | None = None

    def judged(
        self, words: Sequence[TranscriptWord], count: int, others: Sequence[str], clip: AudioClip
    ) -> tuple[TranscriptWord, ...]:
        self.told = count, self.scores(words, others, clip, UNHURRIED_S)
        return tuple(words)


def cases(data: Path, conditions: Sequence[NoiseCondition], most: int, shift_sets: Sequence[str]) -> Iterator[Decoding]:
    """Every set of a folder, at most so many clips of it, in each condition."""
    panel = engine(POLICY)
    if not isinstance(panel, Panel) or panel.arbiter is None:
        sys.exit("there is no third opinion here: rowhand models install ears")
    panel.arbiter = witness = Witness(panel.arbiter.scorer, panel.arbiter.has_number)
    words, limits = load_vocabulary("en"), load_acceptance()
    for group, clips in by_set(recordings(data)).items():
        waiting = shift(words, limits) if group in shift_sets else state(clips, words, limits)
        meant = [clip for clip in clips if clip.chatter or waiting.meaning(clip.text) is not None]
        for clip in meant[:: max(len(meant) // most, 1)]:
            for condition in conditions:
                yield _case(clip, condition, waiting, panel, witness)


def _case(clip: Recording, condition: NoiseCondition, waiting: State, panel: Panel, witness: Witness) -> Decoding:
    sound = condition.heard(read_sound(clip.file), clip.file.stem)
    witness.told = None
    heard = panel.transcribe(AudioClip((sound / 32_768).astype(np.float32)), "en", waiting.grammar)
    meaning = None if clip.chatter or not heard.text else waiting.meaning(heard.text)
    right = meaning is not None and meaning == waiting.meaning(clip.text)
    matters = bool(heard.words) and witness.matters(heard.words)
    return Decoding(clip, heard, witness.told, matters, right, waiting)


def fitted(known: Sequence[Decoding]) -> tuple[float, ...]:
    """The weights under which what is right is most probable. Raises ValueError where none was scored."""
    scored = [(one, *one.scored) for one in known if one.scored]
    if not scored:
        raise ValueError("nothing was scored")
    table = np.array([features(one.heard.confidence, count, scores) for one, count, scores in scored])
    right = np.array([float(one.right) for one, _, _ in scored])
    return tuple(minimize(_loss, np.zeros(len(WEIGHTS)), args=(table, right), jac=True, method="BFGS").x)


def _loss(weights: Table, table: Table, right: Table) -> tuple[float, Table]:
    odds, small = table @ weights, np.r_[0.0, weights[1:]]
    share = 1 / (1 + np.exp(-odds))
    loss = float((np.logaddexp(0, odds) - right * odds).sum() + PENALTY * small @ small)
    return loss, np.asarray(table.T @ (share - right) + 2 * PENALTY * small)


def weighed(weights: Sequence[float], added: float = 0.0) -> Consultation:
    """The shipped limits with other weights."""
    constant, panel, agrees, margin, under, words = weights
    return replace(
        load_limits(), constant=constant + added, panel=panel, agrees=agrees, margin=margin, under=under, words=words
    )


def crossed(known: Sequence[Decoding], folds: int) -> Iterator[tuple[Decoding, tuple[float, ...]]]:
    """Each case with weights that never heard its speaker."""
    place = [zlib.crc32(f"{one.clip.group} {one.clip.speaker}".encode()) % folds for one in known]
    for fold in sorted(set(place)):
        weights = fitted([one for one, at in zip(known, place, strict=True) if at != fold])
        yield from ((one, weights) for one, at in zip(known, place, strict=True) if at == fold)


def line(name: str, kept: Sequence[tuple[Decoding, bool]]) -> str:
    """Shares of the talk that was kept right and kept wrong, and how much other talk was kept."""
    talk = [(one.right, keep) for one, keep in kept if not one.clip.chatter]
    right, wrong = (sum(keep and is_right is wanted for is_right, keep in talk) for wanted in (True, False))
    other = [keep for one, keep in kept if one.clip.chatter]
    count = max(len(talk), 1)
    shares = f"kept right {right / count:.4f}, kept wrong {wrong / count:.4f}"
    return f"{name}: {shares}, of other talk {sum(other)} of {len(other)}\n"


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("--data", type=Path, required=True, help="folder with a transcripts.tsv")
    arguments.add_argument("--noise", type=Path, required=True, help="folder of recorded loops, heard at 10 and 5 dB")
    arguments.add_argument("--most", type=int, default=1000, help="clips a set, about")
    arguments.add_argument("--folds", type=int, default=6)
    arguments.add_argument("--shift", default="shift", help="sets to hear as what is told during a shift")
    given = arguments.parse_args()
    loops = tuple(sorted(given.noise.glob("*.ogg")))
    conditions = [
        NoiseCondition("clean", None),
        *(NoiseCondition(f"{ratio} dB", ratio, loops) for ratio in (10.0, 5.0)),
    ]
    known = list(cases(given.data, conditions, given.most, given.shift.split(",")))
    say = sys.stdout.write
    say(line(f"{len(known)} decodings, the panel alone", [(one, one.kept(None)) for one in known]))
    found = list(crossed(known, given.folds))
    for added in ADDED:
        kept = [(one, one.kept(weighed(weights, added))) for one, weights in found]
        say(line(f"left-out speakers, {added:+g}", kept))
    say("".join(f"{name}: {value:.3f}\n" for name, value in zip(WEIGHTS, fitted(known), strict=True)))


if __name__ == "__main__":
    main()
