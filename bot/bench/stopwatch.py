"""Where time goes inside the program: functions are timed while a stopwatch runs, each moment counted once."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack
from functools import wraps
from typing import Any
from unittest.mock import patch

Place = tuple[object, str]
"""A module or class, and the name of a function in it."""


class Stopwatch:
    """Seconds by part of the program: what a function calls that belongs to another part is counted there."""

    def __init__(self, parts: Mapping[str, Sequence[Place]]) -> None:
        self.seconds: dict[str, float] = dict.fromkeys(parts, 0.0)
        self._parts, self._patches = parts, ExitStack()
        self._inner: list[float] = []

    def __enter__(self) -> Stopwatch:
        for part, places in self._parts.items():
            for owner, name in places:
                self._patches.enter_context(patch.object(owner, name, self._timed(part, getattr(owner, name))))
        return self

    def __exit__(self, *_: object) -> None:
        self._patches.close()

    def _timed(self, part: str, function: Callable[..., Any]) -> Callable[..., Any]:
        @wraps(function)
        def timed(*given: Any, **named: Any) -> Any:
            begun = time.perf_counter()
            self._inner.append(0.0)
            try:
                return function(*given, **named)
            finally:
                spent = time.perf_counter() - begun
                self.seconds[part] += spent - self._inner.pop()
                if self._inner:
                    self._inner[-1] += spent

        return timed
