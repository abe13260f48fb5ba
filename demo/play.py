"""The recorded operator at work: says each line, answers what he is asked about it, and survives the crash."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import assert_never

from demo.evening import ANSWERS, DemoLine, Keeps
from demo.keeper import Keeper
from demo.letters import DemoStatus, DemoTurn, DemoUtterance
from engine.errors import InputError
from engine.expectation import Asking
from engine.messages import Language

FOLDER = Path(__file__).parent / "voice" / "evening"
PATIENCE = 4
"""Questions about one line after which the operator gives up."""


class NotUnderstood(InputError):
    """The operator cannot get a line through."""


@dataclass(frozen=True)
class DemoSaid:
    """A line, or the answer to a question about one, and the turn it made."""

    text: str
    answered: DemoTurn


@dataclass(frozen=True)
class Crash:
    """The worker was killed hearing ``text``; where the talk stood before and after, seconds until it was back."""

    text: str
    pid: int
    status: int
    before: DemoStatus
    after: DemoStatus
    seconds: float

    @property
    def resumed(self) -> bool:
        """Whether it stands exactly where it stood."""
        return (self.before.turn, self.before.digest) == (self.after.turn, self.after.digest)


@dataclass(frozen=True)
class DemoOperator:
    """``voice``: speaks the recorded notes, else types."""

    keeper: Keeper
    language: Language
    voice: bool

    def play(self, lines: Sequence[DemoLine], pause: Callable[[], None]) -> Iterator[DemoSaid | Crash]:
        """Say every line in turn; ``pause`` is called before each utterance. Raises NotUnderstood."""
        for number, line in enumerate(lines, 1):
            pause()
            if line.crash:
                yield self._crash(self._spoken(line, f"line:{number}"))
            yield from self._through(line, f"line:{number}", pause)

    def _through(self, line: DemoLine, name: str, pause: Callable[[], None]) -> Iterator[DemoSaid]:
        """Say a line and answer until all of it is kept, and nothing else."""
        kept: Keeps = {}
        following: DemoLine | None = line
        for count in range(PATIENCE + 1):
            if following is None:
                break
            if count:
                pause()
            said = self._spoken(following, name if not count else f"{name}:{count}")
            answered = self.keeper.say(said)
            kept |= answered.kept
            yield DemoSaid(said.text, answered)
            following = answer(answered.standing, line.keeps)
        if kept != line.keeps:
            raise NotUnderstood(f"{line.text(self.language)!r} became {kept}")

    def _spoken(self, line: DemoLine, name: str) -> DemoUtterance:
        note = str(FOLDER / f"{line.note}.ogg") if self.voice else None
        return DemoUtterance(id=name, text=line.text(self.language), note=note)

    def _crash(self, said: DemoUtterance) -> Crash:
        before, pid = self.keeper.standing, self.keeper.pid
        self.keeper.begin(said)
        status = self.keeper.kill()
        started = time.perf_counter()
        after = self.keeper.restart()
        return Crash(said.text, pid, status, before, after, time.perf_counter() - started)


def answer(standing: DemoStatus, meant: Keeps) -> DemoLine | None:
    """What the operator says to a question about what he ``meant``: the reading that fits; None where none is open."""
    fits = [choice.items() <= meant.items() for choice in standing.choices]
    match standing.asking:
        case Asking.CONFIRM:
            return ANSWERS["yes" if any(fits) else "no"]
        case Asking.CHOOSE if True in fits:
            return ANSWERS[str(fits.index(True) + 1)]
        case Asking.CHOOSE:
            raise NotUnderstood(f"none of {standing.choices} is {meant}")
        case Asking.SLOT | Asking.NOTHING | Asking.REPORT:
            return None
        case other:
            assert_never(other)
