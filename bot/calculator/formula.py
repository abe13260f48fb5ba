"""Any formula of the catalogue on the command line: ``rowhand calc NAME key=value …``.

Names, types and units come from the catalogue. One value for each row is written "49 g, 51 g" from row 1 on, or with
row numbers "3: 49 g, 5: 51 g"; runs are parted by ";". A dial is "0-30 by 1" or its marks "A, A+, B"; a setting is a
position on the dial that is given beside it.
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Mapping, Sequence
from typing import Annotated, Any

import typer
from typer.main import get_command

from bot.calculator.figures import Figures, digits, show
from bot.calculator.refusal import one_sentence
from bot.calculator.written import read_written, unit_wanted
from engine.calculations.catalogue import Argument, Formula, ValueShape, ValueType, formulas
from engine.errors import InputError
from engine.quantities import UNITS, Dimension, Measure
from engine.values import Dial, Setting, Value

ANSWER = {
    Dimension.MASS: ("g", "g"),
    Dimension.VOLUME: ("fl oz", "mL"),
    Dimension.LENGTH: ("ft", "m"),
    Dimension.AREA: ("acre", "ha"),
    Dimension.TIME: ("s", "s"),
    Dimension.SPEED: ("mph", "km/h"),
    Dimension.DENSITY: ("lb/ft3", "g/mL"),
    Dimension.AREA_RATE: ("lb/acre", "kg/ha"),
    Dimension.ROW_RATE: ("oz/1000 ft", "g/100 m"),
    Dimension.WORK_RATE: ("acre/h", "ha/h"),
    Dimension.RATIO: ("%", "%"),
}
"""Usual units of an answer, by the system of what was given. A ratio is told in percent but for factors."""
_DIAL = re.compile(r"^\s*(-?[\d.]+)\s*(?:-|to)\s*([\d.]+)\s*(?:by|/)\s*([\d.]+)\s*$")


def is_american(one: Measure) -> bool:
    """Whether it is given in a unit of the US system."""
    return UNITS[one.unit].system == "us"


def command_of(name: str) -> Any:
    """The command of one formula; None where the catalogue has no such name."""
    import engine.library  # noqa: F401

    formula = formulas().get(name)
    return None if formula is None else _command(formula)


def names() -> list[str]:
    """Every formula of the catalogue."""
    import engine.library  # noqa: F401

    return sorted(formulas())


def _command(formula: Formula) -> Any:
    """A command made of a formula: its help is the formula's own documentation and what it takes."""

    def run(
        *,
        given: Annotated[list[str] | None, typer.Argument(metavar="KEY=VALUE...", show_default=False)] = None,
        in_: Annotated[str | None, typer.Option("--in", help="unit of the answer")] = None,
        json_: Annotated[bool, typer.Option("--json", help="print one JSON object")] = False,
    ) -> None:
        with one_sentence():
            _answer(formula, given or [], in_, as_json=json_)

    about = inspect.getdoc(formula.function) or ""
    takes = "\n".join(f"{key}: {_type(kind)}" for key, kind in formula.inputs.items())
    app = typer.Typer(rich_markup_mode=None, add_completion=False)
    first = about.split("\n", maxsplit=1)[0]
    app.command(formula.name, help=f"{about}\n\n\b\nTakes\n{takes}", short_help=first)(run)
    return get_command(app)


def _type(kind: ValueType) -> str:
    what = " or ".join(kind.words) if kind.words else str(kind)
    return f"{what}, may be left out" if kind.optional else what


def _answer(formula: Formula, given: Sequence[str], in_: str | None, *, as_json: bool) -> None:
    texts = dict(_pair(formula, one) for one in given)
    dial = next((_dial(text) for key, text in texts.items() if formula.inputs[key].kind == "dial"), None)
    arguments = {key: _argument(formula.inputs[key], key, text, dial) for key, text in texts.items()}
    found = formula.evaluate(arguments)
    american = any(is_american(one) for value in arguments.values() for one in _measures(value))
    unit = None if in_ is None else unit_wanted(in_).symbol
    told: dict[str, Figures] = {} if found.outcome is None else {"outcome": found.outcome}
    told |= {key: _in_unit(value, unit, american=american) for key, value in found.results.items() if value != {}}
    if unit is not None and not any(one.unit == unit for value in told.values() for one in _measures(value)):
        raise InputError(f"--in: no result of {formula.name} is measured in {unit}")
    show(told, digits(texts.values()), as_json=as_json)


def _pair(formula: Formula, given: str) -> tuple[str, str]:
    key, equals, text = given.partition("=")
    key = key.strip().replace("-", "_")
    if not equals or key not in formula.inputs:
        raise InputError(f"{given!r}: {formula.name} takes {', '.join(f'{one}=' for one in formula.inputs)}")
    return key, text.strip()


def _argument(kind: ValueType, key: str, text: str, dial: Dial | None) -> Argument:
    if kind.shape is ValueShape.ROWS:
        return _rows(kind, key, text, dial)
    if kind.shape is ValueShape.RUNS:
        return tuple(_rows(kind, key, run, dial) if run.strip() else {} for run in text.split(";"))
    return _value(kind, key, text, dial)


def _rows(kind: ValueType, key: str, text: str, dial: Dial | None) -> dict[int, Value]:
    found: dict[int, Value] = {}
    for number, one in enumerate(text.split(","), start=1):
        row, colon, value = one.partition(":")
        if colon and not row.strip().isdigit():
            raise InputError(f"{key}: {one.strip()!r} does not begin with the number of a row")
        found[int(row) if colon else number] = _value(kind, key, value if colon else one, dial)
    return found


def _value(kind: ValueType, key: str, text: str, dial: Dial | None) -> Value:
    text = text.strip()
    match kind.kind:
        case "measure":
            return _measured(kind, key, text)
        case "count":
            return _count(key, text)
        case "dial":
            return _dial(text)
        case "setting":
            return _setting(key, text, dial)
        case "word":
            return _word(kind, key, text)


def _measured(kind: ValueType, key: str, text: str) -> Measure:
    try:
        return read_written(text, *sorted(kind.dimensions))
    except InputError as error:
        raise InputError(f"{key}: {error}") from error


def _count(key: str, text: str) -> int:
    if not re.fullmatch(r"-?\d{1,9}", text):
        raise InputError(f"{key}: {text!r} is not a whole number")
    return int(text)


def _word(kind: ValueType, key: str, text: str) -> str:
    if kind.words and text not in kind.words:
        raise InputError(f"{key}: {text!r} is none of {', '.join(kind.words)}")
    return text


def _dial(text: str) -> Dial:
    numbers = _DIAL.match(text)
    try:
        if numbers is not None:
            low, high, step = (float(one) for one in numbers.groups())
            return Dial.numbered(low, high, step)
        return Dial.marked(tuple(one.strip() for one in text.split(",")))
    except ValueError as error:
        raise InputError(f"dial: {text!r} is not a dial such as 0-30 by 1, or A, A+, B") from error


def _setting(key: str, text: str, dial: Dial | None) -> Setting:
    if dial is not None:
        found = dial.find(text)
        if found is None:
            raise InputError(f"{key}: the dial has no {text!r}")
        return found
    try:
        return Setting(position=float(text), label=text)
    except ValueError as error:
        raise InputError(f"{key}: {text!r} is no position; give the dial too") from error


def _measures(value: Any) -> list[Measure]:
    if isinstance(value, Measure):
        return [value]
    if isinstance(value, Mapping):
        return [one for part in value.values() for one in _measures(part)]
    return [one for part in value for one in _measures(part)] if isinstance(value, (list, tuple)) else []


def _in_unit(value: Any, unit: str | None, *, american: bool) -> Any:
    if isinstance(value, Mapping):
        return {row: _in_unit(one, unit, american=american) for row, one in value.items()}
    if not isinstance(value, Measure):
        return value
    if unit is not None and UNITS[unit].dimension is value.dimension:
        return value.to(unit)
    us, metric = ANSWER[value.dimension]
    return value if value.dimension is Dimension.RATIO else value.to(us if american else metric)
