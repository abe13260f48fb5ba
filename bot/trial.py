"""``rowhand trial``: the advisor and the handbook rule on the same simulated planters."""

from __future__ import annotations

import dataclasses
import json
import sys
import time
from collections.abc import Iterable
from typing import Annotated

import typer
from rich.console import Console
from rich.progress import Progress
from rich.table import Table

from engine.errors import InputError, UnreadableQuantity
from engine.quantities import Dimension, read_measure
from engine.simulation.contest import Contest, contest
from engine.simulation.evening import Evening
from engine.simulation.planter import Shape
from engine.simulation.tally import Tally, tally

_LINES = {
    "runs_median": ("test runs, median", "{:.1f}"),
    "runs_mean": ("test runs, mean", "{:.2f}"),
    "runs_p95": ("test runs, 95 of 100", "{:.0f}"),
    "never": ("not done in 8 runs", "{:.1%}"),
    "wrong_rows": ("rows wrongly passed", "{:.2%}"),
    "mean_error": ("true error of passed rows", "{:.2%}"),
}


def trial(
    *,
    planters: Annotated[int, typer.Option("--planters", min=1, help="how many planters to simulate")] = 200,
    seed: Annotated[int, typer.Option("--seed", min=0, help="the same seed gives the same planters and catches")] = 1,
    rows: Annotated[int, typer.Option("--rows", min=1, max=48, help="rows of each planter")] = 8,
    tolerance: Annotated[str, typer.Option("--tolerance", help="how far from the target a row may be")] = "5%",
    noise: Annotated[str, typer.Option("--noise", help="standard deviation of one catch")] = "2%",
    curve: Annotated[
        Shape, typer.Option("--curve", help="what the planters are like; the last three no model knows")
    ] = (Shape.PLAIN),
    json_: Annotated[bool, typer.Option("--json", help="print one JSON object")] = False,
) -> None:
    """Simulated planters: test runs until done and rows wrongly passed, by the advisor and by the handbook rule."""
    try:
        settings = Contest(planters, seed, rows, _share(tolerance, "tolerance"), _share(noise, "noise"), curve)
    except InputError as error:
        typer.echo(str(error), err=True)
        raise typer.Exit(2) from error
    began = time.perf_counter()
    pairs = list(_shown(contest(settings), planters))
    advisor, handbook = (tally(evenings) for evenings in zip(*pairs, strict=True))
    if json_:
        typer.echo(json.dumps({"advisor": dataclasses.asdict(advisor), "handbook": dataclasses.asdict(handbook)}))
    else:
        _print(settings, advisor, handbook, time.perf_counter() - began)


def _share(text: str, name: str) -> float:
    """A share above 0 and below 1 from "5%" or "0.05"."""
    try:
        value = float(text)
    except ValueError:
        read = read_measure(text, Dimension.RATIO)
        value = float(read.quantity.to("dimensionless").magnitude)
    if not 0 < value < 1:
        raise UnreadableQuantity(text, f"{name} must be above 0 and below 100 %")
    return value


def _shown(pairs: Iterable[tuple[Evening, Evening]], total: int) -> Iterable[tuple[Evening, Evening]]:
    """The same pairs, with a progress bar on standard error where that is a terminal."""
    with Progress(console=Console(stderr=True), transient=True, disable=not sys.stderr.isatty()) as progress:
        yield from progress.track(pairs, total=total, description="planters")


def _print(settings: Contest, advisor: Tally, handbook: Tally, seconds: float) -> None:
    table = Table("", "advisor", "handbook rule")
    for field, (line, style) in _LINES.items():
        table.add_row(line, style.format(getattr(advisor, field)), style.format(getattr(handbook, field)))
    console = Console()
    console.print(
        f"{settings.planters} planters of {settings.rows} rows, seed {settings.seed}, {settings.shape} curve, "
        f"tolerance {settings.tolerance:.3g}, noise {settings.noise:.3g}, {seconds:.0f} s"
    )
    console.print(table)
    console.print(f"the handbook rule needs {handbook.runs_mean / advisor.runs_mean:.2f} times as many test runs")
