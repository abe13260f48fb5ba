"""Figures of an answer: as many digits as what was given carries, three or four."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable, Mapping, Sequence

import typer

from engine.quantities import Measure
from engine.values import Dial, Setting

FEWEST, MOST = 3, 4
"""Significant digits of an answer. Scales and stopwatches carry no more (own decision)."""
_DIGITS = re.compile(r"\d[\d.,]*")

Figure = Measure | Setting | Dial | int | str
Figures = Figure | Sequence[Figure] | Mapping[int, Figure]


def digits(texts: Iterable[str]) -> int:
    """Significant digits of the figure that was given with the most of them, from ``FEWEST`` to ``MOST``."""
    counts = [len(re.sub(r"\D", "", one).lstrip("0")) for text in texts for one in _DIGITS.findall(text)]
    return min(max([*counts, FEWEST]), MOST)


def rounded(value: float, to: int) -> float:
    """So many significant digits; what stands left of the point is never rounded away."""
    if value == 0:
        return 0.0
    return round(value, max(to - 1 - math.floor(math.log10(abs(value))), 0))


def show(results: Mapping[str, Figures], to: int, *, as_json: bool, also: Sequence[Measure] = ()) -> None:
    """Print results: one line for people, or one JSON object with {"value", "unit"} for each quantity."""
    if as_json:
        typer.echo(json.dumps({key: _plain(found, to) for key, found in results.items()}))
        return
    parts = [f"{key} {_readable(found, to)}" for key, found in results.items()]
    parts[0] += "".join(f" ({_readable(other, to)})" for other in also)
    typer.echo(", ".join(parts))


def _plain(found: Figures, to: int) -> object:
    if isinstance(found, Measure):
        return {"value": rounded(found.value, to), "unit": found.unit}
    if isinstance(found, Mapping):
        return {str(row): _plain(one, to) for row, one in found.items()}
    if isinstance(found, (Setting, Dial)):
        return str(found)
    return found if isinstance(found, (str, int)) else [_plain(one, to) for one in found]


def _readable(found: Figures, to: int) -> str:
    if isinstance(found, Measure):
        value = rounded(found.value, to)
        shown = f"{value:.0f}" if abs(value) >= 10 ** (to - 1) else f"{value:g}"
        return shown if found.unit == "1" else f"{shown} {found.unit}"
    if isinstance(found, Mapping):
        return "; ".join(f"row {row} {_readable(one, to)}" for row, one in found.items())
    if isinstance(found, (str, int, Setting, Dial)):
        return str(found)
    return " ".join(_readable(one, to) for one in found)
