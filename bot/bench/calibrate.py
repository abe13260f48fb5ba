"""``python -m bot.bench.calibrate``: choose the limits of acceptance from recordings, with the figures behind them.

Clips of the development speakers are heard by the product's own recogniser in silence and noise. Each limit is the
lowest of a grid at which no more than ``MOST_WRONG`` of the clips it decides are kept wrong, and no more than
``MOST_CHATTER`` of the chatter is kept, while a catch and while a yes or no is waited for. A value that lies inside a
usual range has less to be confused with; its limit is that for a plain value less ``EXPECTED``.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from enum import StrEnum
from pathlib import Path

import numpy as np

from bot.bench.engine import POLICY, engine
from bot.bench.recording import Recording, by_set, recordings
from bot.bench.state import State, state
from bot.hear import utterance
from engine.entries.acceptance import FILE, load_acceptance
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.expectation import Asking, Expectation
from engine.messages import Answered, Chosen, Given
from speech.audio import AudioClip
from speech.recognizer import Recognizer
from speech.training import sets
from speech.training.conditions import NoiseCondition
from speech.training.score import DEVELOPMENT
from speech.training.voices import read_sound

GRID = (*(round(0.5 + step / 100, 2) for step in range(50)), 0.995, 0.999)
MOST_WRONG, MOST_CHATTER = 0.005, 0.01
EXPECTED = 0.05
HEARD = 0.35
"""Below it a value is not even asked: of what was heard so badly less than half was right."""


class Limit(StrEnum):
    VALUE = "value_kept"
    YES = "yes_kept"
    ANSWER = "answer_kept"
    COMMAND = "command_kept"


@dataclass(frozen=True, slots=True)
class CalibratedClip:
    """One decoding: which limit decides it, how sure it is, and whether it is right."""

    limit: Limit
    sure: float
    right: bool
    chatter: bool


def cases(
    clips: Sequence[Recording], waiting: State, conditions: Sequence[NoiseCondition], ears: Recognizer
) -> Iterator[CalibratedClip]:
    """Each clip in each condition, where anything with a meaning was heard."""
    for clip in clips:
        for condition in conditions:
            sound = condition.heard(read_sound(clip.file), clip.file.stem)
            heard = ears.transcribe(AudioClip((sound / 32_768).astype(np.float32)), "en", waiting.grammar)
            said = utterance(heard, "en")
            meaning = waiting.meaning(said.text) if said.text else None
            if meaning is not None:
                right = not clip.chatter and meaning == waiting.meaning(clip.text)
                yield CalibratedClip(_limit(said.text, waiting), said.confidence, right, clip.chatter)


def _limit(text: str, waiting: State) -> Limit:
    """What decides a text: the limit of values, of answers and choices, or of all else."""
    if waiting.meaning(text) == waiting.meaning("yes"):
        return Limit.YES
    kinds = waiting.kinds(text)
    if text in waiting.phrases and not kinds:
        return Limit.COMMAND
    if not kinds or Given in kinds:
        return Limit.VALUE
    return Limit.ANSWER if any(issubclass(kind, Answered | Chosen) for kind in kinds) else Limit.COMMAND


@dataclass(frozen=True, slots=True)
class LimitFigures:
    """A limit and what it did: shares of the clips it decides, and of all chatter."""

    limit: float
    clips: int
    right: float
    wrong: float
    chatter: float


def choose(found: Sequence[CalibratedClip], chatter: int) -> LimitFigures:
    """The lowest limit that keeps little enough wrong, else the highest of the grid."""
    talk = [case for case in found if not case.chatter]
    for gate in GRID:
        kept = [case for case in found if case.sure >= gate]
        wrong = sum(not case.right and not case.chatter for case in kept) / max(len(talk), 1)
        loose = sum(case.chatter for case in kept) / max(chatter, 1)
        right = sum(case.right for case in kept) / max(len(talk), 1)
        made = LimitFigures(gate, len(talk), right, wrong, loose)
        if wrong <= MOST_WRONG and loose <= MOST_CHATTER:
            return made
    return made


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("--data", type=Path, required=True, help="folder with a transcripts.tsv")
    arguments.add_argument("--noise", type=Path, help="folder of recorded loops, heard at 5 dB")
    arguments.add_argument("--most", type=int, default=60, help="clips a set at most")
    arguments.add_argument("--cases", type=Path, help="write every decoding here, one object a line")
    arguments.add_argument("--out", type=Path, default=FILE)
    given = arguments.parse_args()
    loops = tuple(sorted(given.noise.glob("*.ogg"))) if given.noise else ()
    conditions = [NoiseCondition("clean", None), *(NoiseCondition(f"{ratio} dB", ratio) for ratio in (10.0, 5.0))]
    conditions += [NoiseCondition("5.0 dB engine", 5.0, loops)] if loops else []
    only = sets.left_out(DEVELOPMENT)
    everyone = recordings(given.data)
    chosen = [clip for clip in everyone if clip.group not in only or clip.speaker in only[clip.group]]
    ears, chatter = engine(POLICY), 0
    found: list[CalibratedClip] = []
    for clips in by_set(chosen).values():
        some = [clips[at * len(clips) // given.most] for at in range(given.most)] if len(clips) > given.most else clips
        chatter += sum(clip.chatter for clip in some) * len(conditions)
        for waiting in _states(clips):
            found += cases(some, waiting, conditions, ears)
    best = {limit: choose([case for case in found if case.limit is limit], chatter) for limit in Limit}
    if given.cases:
        given.cases.write_text("".join(f"{json.dumps(asdict(case))}\n" for case in found), encoding="utf-8")
    given.out.write_text(written(best, chatter), encoding="utf-8")
    sys.stdout.write(given.out.read_text(encoding="utf-8"))


def _states(clips: Sequence[Recording]) -> Iterator[State]:
    """What a set waits for; chatter is heard while a catch and while a yes or no is waited for."""
    waiting = state(clips, load_vocabulary("en"), load_acceptance())
    yield waiting
    if all(clip.chatter for clip in clips):
        yield replace(waiting, expectation=Expectation(language="en", asking=Asking.CONFIRM, candidates=("?",)))


def written(best: dict[Limit, LimitFigures], chatter: int) -> str:
    """The file of limits, with what they did on the recordings that chose them; others stay as they are."""
    value, now = best[Limit.VALUE].limit, load_acceptance()
    lines = [
        "# When a value that was heard is kept, asked or not understood. Confidence: that of the least certain word.",
        "# From bot.bench.calibrate: clips of the development speakers in silence and in noise of 10 and 5 dB.",
        *(
            f"# {limit.value}: {one.clips} clips, kept right {one.right:.1%}, kept wrong {one.wrong:.1%},"
            f" of {chatter} clips of chatter kept {one.chatter:.1%}"
            for limit, one in best.items()
        ),
        f"value_heard: {HEARD}",
        f"usual_kept: {max(value - EXPECTED, HEARD):.3g}",
        f"value_kept: {value}",
        f"sound_alike_kept: {value}",
        f"yes_kept: {best[Limit.YES].limit}",
        f"answer_kept: {best[Limit.ANSWER].limit}",
        f"command_kept: {best[Limit.COMMAND].limit}",
        f"report_heard: {now.report_heard}",
        f"repeat_kept: {now.repeat_kept}",
        f"alternatives: {now.alternatives}",
    ]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    main()
