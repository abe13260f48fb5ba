"""``rowhand trial``: the advisor and the handbook rule on the same simulated planters."""

from __future__ import annotations

import dataclasses
import json
import sys
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Annotated

import typer
from rich.console import Console
from rich.progress import Progress
from rich.table import Column, Table

from engine.errors import InputError, UnreadableQuantity
from engine.quantities import Dimension, read_measure
from engine.simulation.contest import Contest, contest
from engine.simulation.evening import Evening
from engine.simulation.family import FOREIGN, Family
from engine.simulation.planter import OutputCurve
from engine.simulation.tally import interval, mean_catches, mean_runs, tally, times_as_many, wrong_share

_LINES = {
    "runs_median": ("test runs, median", "{:.1f}"),
    "runs_mean": ("test runs, mean", "{:.2f}"),
    "runs_p95": ("test runs, 95 of 100", "{:.0f}"),
    "within_3": ("done within 3 runs", "{:.1%}"),
    "within_4": ("done within 4 runs", "{:.1%}"),
    "within_8": ("done within 8 runs", "{:.1%}"),
    "wrong_rows": ("rows wrongly passed", "{:.2%}"),
    "mean_error": ("true error of passed rows", "{:.2%}"),
    "given_up": ("sound rows given up", "{:.2%}"),
    "unsure": ("rows left unsure", "{:.2%}"),
    "stated": ("probability stated for passed rows", "{:.3f}"),
    "true": ("share of them within tolerance", "{:.3f}"),
    "sure": ("share of those stated .95 to .98 that is so", "{:.3f}"),
    "catches": ("catches of an evening, mean", "{:.1f}"),
    "returned": ("rows moved back though their catch was good", "{:.2%}"),
    "bad_last": ("intermittent rows passed on a bad last catch", "{:.0f}"),
}
Pairs = list[tuple[Evening, Evening]]


def trial(
    *,
    planters: Annotated[int, typer.Option("--planters", min=1, help="how many planters to simulate")] = 200,
    seed: Annotated[int, typer.Option("--seed", min=0, help="the same seed gives the same planters and catches")] = 1,
    rows: Annotated[int, typer.Option("--rows", min=1, max=48, help="rows of each planter of the own family")] = 8,
    tolerance: Annotated[str, typer.Option("--tolerance", help="how far from the target a row may be")] = "5%",
    noise: Annotated[str, typer.Option("--noise", help="standard deviation of one catch, own family")] = "2%",
    curve: Annotated[
        OutputCurve, typer.Option("--curve", help="curves of the own family; the last three no model knows")
    ] = OutputCurve.PLAIN,
    family: Annotated[Family, typer.Option("--family", help="what the planters, scales and runs are like")] = (
        Family.OWN
    ),
    families: Annotated[
        bool, typer.Option("--families", help="the seven families that no model contains, one after the other")
    ] = False,
    spare: Annotated[
        bool, typer.Option("--spare", help="rows that are surely on target are not caught in the next run")
    ] = False,
    json_: Annotated[bool, typer.Option("--json", help="print one JSON object")] = False,
) -> None:
    """Simulated planters: test runs until done and rows wrongly passed, by the advisor and by the handbook rule."""
    try:
        allowed, scatter = _share(tolerance, "tolerance"), _share(noise, "noise")
        settings = Contest(planters, seed, rows, allowed, scatter, curve, family, spare)
    except InputError as error:
        typer.echo(str(error), err=True)
        raise typer.Exit(2) from error
    began = time.perf_counter()
    kinds = FOREIGN if families else (family,)
    found = {one: list(_shown(contest(dataclasses.replace(settings, family=one)), planters)) for one in kinds}
    together = [pair for pairs in found.values() for pair in pairs]
    if json_:
        typer.echo(json.dumps({**_figures(together), **({"families": _each(found)} if families else {})}))
        return
    _head(settings, found, time.perf_counter() - began)
    if families:
        _print_families(found)
    _print(together)


def _figures(pairs: Pairs) -> dict[str, object]:
    """Both tallies, and 95 % intervals of what is told with one."""
    advisor, handbook = (tally(evenings) for evenings in zip(*pairs, strict=True))
    told = {"runs_mean": mean_runs, "catches": mean_catches, "wrong_rows": wrong_share}
    intervals = {name: _of_advisor(pairs, figure) for name, figure in told.items()}
    return {
        "advisor": dataclasses.asdict(advisor),
        "handbook": dataclasses.asdict(handbook),
        "times_as_many": times_as_many(pairs),
        "interval_95": {**intervals, "times_as_many": interval(pairs, times_as_many)},
    }


def _of_advisor(pairs: Pairs, figure: Callable[[Sequence[Evening]], float]) -> tuple[float, float]:
    return interval([one for one, _ in pairs], figure)


def _each(found: Mapping[Family, Pairs]) -> dict[str, object]:
    return {one.value: _figures(pairs) for one, pairs in found.items()}


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


def _head(settings: Contest, found: Mapping[Family, Pairs], seconds: float) -> None:
    own = f"of {settings.rows} rows, noise {settings.noise:.3g}, {settings.shape} curve" if Family.OWN in found else ""
    print_ = Console().print
    print_(
        f"{settings.planters} planters of the family {', '.join(found)} {own}".rstrip()
        + f", seed {settings.seed}, tolerance {settings.tolerance:.3g}, {seconds:.0f} s"
    )


def _print_families(found: Mapping[Family, Pairs]) -> None:
    names = ("runs", "in 3", "in 4", "in 8", "wrong", "lost", "stated", "true", "sure", "usual")
    table = Table(Column("family", no_wrap=True), *(Column(name, no_wrap=True) for name in names), padding=(0, 0))
    table.caption = (
        "lost: sound rows given up; sure: true of those stated .95 to .98; usual: test runs by the handbook rule"
    )
    for family, pairs in found.items():
        one, other = (tally(evenings) for evenings in zip(*pairs, strict=True))
        shares = (f"{share:.0%}" for share in (one.within_3, one.within_4, one.within_8))
        rates = (f"{share:.1%}" for share in (one.wrong_rows, one.given_up))
        claims = (f"{share:.3f}" for share in (one.stated, one.true, one.sure))
        table.add_row(family, f"{one.runs_mean:.2f}", *shares, *rates, *claims, f"{other.runs_mean:.2f}")
    Console().print(table)


def _print(pairs: Pairs) -> None:
    advisor, handbook = (tally(evenings) for evenings in zip(*pairs, strict=True))
    table = Table("", "advisor", "handbook rule")
    for field, (line, style) in _LINES.items():
        table.add_row(line, style.format(getattr(advisor, field)), style.format(getattr(handbook, field)))
    console = Console()
    console.print(table)
    runs, wrong = _of_advisor(pairs, mean_runs), _of_advisor(pairs, wrong_share)
    catches = _of_advisor(pairs, mean_catches)
    console.print(
        f"advisor, 95 % intervals: runs {runs[0]:.2f}-{runs[1]:.2f}, catches {catches[0]:.1f}-{catches[1]:.1f}, "
        f"wrong {wrong[0]:.2%}-{wrong[1]:.2%}"
    )
    low, high = interval(pairs, times_as_many)
    console.print(
        f"the handbook rule needs {times_as_many(pairs):.2f} times as many test runs (95 %: {low:.2f}-{high:.2f})"
    )
