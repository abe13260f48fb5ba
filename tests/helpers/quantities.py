"""Short words for quantities in tests."""

from __future__ import annotations

from engine.quantities import Quantity, read_measure


def q(text: str) -> Quantity:
    """The quantity of "49.5 g"."""
    return read_measure(text).quantity


def rows(*texts: str) -> dict[int, Quantity]:
    """One quantity for each row, from row 1."""
    return {row: q(text) for row, text in enumerate(texts, start=1)}
