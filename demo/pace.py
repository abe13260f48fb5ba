"""How fast the demo plays: a breath before each line that is typed, longer where there is something to look at."""

from __future__ import annotations

import select
import sys
import time
from dataclasses import dataclass

BREATH_S, LOOK_S = 0.25, 1.5


@dataclass(frozen=True)
class Pace:
    """``breath`` and ``look`` in seconds; where lines are spoken, hearing them is breath enough."""

    breath: float = BREATH_S
    look: float = LOOK_S

    @property
    def waits(self) -> bool:
        """Whether Enter ends a pause."""
        return self.look > 0 and sys.stdin.isatty()

    def breathe(self) -> None:
        time.sleep(self.breath)

    def rest(self) -> None:
        """Time to read; at a terminal Enter ends it."""
        if not self.waits:
            time.sleep(self.look)
        elif select.select([sys.stdin], [], [], self.look)[0]:
            sys.stdin.readline()


FAST, SPOKEN = Pace(0, 0), Pace(breath=0)
