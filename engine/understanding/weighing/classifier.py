"""How likely each meaning of a clause is: a sum of weights by feature, one table a language, learned from suites.

A weight says how much a feature speaks for a meaning; of the meanings that are possible now the shares add up to 1.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from engine.data.definitions import dialogs_directory
from engine.data.languages import Language

Weights = NDArray[np.float32]
FILE = "meanings.npz"
STEP, UNHEARD = 127, 1
"""Steps of a weight in the file, and those too small to be kept."""


@dataclass(frozen=True)
class Classifier:
    """``weights`` has a row a feature, in the order of ``features``, and a column a meaning."""

    meanings: tuple[str, ...]
    features: Mapping[str, int]
    weights: Weights

    def shares(self, found: Iterable[str], allowed: Collection[str]) -> dict[str, float]:
        """How likely each of the allowed meanings is; 0 for one that no suite has taught."""
        known = [self.features[one] for one in found if one in self.features]
        columns = [place for place, meaning in enumerate(self.meanings) if meaning in allowed]
        if not columns:
            return {}
        scores = self.weights[np.ix_(known, columns)].sum(axis=0) / max(1.0, float(len(known)) ** 0.5)
        likely = np.exp(scores - scores.max())
        likely /= likely.sum()
        return {self.meanings[place]: float(one) for place, one in zip(columns, likely, strict=True)}

    def knows(self, word: str) -> bool:
        """Whether a word was in any sentence that it learned from."""
        return f"w {word}" in self.features

    def without(self, words: Collection[str]) -> Classifier:
        """The same without what these words alone speak for, so that none of them is known."""
        left = [one for one in self.features if not (one.startswith("w ") and one[2:] in words)]
        rows = [self.features[one] for one in left]
        return Classifier(self.meanings, {one: place for place, one in enumerate(left)}, self.weights[rows])

    def save(self, path: Path) -> None:
        """One byte a weight, no objects: a file that is data alone."""
        scale = np.abs(self.weights).max() / STEP
        steps = np.rint(self.weights / scale)
        places, columns = np.nonzero(np.abs(steps) > UNHEARD)
        np.savez_compressed(
            path,
            meanings=np.array(self.meanings),
            features=np.array("\n".join(sorted(self.features, key=lambda one: self.features[one]))),
            places=places.astype(np.int32),
            columns=columns.astype(np.int16),
            values=steps[places, columns].astype(np.int8),
            scale=np.array(scale, dtype=np.float32),
        )


@lru_cache(maxsize=8)
def load_classifier(language: Language) -> Classifier:
    """The table of a language, as its folder carries it; without meanings where it has none yet."""
    path = dialogs_directory() / language / FILE
    if not path.is_file():
        return Classifier((), {}, np.zeros((0, 0), dtype=np.float32))
    with np.load(path, allow_pickle=False) as held:
        features = str(held["features"]).split("\n")
        meanings = tuple(str(one) for one in held["meanings"])
        weights = np.zeros((len(features), len(meanings)), dtype=np.float32)
        weights[held["places"], held["columns"]] = held["values"] * float(held["scale"])
    return Classifier(meanings, {one: place for place, one in enumerate(features)}, weights)
