"""The values a dialog can hold: a measure, a whole number, a word, a dial and a position on it."""

from __future__ import annotations

import math
from typing import Self

from pydantic import model_validator

from engine.frozen_model import FrozenModel
from engine.quantities import Measure


class Setting(FrozenModel):
    """One position of a meter's dial: its place on the scale and how the dial shows it.

    On a numbered dial ``position`` is the number itself; on a dial with marks it is the mark's place, from 0.
    """

    position: float
    label: str

    def __str__(self) -> str:
        return self.label


class Dial(FrozenModel):
    """The scale of a meter: numbers from ``low`` to ``high`` by ``step``, or ``marks`` in order of output.

    ``step`` is one notch, the smallest move the dial can make. With ``marks`` the scale is 0 .. len(marks) - 1 by 1.
    """

    low: float
    high: float
    step: float
    marks: tuple[str, ...] = ()

    @model_validator(mode="after")
    def _is_a_scale(self) -> Self:
        if not (math.isfinite(self.low) and math.isfinite(self.high) and self.low < self.high):
            raise ValueError("a dial runs from a lower to a higher position")
        if not 0 < self.step <= self.high - self.low:
            raise ValueError("one notch is more than nothing and no more than the whole dial")
        if self.marks and (len(set(self.marks)) < 2 or len(set(self.marks)) < len(self.marks)):
            raise ValueError("a dial has at least two marks, each once")
        return self

    @classmethod
    def numbered(cls, low: float, high: float, step: float) -> Self:
        return cls(low=low, high=high, step=step)

    @classmethod
    def marked(cls, marks: tuple[str, ...]) -> Self:
        return cls(low=0, high=max(len(marks) - 1, 0), step=1, marks=marks)

    @property
    def notches(self) -> int:
        """How many positions the dial has."""
        return math.floor((self.high - self.low) / self.step + 1e-9) + 1

    def setting(self, position: float) -> Setting:
        """The notch nearest to ``position``, kept on the dial."""
        notch = min(max(round((position - self.low) / self.step), 0), self.notches - 1)
        place = self.low + notch * self.step
        label = self.marks[notch] if self.marks else f"{round(place, 6):g}"
        return Setting(position=round(place, 6), label=label)

    def find(self, label: str) -> Setting | None:
        """The notch that shows ``label``; None where the dial has no such notch."""
        wanted = " ".join(label.split()).casefold()
        for notch, mark in enumerate(self.marks):
            if mark.casefold() == wanted:
                return self.setting(notch)
        if self.marks:
            return None
        try:
            position = float(wanted.replace(",", "."))
        except ValueError:
            return None
        near = self.setting(position)
        return near if math.isclose(near.position, position, abs_tol=self.step * 1e-6) else None

    def __str__(self) -> str:
        return ", ".join(self.marks) if self.marks else f"{self.low:g}-{self.high:g} ({self.step:g})"


Value = Measure | Setting | Dial | int | str
"""What one slot holds. A choice is its key, free text is itself, a count is an int."""

Rows = dict[int, Value]
"""One value for each row, by row number from 1."""
