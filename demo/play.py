"""The recorded operator at work: says each line, answers what he is asked about it, and survives the crash."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import TypeAlias, assert_never

from demo.hoppers import STOPPED_ROW, STOPS
from demo.keeper import Keeper
from demo.letters import DemoCall, DemoStatus, DemoTurn, DemoUtterance
from demo.saving import Lookout, RowStops, Saved
from demo.script_lines import ANSWERS, DemoLine, Keeps
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
    """A ``line``, or the answer to a question about one, and the turn it made."""

    line: DemoLine
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


DemoEvent: TypeAlias = DemoSaid | Crash | DemoCall | RowStops | Saved


@dataclass(frozen=True)
class DemoOperator:
    """``voice``: speaks the recorded notes, else types; ``crashes``: whether the worker dies where a line says so.
    ``began`` is when the evening does."""

    keeper: Keeper
    language: Language
    voice: bool
    began: datetime
    crashes: bool = True
    _lookout: Lookout = field(default_factory=Lookout)

    def play(self, lines: Sequence[DemoLine], pause: Callable[[], None]) -> Iterator[DemoEvent]:
        """Say every line in turn; ``pause`` is called before each utterance. Raises NotUnderstood."""
        before = lines[0].at if lines else 0
        for number, line in enumerate(lines, 1):
            yield from self._until(before, line.at)
            name, before = f"{line.part}:{number}", line.at
            pause()
            if line.crash and self.crashes:
                yield self._crash(self._spoken(line, line.at, name))
            for said in self._through(line, name, pause):
                yield said
                if saved := self._lookout.told(said.answered):
                    yield saved

    def _until(self, before: int, at: int) -> Iterator[DemoCall | RowStops]:
        """What happens from one line to the next."""
        if before < STOPS <= at:
            yield from self._calls(STOPS)
            stops = RowStops(STOPPED_ROW, self._moment(STOPS))
            self._lookout.stops(stops)
            yield stops
        yield from self._calls(at)

    def _calls(self, at: int) -> Iterator[DemoCall]:
        for call in self.keeper.wait(self._moment(at)):
            self._lookout.rang(call)
            yield call

    def _through(self, line: DemoLine, name: str, pause: Callable[[], None]) -> Iterator[DemoSaid]:
        """Say a line and answer until all of it is kept, and nothing else."""
        kept: Keeps = {}
        following: DemoLine | None = line
        for count in range(PATIENCE + 1):
            if following is None:
                break
            if count:
                pause()
            said = self._spoken(following, line.at, name if not count else f"{name}:{count}")
            answered = self.keeper.say(said)
            kept |= answered.kept
            yield DemoSaid(line, said.text, answered)
            following = answer(answered.standing, line.keeps)
        if kept != line.keeps:
            raise NotUnderstood(f"{line.text(self.language)!r} became {kept}")

    def _spoken(self, line: DemoLine, at: int, name: str) -> DemoUtterance:
        note = str(FOLDER / f"{line.note}.ogg") if self.voice and not line.typed else None
        return DemoUtterance(id=name, at=self._moment(at), text=line.text(self.language), note=note)

    def _moment(self, at: int) -> datetime:
        return self.began + timedelta(seconds=at)

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
