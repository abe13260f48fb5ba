"""The calculations alone, for scripts: ``rowhand calc target|rate|speed|capacity|spread|drawdown``, and by NAME.

Every command reads quantities such as "30 in" or "8.712 lb/acre" and prints one line, or one JSON object with
``{"value", "unit"}`` for each quantity. Input that cannot be used ends with one sentence on standard error and code 2.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from bot.calculator.figures import digits, show
from bot.calculator.formula import ANSWER, command_of, is_american, names
from bot.calculator.refusal import one_sentence
from bot.calculator.written import read_written, unit_wanted
from engine.calculations import catch, course, coverage, rate, target
from engine.calculations.hoppers import drawdown
from engine.calculations.runs import uniformity
from engine.errors import InputError
from engine.quantities import UNITS, Dimension, Measure, Quantity, measure


class Catalogue(TyperGroup):
    """The commands below, and every formula of the catalogue by its name."""

    def list_commands(self, ctx: Any) -> list[str]:
        own = super().list_commands(ctx)
        return [*own, *(name for name in names() if name not in own)]

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        return super().get_command(ctx, cmd_name) or command_of(cmd_name)


app = typer.Typer(
    name="calc",
    cls=Catalogue,
    help="The calculations alone. Those of the catalogue take KEY=VALUE: rowhand calc NAME --help tells which.",
    no_args_is_help=True,
    rich_markup_mode=None,
)

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
    with one_sentence():
        wanted = _needed("--rate", rate_, Dimension.AREA_RATE, Dimension.ROW_RATE)
        length = _needed("--course", course_, Dimension.LENGTH)
        along = wanted.quantity
        along = rate.rate_along_row(along, _spacing(spacing, width).quantity) if rate.is_per_area(along) else along
        mass = target.catch_along(along, length.quantity)
        heavy = _given("--density", density, Dimension.DENSITY)
        answer = _answer_unit(in_, wanted, Dimension.MASS, Dimension.VOLUME)
        results: dict[str, Measure | list[Measure]] = {"catch": _amount(mass, heavy, answer)}
        if (planned := _given("--speed", speed, Dimension.SPEED)) is not None:
            results["time"] = measure(course.course_time(length.quantity, planned.quantity), "s")
        also = [measure(mass, "oz")] if in_ is None and is_american(wanted) else []
        _print(results, (rate_, spacing, width, course_, density, speed), json_, also)


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
    with one_sentence():
        length = _needed("--course", course_, Dimension.LENGTH)
        mass = _mass(_needed("--caught", caught, Dimension.MASS, Dimension.VOLUME), tare, density)
        unit = _answer_unit(in_, length, Dimension.AREA_RATE, Dimension.ROW_RATE)
        if UNITS[unit].dimension is Dimension.ROW_RATE:
            found = rate.row_rate(mass, length.quantity)
        else:
            found = rate.applied_rate(mass, _spacing(spacing, width).quantity, length.quantity)
        _print({"rate": measure(found, unit)}, (caught, spacing, width, course_, tare, density), json_)


@app.command("speed")
def speed_command(
    *, course_: CourseOption = None, time: TimeOption = None, in_: InOption = None, json_: JsonOption = False
) -> None:
    """The ground speed that a timed course shows."""
    with one_sentence():
        length = _needed("--course", course_, Dimension.LENGTH)
        took = _needed("--time", time, Dimension.TIME)
        unit = _answer_unit(in_, length, Dimension.SPEED)
        _print({"speed": measure(course.true_speed(length.quantity, took.quantity), unit)}, (course_, time), json_)


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
    with one_sentence():
        wide = _needed("--width", width, Dimension.LENGTH)
        fast = _needed("--speed", speed, Dimension.SPEED)
        worked = _needed("--efficiency", efficiency, Dimension.RATIO)
        unit = _answer_unit(in_, wide, Dimension.WORK_RATE)
        found = coverage.work_rate(wide.quantity, fast.quantity, worked.quantity)
        _print({"capacity": measure(found, unit)}, (width, speed, efficiency), json_)


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
    with one_sentence():
        read = [_needed("--caught", one, Dimension.MASS, Dimension.VOLUME) for one in caught]
        masses = {row: _mass(one, tare, density) for row, one in enumerate(read, start=1)}
        found = uniformity.spread(masses)
        own = read[0].unit if read[0].dimension is Dimension.MASS else "g"
        unit = _answer_unit(in_ or own, read[0], Dimension.MASS)
        results: dict[str, Measure | list[Measure]] = {
            "mean": measure(found.mean, unit),
            "cv": measure(found.cv, "%"),
            "deviations": [measure(one, "%") for one in found.deviations.values()],
        }
        _print(results, (*caught, tare, density), json_)


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
    with one_sentence():
        put_in = _needed("--loaded", loaded, Dimension.MASS)
        over = _needed("--area", area, Dimension.AREA)
        rest = _given("--left", left, Dimension.MASS)
        taken_out = rest.quantity if rest else 0 * put_in.quantity
        unit = _answer_unit(in_, over, Dimension.AREA_RATE)
        found = drawdown.drawdown(put_in.quantity, taken_out, over.quantity)
        _print({"rate": measure(found, unit)}, (loaded, left, area), json_)


def _given(option: str, text: Text, *dimensions: Dimension) -> Measure | None:
    if text is None:
        return None
    try:
        return read_written(text, *dimensions)
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
        us, metric = ANSWER[dimensions[0]]
        return us if is_american(like) else metric
    unit = unit_wanted(wanted)
    if unit.dimension not in dimensions:
        kinds = " or ".join(one.replace("_", " ") for one in dimensions)
        raise InputError(f"--in: {unit.symbol} is not a unit of {kinds}")
    return unit.symbol


def _print(
    results: Mapping[str, Measure | list[Measure]], given: Sequence[Text], as_json: bool, also: Sequence[Measure] = ()
) -> None:
    """Print results with as many digits as what was ``given`` carries."""
    show(results, digits(text for text in given if text is not None), as_json=as_json, also=also)
