"""How loud the microphone is, as a bar."""

from __future__ import annotations

import numpy as np

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
