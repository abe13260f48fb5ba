"""The calculations alone, for scripts: ``rowhand calc target|rate|speed|capacity|spread|drawdown``.

Every command reads quantities such as "30 in" or "8.712 lb/acre" and prints one line, or one JSON object with
``{"value", "unit"}`` for each quantity. Input that cannot be used ends with one sentence on standard error and code 2.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Annotated, Any

import typer
from pydantic import ValidationError

from engine.calculations import catch, course, coverage, drawdown, rate, target, uniformity
from engine.errors import InputError, UnreadableQuantity
from engine.quantities import UNITS, Dimension, Measure, Quantity, measure, read_measure, unit_called

app = typer.Typer(
    name="calc",
    help="The calculations alone: target catch, rate, speed, capacity, spread, drawdown.",
    no_args_is_help=True,
    rich_markup_mode=None,
)

_US_BY_KIND = {
    "mass and volume": ("lb", "oz", "fl oz"),
    "length and area": ("in", "ft", "yd", "mi", "acre", "ft2"),
    "speed and density": ("mph", "ft/s", "lb/ft3"),
    "rate": ("lb/acre", "oz/acre", "oz/1000 ft", "acre/h"),
}
_US = frozenset(symbol for symbols in _US_BY_KIND.values() for symbol in symbols)
_ANSWER = {
    Dimension.MASS: ("g", "g"),
    Dimension.VOLUME: ("fl oz", "mL"),
    Dimension.TIME: ("s", "s"),
    Dimension.SPEED: ("mph", "km/h"),
    Dimension.AREA_RATE: ("lb/acre", "kg/ha"),
    Dimension.ROW_RATE: ("oz/1000 ft", "g/100 m"),
    Dimension.WORK_RATE: ("acre/h", "ha/h"),
    Dimension.RATIO: ("%", "%"),
}

Text = str | None
RateOption = Annotated[Text, typer.Option("--rate", help='wanted rate, "8.712 lb/acre" or "8 oz/1000 ft"')]
SpacingOption = Annotated[Text, typer.Option("--spacing", help="width that one outlet serves")]
WidthOption = Annotated[Text, typer.Option("--width", help="width that was covered, instead of --spacing")]
MachineOption = Annotated[Text, typer.Option("--width", help="width of the whole machine")]
CourseOption = Annotated[Text, typer.Option("--course", help="length that was driven")]
CaughtOption = Annotated[Text, typer.Option("--caught", help="what was caught, a mass or with --density a volume")]
CatchesOption = Annotated[list[str], typer.Option("--caught", help="one catch; give the option once for each row")]
TareOption = Annotated[Text, typer.Option("--tare", help="mass of the empty container")]
DensityOption = Annotated[Text, typer.Option("--density", help="settled bulk density of the product")]
SpeedOption = Annotated[Text, typer.Option("--speed", help="ground speed")]
TimeOption = Annotated[Text, typer.Option("--time", help="time over the course")]
EfficiencyOption = Annotated[Text, typer.Option("--efficiency", help="field efficiency, such as 65 %")]
LoadedOption = Annotated[Text, typer.Option("--loaded", help="product put into the hoppers")]
LeftOption = Annotated[Text, typer.Option("--left", help="product left in the hoppers")]
AreaOption = Annotated[Text, typer.Option("--area", help="area planted meanwhile")]
InOption = Annotated[Text, typer.Option("--in", help="unit of the answer")]
JsonOption = Annotated[bool, typer.Option("--json", help="print one JSON object")]


@app.command("target")
def target_command(
    *,
    rate_: RateOption = None,
    spacing: SpacingOption = None,
    width: WidthOption = None,
    course_: CourseOption = None,
    density: DensityOption = None,
    speed: SpeedOption = None,
    in_: InOption = None,
    json_: JsonOption = False,
) -> None:
    """What one outlet should give over the course, and with --speed the time over it."""
    with _one_sentence():
        wanted = _needed("--rate", rate_, Dimension.AREA_RATE, Dimension.ROW_RATE)
        length = _needed("--course", course_, Dimension.LENGTH)
        along = wanted.quantity
        along = rate.rate_along_row(along, _spacing(spacing, width).quantity) if rate.is_per_area(along) else along
        mass = target.catch_along(along, length.quantity)
        heavy = _given("--density", density, Dimension.DENSITY)
        answer = _answer_unit(in_, wanted, Dimension.MASS, Dimension.VOLUME)
        results = {"catch": _amount(mass, heavy, answer)}
        if (planned := _given("--speed", speed, Dimension.SPEED)) is not None:
            results["time"] = measure(course.course_time(length.quantity, planned.quantity), "s")
        also = [measure(mass, "oz")] if in_ is None and wanted.unit in _US else []
        _print(results, json_, also)


@app.command("rate")
def rate_command(
    *,
    caught: CaughtOption = None,
    spacing: SpacingOption = None,
    width: WidthOption = None,
    course_: CourseOption = None,
    tare: TareOption = None,
    density: DensityOption = None,
    in_: InOption = None,
    json_: JsonOption = False,
) -> None:
    """The rate that one catch over the course shows."""
    with _one_sentence():
        length = _needed("--course", course_, Dimension.LENGTH)
        mass = _mass(_needed("--caught", caught, Dimension.MASS, Dimension.VOLUME), tare, density)
        unit = _answer_unit(in_, length, Dimension.AREA_RATE, Dimension.ROW_RATE)
        if UNITS[unit].dimension is Dimension.ROW_RATE:
            found = rate.row_rate(mass, length.quantity)
        else:
            found = rate.applied_rate(mass, _spacing(spacing, width).quantity, length.quantity)
        _print({"rate": measure(found, unit)}, json_)


@app.command("speed")
def speed_command(
    *, course_: CourseOption = None, time: TimeOption = None, in_: InOption = None, json_: JsonOption = False
) -> None:
    """The ground speed that a timed course shows."""
    with _one_sentence():
        length = _needed("--course", course_, Dimension.LENGTH)
        took = _needed("--time", time, Dimension.TIME)
        unit = _answer_unit(in_, length, Dimension.SPEED)
        _print({"speed": measure(course.true_speed(length.quantity, took.quantity), unit)}, json_)


@app.command("capacity")
def capacity_command(
    *,
    width: MachineOption = None,
    speed: SpeedOption = None,
    efficiency: EfficiencyOption = None,
    in_: InOption = None,
    json_: JsonOption = False,
) -> None:
    """The area planted in an hour."""
    with _one_sentence():
        wide = _needed("--width", width, Dimension.LENGTH)
        fast = _needed("--speed", speed, Dimension.SPEED)
        worked = _needed("--efficiency", efficiency, Dimension.RATIO)
        unit = _answer_unit(in_, wide, Dimension.WORK_RATE)
        _print({"capacity": measure(coverage.work_rate(wide.quantity, fast.quantity, worked.quantity), unit)}, json_)


@app.command("spread")
def spread_command(
    *,
    caught: CatchesOption = [],  # noqa: B006
    tare: TareOption = None,
    density: DensityOption = None,
    in_: InOption = None,
    json_: JsonOption = False,
) -> None:
    """How alike the rows are: mean, coefficient of variation (n - 1) and each row's deviation from the mean."""
    with _one_sentence():
        read = [_needed("--caught", one, Dimension.MASS, Dimension.VOLUME) for one in caught]
        masses = {row: _mass(one, tare, density) for row, one in enumerate(read, start=1)}
        found = uniformity.spread(masses)
        own = read[0].unit if read[0].dimension is Dimension.MASS else "g"
        unit = _answer_unit(in_ or own, read[0], Dimension.MASS)
        results = {
            "mean": measure(found.mean, unit),
            "cv": measure(found.cv, "%"),
            "deviations": [measure(one, "%") for one in found.deviations.values()],
        }
        _print(results, json_)


@app.command("drawdown")
def drawdown_command(
    *,
    loaded: LoadedOption = None,
    left: LeftOption = None,
    area: AreaOption = None,
    in_: InOption = None,
    json_: JsonOption = False,
) -> None:
    """The rate that the product used over a known area shows."""
    with _one_sentence():
        put_in = _needed("--loaded", loaded, Dimension.MASS)
        over = _needed("--area", area, Dimension.AREA)
        rest = _given("--left", left, Dimension.MASS)
        taken_out = rest.quantity if rest else 0 * put_in.quantity
        unit = _answer_unit(in_, over, Dimension.AREA_RATE)
        _print({"rate": measure(drawdown.drawdown(put_in.quantity, taken_out, over.quantity), unit)}, json_)


@contextmanager
def _one_sentence() -> Iterator[None]:
    """Turn an error of the input into one sentence on standard error and code 2."""
    try:
        yield
    except (InputError, typer.BadParameter) as error:
        typer.echo(f"calc: {error}", err=True)
        raise typer.Exit(2) from error
    except (ValidationError, OverflowError) as error:
        typer.echo("calc: a number is too large to calculate with", err=True)
        raise typer.Exit(2) from error


def _given(option: str, text: Text, *dimensions: Dimension) -> Measure | None:
    if text is None:
        return None
    try:
        return read_measure(text, *dimensions)
    except InputError as error:
        raise InputError(f"{option}: {error}") from error


def _needed(option: str, text: Text, *dimensions: Dimension) -> Measure:
    found = _given(option, text, *dimensions)
    if found is None:
        raise InputError(f"{option} is missing")
    return found


def _spacing(spacing: Text, width: Text) -> Measure:
    if spacing is not None and width is not None:
        raise InputError("give --spacing or --width, not both")
    if spacing is None and width is None:
        raise InputError("--spacing is missing (the width one outlet serves)")
    return _needed("--spacing" if width is None else "--width", spacing or width, Dimension.LENGTH)


def _mass(caught: Measure, tare: Text, density: Text) -> Quantity:
    """The net mass of a catch given as a mass, or as a volume with its density."""
    heavy = _given("--density", density, Dimension.DENSITY)
    empty = _given("--tare", tare, Dimension.MASS)
    if caught.dimension is Dimension.VOLUME:
        if heavy is None:
            raise InputError("--density is missing: a volume needs it to become a mass")
        if empty is not None:
            raise InputError("--tare is a mass and --caught a volume: give one or the other")
        return catch.poured_catch(caught.quantity, heavy.quantity)
    if empty is None:
        return caught.quantity
    net = catch.net_catch(caught.quantity, empty.quantity)
    if net.outcome == "lighter_than_container":
        raise InputError(f"{caught} is lighter than its container alone, {empty}")
    return net.net


def _amount(mass: Quantity, density: Measure | None, unit: str) -> Measure:
    """A mass in a unit of mass, or with its density in a unit of volume."""
    if UNITS[unit].dimension is Dimension.MASS:
        return measure(mass, unit)
    if density is None:
        raise InputError("--density is missing: a mass needs it to become a volume")
    return measure(target.target_volume(mass, density.quantity), unit)


def _answer_unit(wanted: Text, like: Measure, *dimensions: Dimension) -> str:
    """The unit of ``--in``, or the usual one of the system that ``like`` is given in."""
    if wanted is None:
        us, metric = _ANSWER[dimensions[0]]
        return us if like.unit in _US else metric
    unit = unit_called(wanted)
    if unit is None:
        raise UnreadableQuantity(wanted, "--in needs a unit I know, such as g or lb/acre")
    if unit.dimension not in dimensions:
        kinds = " or ".join(one.replace("_", " ") for one in dimensions)
        raise InputError(f"--in: {unit.symbol} is not a unit of {kinds}")
    return unit.symbol


def _rounded(value: float) -> float:
    """Two decimals, and five significant digits below ten: never rounded away to nothing."""
    if value == 0 or abs(value) >= 10:
        return round(value, 2)
    return round(value, 4 - math.floor(math.log10(abs(value))))


Results = dict[str, Measure | list[Measure]]


def _print(results: Any, as_json: bool, also: list[Measure] | None = None) -> None:
    if as_json:
        typer.echo(json.dumps({key: _plain(found) for key, found in results.items()}))
        return
    parts = [f"{key} {_readable(found)}" for key, found in results.items()]
    for other in also or []:
        parts[0] += f" ({_readable(other)})"
    typer.echo(", ".join(parts))


def _plain(found: Measure | list[Measure]) -> object:
    if isinstance(found, list):
        return [_plain(one) for one in found]
    return {"value": _rounded(found.value), "unit": found.unit}


def _readable(found: Measure | list[Measure]) -> str:
    if isinstance(found, list):
        return " ".join(_readable(one) for one in found)
    return f"{_rounded(found.value):g} {found.unit}"
