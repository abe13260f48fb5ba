"""How much each opinion of a panel counts; numbers, and the figures behind them, stand in ``weights.LANGUAGE.yaml``."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from functools import cache
from pathlib import Path

import yaml

from speech.panel.hypothesis import Hypothesis

FLOOR, DEEPEST = 5.0, 12.0
"""A reading that a decoder does not list counts as this much under its best one, at least and at most."""

Key = tuple[str, ...]
Opinion = Sequence[Hypothesis]


@dataclass(frozen=True, slots=True)
class Weights:
    """A reading scores the sum of these times what speaks for it.

    ``first`` and ``second`` weigh the scores of the two models at the speed of the clip, ``first_warped`` and
    ``second_warped`` those at other speeds together, ``unanimous`` a reading that every decode puts first, and
    ``nothing`` the reading that nothing was meant for us.
    """

    first: float
    second: float
    first_warped: float
    second_warped: float
    unanimous: float
    nothing: float

    def vector(self) -> tuple[float, ...]:
        return tuple(getattr(self, field.name) for field in fields(self))


def weights_file(language: str) -> Path:
    """Where the weights of a language stand."""
    return Path(__file__).with_suffix(f".{language}.yaml")


@cache
def load_weights(file: Path) -> Weights:
    """The weights of a file; TypeError or ValueError where it does not hold just these."""
    data = yaml.safe_load(file.read_text(encoding="utf-8"))
    return Weights(**{name: float(value) for name, value in data.items()})


def evidence(first: Sequence[Opinion], second: Sequence[Opinion], same: Mapping[str, str]) -> dict[Key, list[float]]:
    """For every reading that anybody holds possible, what each weight is multiplied with.

    Each sequence holds one model's opinions, that at the clip's own speed first. Readings are compared as ``same``
    has it, see ``key``. The empty reading is always among them.
    """
    tables = [{key(one.texts, same): one.score for one in reversed(opinion)} for opinion in (*first, *second)]
    readings = list(dict.fromkeys((*(found for table in tables for found in table), ())))
    scores = [_relative(table, readings) for table in tables]
    count = len(first)
    columns = [scores[0], scores[count], _sum(scores[1:count]), _sum(scores[count + 1 :])]
    tops = {max(table, key=lambda found: table[found]) if table else () for table in tables}
    return {
        reading: [
            *(column[at] if column else 0.0 for column in columns),
            float(tops == {reading} and reading != ()),
            float(reading == ()),
        ]
        for at, reading in enumerate(readings)
    }


def key(texts: Sequence[str], same: Mapping[str, str]) -> Key:
    """Words for comparing: some count as others, some as nothing."""
    return tuple(word for text in texts if (word := same.get(text, text)))


def posterior(found: Mapping[Key, Sequence[float]], weights: Weights) -> dict[Key, float]:
    """The probability of each reading, together 1."""
    vector = weights.vector()
    scores = {reading: sum(w * x for w, x in zip(vector, row, strict=True)) for reading, row in found.items()}
    top = max(scores.values())
    shares = {reading: math.exp(score - top) for reading, score in scores.items()}
    total = sum(shares.values())
    return {reading: share / total for reading, share in shares.items()}


def _relative(table: Mapping[Key, float], readings: Sequence[Key]) -> list[float]:
    """Scores under the best one of this opinion; what it does not list lies a step below its last."""
    if not table:
        return [0.0] * len(readings)
    top = max(table.values())
    floor = max(min(min(table.values()) - 1, top - FLOOR), top - DEEPEST)
    return [table.get(reading, floor) - top for reading in readings]


def _sum(columns: Sequence[Sequence[float]]) -> list[float]:
    return [sum(values) for values in zip(*columns, strict=True)]
