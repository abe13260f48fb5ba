"""A piece of a text: words from one token up to another, and what they may mean."""

from __future__ import annotations

from dataclasses import dataclass, replace

from engine.entries.matching.match_context import Amount, Picked, RawValue
from engine.entries.phrases.match import Captures
from engine.messages import Entry
from engine.quantities import Measure
from engine.values import Dial

VALID = 100
IMPOSSIBLE = 10_000


@dataclass(frozen=True)
class Piece:
    """Words from one token up to another taken as entries; none for words between entries.

    The reading with the smallest sum of ``cost`` is the one with the fewest impossible and then the fewest pieces.
    ``bare`` pieces name neither row nor slot and stand only where ``frees`` pieces end, or at the beginning.
    """

    start: int
    end: int
    entries: tuple[Entry, ...]
    cost: int = VALID
    bare: bool = False
    frees: bool = True


@dataclass(frozen=True)
class Found:
    """What the words of one value named."""

    values: tuple[RawValue, ...] = ()
    rows: tuple[int, ...] = ()
    name: str | None = None
    area: Measure | None = None

    @property
    def row(self) -> int | None:
        return self.rows[0] if self.rows else None


def found(captures: Captures) -> Found:
    """The captures of one pattern by what they are."""
    everything = Found()
    for name, value in captures:
        match name, value:
            case "row", int():
                everything = replace(everything, rows=(value,))
            case "rows", tuple():
                everything = replace(everything, rows=value)
            case "name", str():
                everything = replace(everything, name=value)
            case "area", Measure():
                everything = replace(everything, area=value)
            case "value", (Amount() | Picked() | Dial()):
                everything = replace(everything, values=(*everything.values, value))
            case _:
                pass
    return everything
