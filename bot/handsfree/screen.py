"""What the operator sees: the conversation as text, and under it the level meter where there is a terminal."""

from __future__ import annotations

from types import TracebackType
from typing import Self

import numpy as np
from rich.console import Console
from rich.live import Live
from rich.markup import escape
from rich.text import Text

from engine.messages import Reply

FLOOR_DB = -60.0
WIDTH = 24


def level_db(block: bytes) -> float:
    """The level of a block of 16-bit samples in dB re full scale, ``FLOOR_DB`` at the least."""
    samples = np.frombuffer(block, "<i2").astype(np.float64) / 32768
    power = float(np.mean(samples**2)) if len(samples) else 0.0
    return max(10 * float(np.log10(power)), FLOOR_DB) if power > 0 else FLOOR_DB


def bar(db: float, plain: bool, width: int = WIDTH) -> str:
    """A bar from ``FLOOR_DB`` to full scale; ``plain`` for terminals that show ASCII alone."""
    share = min(max(1 - db / FLOOR_DB, 0.0), 1.0)
    full = round(share * width)
    on, off = ("#", ".") if plain else ("█", "░")
    return f"[{on * full}{off * (width - full)}] {db:4.0f} dB"


class HandsfreeScreen:
    """Lines go out as they come; the meter is drawn only at a terminal. Use it in a ``with``."""

    def __init__(self, console: Console) -> None:
        self._console = console
        self._plain = not console.encoding.casefold().startswith("utf")
        self._live = Live(console=console, transient=True, auto_refresh=False) if console.is_terminal else None

    def __enter__(self) -> Self:
        if self._live:
            self._live.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._live:
            self._live.stop()

    def heard(self, text: str) -> None:
        self._console.print(f"[bold]>[/bold] {escape(text)}", soft_wrap=True)

    def reply(self, reply: Reply) -> None:
        self._console.print(escape(reply.text), style="cyan", soft_wrap=True)

    def notice(self, text: str) -> None:
        self._console.print(escape(text), style="yellow", soft_wrap=True)

    def meter(self, db: float, label: str) -> None:
        """Draw the level and what the program is doing."""
        if self._live:
            self._live.update(Text(f"{bar(db, self._plain)}  {label}"), refresh=True)
