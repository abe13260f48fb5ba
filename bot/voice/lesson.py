"""One reading of a lesson: what is to be read, what was heard of it, and what is confused by that."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from engine.voice_profile import MOST_LETTERS
from speech.transcript import Transcript

TRIES = 2
Pairs = tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class VoiceLesson:
    """``words`` are read one after another; ``pairs`` (said, heard), pairs that were ``near`` and what was ``unheard``
    came of those before ``at``.

    ``sure`` is how surely a word must be heard so that it is not mixed up, 0 to 1.
    """

    words: tuple[str, ...]
    sure: float
    at: int = 0
    tries: int = 0
    pairs: Pairs = ()
    near: Pairs = ()
    unheard: tuple[str, ...] = ()

    @property
    def wanted(self) -> str | None:
        """What is to be read now; None where all was read."""
        return self.words[self.at] if self.at < len(self.words) else None

    @property
    def grammar(self) -> str:
        """All that is read in the lesson, as a JSGF text."""
        return lesson_grammar(self.words)

    def heard(self, transcript: Transcript) -> VoiceLesson:
        """The lesson after one more reading; what was not heard at all is read again, once."""
        if self.wanted is None:
            return self
        if not transcript.text and self.tries + 1 < TRIES:
            return replace(self, tries=self.tries + 1)
        unheard = () if transcript.text else (self.wanted,)
        return replace(
            self,
            at=self.at + 1,
            tries=0,
            pairs=(*self.pairs, *confused(self.wanted, transcript)),
            near=(*self.near, *nearly(self.wanted, transcript, self.sure)),
            unheard=(*self.unheard, *unheard),
        )


def lesson_grammar(words: Sequence[str]) -> str:
    """Any one of these, as a JSGF text."""
    return f"#JSGF V1.0;\ngrammar lesson;\npublic <read> = {' | '.join(f'({one})' for one in words)};\n"


def confused(said: str, heard: Transcript) -> Pairs:
    """What was heard as something else."""
    return tuple(differing(said, heard.text)) if heard.text not in ("", said) else ()


def nearly(said: str, heard: Transcript, sure: float) -> Pairs:
    """Of what is right but unsure, the likeliest other text."""
    unsure = heard.text == said and heard.confidence < sure
    return tuple(differing(said, heard.alternatives[0])) if unsure and heard.alternatives else ()


def differing(said: str, heard: str) -> Iterator[tuple[str, str]]:
    """The words that differ, one by one where there are as many of them; else the whole, where it is short."""
    ours, theirs = said.split(), heard.split()
    if len(ours) == len(theirs):
        yield from ((one, other) for one, other in zip(ours, theirs, strict=True) if one != other)
    elif ours and theirs and max(len(said), len(heard)) <= MOST_LETTERS:
        yield said, heard
