"""``rowhand shift``: nights on a simulated planter, with the engine's reminders, with a habit, and with none."""

from __future__ import annotations

import dataclasses
import json
import re
from datetime import timedelta
from typing import Annotated

import typer
from rich.console import Console
from rich.table import Table

from engine.errors import InputError
from engine.reminders.inspection import DEFAULT
from engine.reminders.sight import Sight
from engine.simulation.night import START, Night, NightModel, RowTrouble, draw_night
from engine.simulation.nights import NightPolicy, UnderfeedNaming, name_all, play, play_all
from engine.simulation.plans import PlanToll, compare_plans, promise
from engine.simulation.watching import Event, Played

app = typer.Typer(
    help="Nights on a simulated planter: what is in doubt until somebody notices a row that stopped.",
    no_args_is_help=True,
)

_TITLES = {NightPolicy.RISK: "assistant", NightPolicy.HABIT: "every 2 hours", NightPolicy.NONE: "no reminders"}
_LINES = {
    "acres_median": ("acres in doubt, median", "{:.1f}"),
    "acres_p95": ("acres in doubt, 95 of 100", "{:.1f}"),
    "checks_per_night": ("looks a night", "{:.1f}"),
    "false_alarms_per_night": ("false alarms a night", "{:.2f}"),
}

_SIGHTS = {Sight.HOPPER: "eye", Sight.STICK: "stick", Sight.OUTLET: "outlet"}
_COLUMNS = {
    "looks": "looks",
    "walks": "walks",
    "acres_median": "median",
    "acres_p95": "95 %",
    "promised": "promised",
    "row_acres_mean": "bare",
    "row_acres_p95": "95 %",
}


@app.callback()
def shift() -> None:
    """Keep watch while a planter works."""


@app.command()
def simulate(
    *,
    hours: Annotated[float, typer.Option(min=1, max=24, help="Length of the shift, from 19:00.")] = 12,
    rows: Annotated[int, typer.Option(min=3, max=48, help="Rows of the planter.")] = 8,
    accepted: Annotated[
        float | None,
        typer.Option(min=0.1, max=1000, help="Acres of the machine that may be lost, instead of the default plan."),
    ] = None,
    answer: Annotated[float, typer.Option(min=0, max=60, help="Minutes within which a look is answered.")] = 5,
    late: Annotated[float, typer.Option(min=0, max=1, help="Share of looks answered late, up to 4 times that.")] = 0.05,
    fail_row: Annotated[int | None, typer.Option(help="The row that stops; drawn where not given.")] = None,
    at: Annotated[str | None, typer.Option(help="When it stops, such as 01:10; drawn where not given.")] = None,
    under_feed: Annotated[
        float | None, typer.Option(min=1, max=99, help="A row feeds so many per cent too little instead.")
    ] = None,
    nights: Annotated[int | None, typer.Option(min=1, help="Many nights, and what they come to.")] = None,
    seed: Annotated[int, typer.Option(min=0, help="The same seed gives the same nights.")] = 1,
    json_: Annotated[bool, typer.Option("--json", help="Print one JSON object.")] = False,
) -> None:
    """A night on a simulated planter at full speed: what is in doubt until somebody notices that a row quit."""
    settings = NightModel(
        rows, hours, accepted, answer, late, under_feed=None if under_feed is None else under_feed / 100
    )
    settings = dataclasses.replace(settings, trouble=_trouble(settings, seed, fail_row, at))
    if nights is None:
        _one(draw_night(settings, seed, 0), json_)
    elif under_feed is None:
        _many(settings, nights, seed, json_)
    else:
        _named(name_all(settings, nights, seed), nights, under_feed, json_)


def _trouble(settings: NightModel, seed: int, row: int | None, at: str | None) -> RowTrouble | None:
    """What was asked for, the rest as drawn; None where all is drawn anew in every night."""
    if row is None and at is None:
        return None
    if row is not None and not 1 <= row <= settings.rows:
        raise InputError(f"there is no row {row}: the planter has rows 1 to {settings.rows}")
    drawn = draw_night(settings, seed, 0).trouble
    return RowTrouble(row or drawn.row, drawn.hour if at is None else _hour(at, settings.hours), drawn.feeds)


def _hour(text: str, hours: float) -> float:
    """Hours from the start of the shift to a time of day."""
    found = re.fullmatch(r"(\d\d?):(\d\d)", text)
    if not found or int(found[1]) > 23 or int(found[2]) > 59:
        raise InputError(f"{text!r} is not a time of day: write it like 01:10")
    hour = (int(found[1]) + int(found[2]) / 60 - START.hour - START.minute / 60) % 24
    if hour >= hours:
        raise InputError(f"{text} is not within the shift of {hours:g} hours from {START:%H:%M}")
    return hour


def _one(night: Night, as_json: bool) -> None:
    mend = night.trouble.feeds == 0
    played = {policy: play(night, policy, mend=mend) for policy in NightPolicy}
    if as_json:
        shown = {policy.value: _facts(night, one) for policy, one in played.items()}
        typer.echo(json.dumps({**shown, "accepted_acres": _accepted(night.shift, 1, night.seed[0])}))
        return
    trouble = night.trouble
    quits = "stops" if mend else f"feeds {1 - trouble.feeds:.0%} too little"
    accepted = _accepted(night.shift, 1, night.seed[0])
    typer.echo(f"row {trouble.row} {quits} at {_clock(trouble.hour)}; {accepted:.3g} acres may be lost")
    for policy, one in played.items():
        typer.echo(f"\n{_TITLES[policy]}: {one.in_doubt:.1f} acres in doubt, {one.checks} looks")
        for event in one.events:
            if event.what not in {"asked", "looked"}:
                typer.echo(f"  {_clock(event.hour)}  {_told(event)}")
                for line in event.reply.splitlines():
                    typer.echo(f"           {line}")


def _facts(night: Night, played: Played) -> dict[str, object]:
    trouble = night.trouble
    quits = Event(trouble.hour, "stopped" if trouble.feeds == 0 else "under-feeds", trouble.row)
    events = sorted([*played.events, quits], key=lambda event: event.hour)
    return {
        "acres_in_doubt": played.in_doubt,
        "noticed": None if played.noticed is None else _clock(played.noticed),
        "checks": played.checks,
        "false_alarms": played.false_alarms + played.named_wrong,
        "events": [{"at": _clock(event.hour), **_shown(event)} for event in events],
    }


def _shown(event: Event) -> dict[str, object]:
    found = {"event": event.what, "row": event.row, "acres": event.acres, "probability": event.probability}
    words = {"said": event.said or None, "reply": event.reply or None}
    return {name: value for name, value in (found | words).items() if value is not None}


def _told(event: Event) -> str:
    row = "" if event.row is None else f" row {event.row}"
    chance = "" if event.probability is None else f", {event.probability:.0%} sure"
    said = f": “{event.said}”" if event.said else ""
    return f"{event.what}{row}{chance}{said}"


def _clock(hour: float) -> str:
    return f"{START + timedelta(hours=hour):%H:%M}"


def _many(settings: NightModel, nights: int, seed: int, as_json: bool) -> None:
    tolls, plans = play_all(settings, nights, seed), compare_plans(settings, nights, seed)
    accepted = _accepted(settings, nights, seed)
    if as_json:
        found: dict[str, object] = {policy.value: dataclasses.asdict(one) for policy, one in tolls.items()}
        shown = {
            name: {sight.value: dataclasses.asdict(one) for sight, one in by.items()} for name, by in plans.items()
        }
        typer.echo(json.dumps({**found, "accepted_acres": accepted, "policies": shown}))
        return
    table = Table("", *(_TITLES[policy] for policy in tolls))
    for name, (line, style) in _LINES.items():
        table.add_row(line, *(style.format(getattr(one, name)) for one in tolls.values()))
    console = Console()
    console.print(f"{nights} nights of {settings.hours:g} hours, {settings.rows} rows, one row stops in each")
    console.print(table)
    console.print(f"{accepted:.3g} acres of the machine may be lost")
    console.print(_compared(plans))


def _compared(plans: dict[str, dict[Sight, PlanToll]]) -> Table:
    """Every plan by the rules alone, hoppers compared by eye and granules seen at the outlets."""
    title = "plans of looks: acres of the machine in doubt, acres of row bare"
    table = Table("plan", "by", *_COLUMNS.values(), title=title)
    for name, by_sight in plans.items():
        for sight, toll in by_sight.items():
            figures = (f"{getattr(toll, column):.{2 if column.startswith('row') else 1}f}" for column in _COLUMNS)
            table.add_row(name.removesuffix("_only").replace("_", " "), _SIGHTS[sight], *figures)
    return table


def _accepted(settings: NightModel, nights: int, seed: int) -> float:
    """Acres of the machine that may be lost: as chosen, else what the default plan promises at 95 of 100 nights."""
    return promise(DEFAULT, settings, nights, seed) if settings.accepted is None else settings.accepted


def _named(naming: UnderfeedNaming, nights: int, under_feed: float, as_json: bool) -> None:
    if as_json:
        typer.echo(json.dumps({**dataclasses.asdict(naming), "under_feed_percent": under_feed, "nights": nights}))
        return
    typer.echo(f"{nights} nights in each of which one row feeds {under_feed:g} % too little")
    typer.echo(f"named by its use within one refill: {naming.named_within_one_refill:.1%} of nights")
    typer.echo(f"named within two refills: {naming.named_within_two_refills:.1%} of nights")
    typer.echo(f"rows named that fed right: {naming.false_alarms_per_night:.3f} a night")
