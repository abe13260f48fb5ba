"""Figures of time and load: each with how it was measured, beside what the machine costs by itself."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import typer
from rich.console import Console
from rich.table import Column, Table

from bot.bench.machine import Machine


@dataclass(frozen=True)
class BareCost:
    """What the machine did by itself in the same run, in the unit of the figure beside it."""

    what: str
    value: float


@dataclass(frozen=True)
class Figure:
    """One measured figure; without ``bare`` there is nothing to hold it against."""

    name: str
    value: float
    unit: str
    method: str
    bare: BareCost | None = None

    @property
    def ratio(self) -> float | None:
        return self.value / self.bare.value if self.bare else None


@dataclass(frozen=True)
class FigureSheet:
    """The figures of one run of a bench."""

    bench: str
    machine: Machine
    figures: tuple[Figure, ...]

    def lines(self) -> list[str]:
        """One JSON object for each figure."""
        around = {"bench": self.bench, "machine": asdict(self.machine)}
        return [json.dumps(asdict(one) | {"ratio": one.ratio} | around, ensure_ascii=False) for one in self.figures]

    def print(self, as_json: bool) -> None:
        if as_json:
            typer.echo("\n".join(self.lines()))
            return
        console = Console(soft_wrap=True)
        console.print(f"{self.bench}: {self.machine}", highlight=False)
        console.print(self._table())
        for number, method in enumerate(self._methods(), 1):
            console.print(f"{number}: {method}", highlight=False)

    def _table(self) -> Table:
        right = (Column(name, justify="right", no_wrap=True) for name in ("measured", "bare", "times", "how"))
        table = Table(Column("figure", no_wrap=True), *right)
        for one in self.figures:
            how = str(self._methods().index(one.method) + 1)
            table.add_row(one.name, f"{_short(one.value)} {one.unit}", *_beside(one), how)
        return table

    def _methods(self) -> list[str]:
        return list(dict.fromkeys(one.method for one in self.figures))


def _beside(figure: Figure) -> tuple[str, str]:
    if figure.bare is None or figure.ratio is None:
        return "", ""
    return f"{figure.bare.what} {_short(figure.bare.value)}", _short(figure.ratio)


def _short(value: float) -> str:
    """Three digits, all of those before the point."""
    return f"{value:.0f}" if abs(value) >= 100 else f"{value:.3g}"


def percentile(values: Sequence[float], percent: int) -> float:
    """The value that so many of a hundred stay within, of those that were measured (nearest rank)."""
    ranked = sorted(values)
    return ranked[max(-(-len(ranked) * percent // 100) - 1, 0)]


def sheet(bench: str, folder: Path, figures: Sequence[Figure]) -> FigureSheet:
    """The figures of a bench with the machine on which they were measured."""
    return FigureSheet(bench, Machine.holding(folder), tuple(figures))
