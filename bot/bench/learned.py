"""What a learned voice changes: each speaker's clips, apart into those that are read first and those heard then.

Read is one clip of each word of a speaker, the shortest that have it; of the others it is counted what would be kept
right, asked and kept wrong, as the program is and as it is when it knows that voice. Speakers have numbers, in the
order of the table; the worst is the one of whom most is kept wrong without it, then of whom least is kept right.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from bot.bench.recording import Recording
from bot.bench.state import State
from bot.hear import utterance
from bot.voice.lesson import confused, nearly
from engine.messages import Confusion, Decision, Utterance
from engine.voice_profile import ConfusionSource, VoiceProfile
from speech.transcript import Transcript

Hears = Callable[[Recording, str], Transcript]
"""What is made of a clip in the condition of this name."""
FEWEST = 2


@dataclass(frozen=True, slots=True)
class ClipCounts:
    """Of ``count`` clips: kept right, asked, not understood, and kept wrong."""

    count: int = 0
    right: int = 0
    asked: int = 0
    unclear: int = 0
    wrong: int = 0

    def __add__(self, other: ClipCounts) -> ClipCounts:
        return ClipCounts(*(getattr(self, name) + getattr(other, name) for name in self.__slots__))

    def told(self) -> str:
        return f"{self.right} kept right, {self.asked} asked, {self.unclear} not understood, {self.wrong} kept wrong"


@dataclass(frozen=True, slots=True)
class SpeakerOutcome:
    """One speaker of a set: how many clips were read, how many pairs that showed, and what came of the others."""

    number: int
    read: int
    pairs: int
    before: ClipCounts
    after: ClipCounts

    def line(self, **place: Any) -> dict[str, Any]:
        counts = {name: getattr(self.before, name) for name in ClipCounts.__slots__}
        then = {f"{name}_learned": getattr(self.after, name) for name in ClipCounts.__slots__ if name != "count"}
        return {**place, "speaker": self.number, "clips_read": self.read, "pairs": self.pairs, **counts, **then}


def parted(clips: Sequence[Recording]) -> tuple[list[Recording], list[Recording]]:
    """The clips that are read first, one of each word and the shortest before, and the others."""
    known: set[str] = set()
    read: list[Recording] = []
    for clip in sorted(clips, key=lambda one: len(one.text.split())):
        if not set(clip.text.split()) <= known:
            known |= set(clip.text.split())
            read.append(clip)
    return read, [clip for clip in clips if clip not in read]


def speakers(
    clips: Sequence[Recording], waiting: State, lesson: str, condition: str, hears: Hears
) -> list[SpeakerOutcome]:
    """Every speaker of a set who leaves clips to be heard after the reading."""
    apart: dict[str, list[Recording]] = {}
    for clip in clips:
        if not clip.chatter:
            apart.setdefault(clip.speaker, []).append(clip)
    found = []
    for number, own in enumerate(apart.values(), 1):
        read, others = parted(own)
        if len(own) >= FEWEST and others:
            profile = _profile(read, waiting, lambda clip: hears(clip, lesson))
            heard = [(clip, utterance(hears(clip, condition), waiting.vocabulary.language)) for clip in others]
            before = _sum(heard, waiting)
            after = _sum(heard, waiting, profile.confusions)
            found.append(SpeakerOutcome(number, len(read), sum(one.is_asked for one in profile.pairs), before, after))
    return found


def worst(found: Sequence[SpeakerOutcome]) -> SpeakerOutcome:
    return max(found, key=lambda one: (one.before.wrong, -one.before.right / one.before.count))


def total(found: Sequence[SpeakerOutcome]) -> SpeakerOutcome:
    """All speakers together, under the number 0."""
    before, after = (sum((getattr(one, name) for one in found), ClipCounts()) for name in ("before", "after"))
    return SpeakerOutcome(0, sum(one.read for one in found), sum(one.pairs for one in found), before, after)


def told(name: str, found: Sequence[SpeakerOutcome]) -> Iterator[str]:
    """Lines for a person: all together, and the worst speaker."""
    for one, who in ((total(found), f"{len(found)} speakers"), (worst(found), f"worst, speaker {worst(found).number}")):
        yield f"{name} · {who} · {one.before.count} clips after {one.read} read, {one.pairs} pairs"
        yield f"    as it is: {one.before.told()}"
        yield f"    learned:  {one.after.told()}"


def _profile(read: Sequence[Recording], waiting: State, hears: Callable[[Recording], Transcript]) -> VoiceProfile:
    sure = waiting.acceptance.value_kept
    heard = [(clip.text, hears(clip)) for clip in read]
    profile = VoiceProfile(person="speaker", language=waiting.vocabulary.language)
    profile = profile.with_pairs([pair for said, one in heard for pair in confused(said, one)], ConfusionSource.READ)
    return profile.with_pairs([pair for said, one in heard for pair in nearly(said, one, sure)], ConfusionSource.NEARLY)


def _sum(
    heard: Sequence[tuple[Recording, Utterance]],
    waiting: State,
    known: Callable[[str], tuple[Confusion, ...]] = lambda _: (),
) -> ClipCounts:
    return sum(
        (_counted(clip, one.model_copy(update={"confusions": known(one.text)}), waiting) for clip, one in heard),
        ClipCounts(),
    )


def _counted(clip: Recording, said: Utterance, waiting: State) -> ClipCounts:
    decision = waiting.decision(said) if said.text else Decision.UNCLEAR
    if decision is not Decision.KEEP:
        return ClipCounts(1, asked=int(decision is Decision.ASK), unclear=int(decision is Decision.UNCLEAR))
    right = waiting.meaning(said.text) == waiting.meaning(clip.text)
    return ClipCounts(1, right=int(right), wrong=int(not right))
