"""The catalogue: every formula by name, with the types at its door read from its own signature.

A dialog names a formula, its arguments and its results; the loader compares them with what stands here, and
``Formula.evaluate`` turns stored values into quantities and back. A formula is a plain function decorated with
``@formula(name, sources=...)``:

* arguments are annotated with the types of ``kinds``, int, str, ``Setting`` or ``Dial``; a default makes one optional
  (a dialog passes nothing or None); a frozen dataclass stands for its fields, each an argument by its own name;
* it returns one such value (its result is then called ``value``) or a frozen dataclass whose fields are the results;
  a field ``outcome`` annotated as a ``Literal`` lists the closed set a dialog must branch on, and so does a
  ``Literal`` that is returned alone;
* results annotated with ``| None`` may be missing; ``without`` names those that each outcome lacks where the outcome
  decides it, and then every other outcome has them.
"""

from __future__ import annotations

import dataclasses
import inspect
import types
import typing
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from typing import Any, Literal, TypeVar

import pint

from engine.errors import InputError, WrongDimension
from engine.quantities import Dimension, Measure, measure, quantity
from engine.values import Dial, Rows, Setting, Value


class ValueShape(StrEnum):
    ONE = "one"
    ROWS = "rows"
    RUNS = "runs"


@dataclass(frozen=True)
class ValueType:
    """What may stand in one place: ``kind`` is measure, count, word, setting or dial."""

    kind: Literal["measure", "count", "word", "setting", "dial"]
    dimensions: frozenset[Dimension] = frozenset()
    shape: ValueShape = ValueShape.ONE
    optional: bool = False
    words: tuple[str, ...] = ()

    def accepts(self, other: ValueType) -> bool:
        """Whether a value of type ``other`` may be passed here."""
        if self.kind != other.kind or self.shape is not other.shape:
            return False
        return self.kind != "measure" or other.dimensions <= self.dimensions

    def __str__(self) -> str:
        what = " or ".join(sorted(self.dimensions)) if self.dimensions else self.kind
        return {
            ValueShape.ONE: what,
            ValueShape.ROWS: f"{what} per row",
            ValueShape.RUNS: f"{what} per row of every run",
        }[self.shape]


Argument = Value | Rows | Sequence[Rows] | None

_STORED_UNIT = {
    Dimension.MASS: "g",
    Dimension.VOLUME: "mL",
    Dimension.LENGTH: "m",
    Dimension.AREA: "ha",
    Dimension.TIME: "s",
    Dimension.SPEED: "m/s",
    Dimension.DENSITY: "g/mL",
    Dimension.AREA_RATE: "kg/ha",
    Dimension.ROW_RATE: "g/100 m",
    Dimension.WORK_RATE: "ha/h",
    Dimension.RATIO: "1",
}


@dataclass(frozen=True)
class Evaluation:
    """What a formula gave: its results as stored values, and its outcome where it has one."""

    results: dict[str, Value | Rows]
    outcome: str | None


@dataclass(frozen=True)
class Formula:
    """One entry of the catalogue."""

    name: str
    function: Callable[..., Any]
    sources: tuple[str, ...]
    without: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    @cached_property
    def inputs(self) -> dict[str, ValueType]:
        """The arguments by name, read from the signature when they are first wanted."""
        parameters = inspect.signature(self.function).parameters.values()
        defaults = {one.name for one in parameters if one.default is not one.empty}
        read: dict[str, ValueType] = {}
        for argument, hint in self._hints.items():
            if argument in self._groups:
                read |= _fields(hint)
            elif argument != "return":
                read[argument] = dataclasses.replace(_value_type(hint), optional=argument in defaults)
        return read

    @cached_property
    def _groups(self) -> dict[str, type]:
        """The arguments that stand for several."""
        return {argument: hint for argument, hint in self._hints.items() if argument != "return" and _is_group(hint)}

    def reckon(self, quantities: Mapping[str, Any]) -> Any:
        """What the function gives for arguments by name, in its own types; errors are those of the function."""
        given = dict(quantities)
        for argument, group in self._groups.items():
            names = [one.name for one in dataclasses.fields(group) if one.name in given]
            given[argument] = group(**{name: given.pop(name) for name in names})
        return self.function(**given)

    @property
    def results(self) -> dict[str, ValueType]:
        return self._ends[0]

    @property
    def outcomes(self) -> tuple[str, ...]:
        return self._ends[1]

    @cached_property
    def _ends(self) -> tuple[dict[str, ValueType], tuple[str, ...]]:
        return _results(self._hints["return"])

    @cached_property
    def _hints(self) -> dict[str, Any]:
        return typing.get_type_hints(self.function, include_extras=True)

    def may_lack(self, outcome: str | None) -> frozenset[str]:
        """The results that may be missing with an outcome."""
        if self.without and outcome:
            return frozenset(self.without.get(outcome, ()))
        return frozenset(name for name, kind in self.results.items() if kind.optional)

    def evaluate(self, arguments: Mapping[str, Argument]) -> Evaluation:
        """Run the formula on stored values; InputError where they are outside its domain."""
        ready = {name: _enter(self.inputs[name], value, name) for name, value in arguments.items() if value is not None}
        missing = [name for name, kind in self.inputs.items() if name not in ready and not kind.optional]
        if missing:
            raise InputError(f"{self.name} needs {', '.join(missing)}")
        given = self.reckon(ready)
        if not self.results:
            return Evaluation({}, given)
        if not dataclasses.is_dataclass(given):
            return Evaluation({"value": _leave(self.results["value"], given)}, None)
        fields = {name: getattr(given, name) for name in self.results}
        results = {name: _leave(self.results[name], value) for name, value in fields.items() if value is not None}
        return Evaluation(results, getattr(given, "outcome", None))


_FORMULAS: dict[str, Formula] = {}
F = TypeVar("F", bound=Callable[..., Any])


def formula(
    name: str, *, sources: tuple[str, ...], without: Mapping[str, tuple[str, ...]] | None = None
) -> Callable[[F], F]:
    """Put a function into the catalogue under ``name``, with the keys of ``dialogs/sources.yaml`` it rests on."""

    def register(function: F) -> F:
        if name in _FORMULAS:
            raise ValueError(f"two formulas are called {name}")
        _FORMULAS[name] = Formula(name, function, sources, without or {})
        return function

    return register


def formulas() -> Mapping[str, Formula]:
    """Every formula by name. Importing ``engine.calculations.formulas`` fills it."""
    return types.MappingProxyType(_FORMULAS)


PLAIN: Mapping[Any, ValueType] = {
    int: ValueType("count"),
    str: ValueType("word"),
    Setting: ValueType("setting"),
    Dial: ValueType("dial"),
}


def _is_group(hint: Any) -> bool:
    return isinstance(hint, type) and dataclasses.is_dataclass(hint) and hint not in PLAIN


def _fields(group: Any) -> dict[str, ValueType]:
    hints = typing.get_type_hints(group, include_extras=True)
    return {
        one.name: dataclasses.replace(_value_type(hints[one.name]), optional=one.default is not dataclasses.MISSING)
        for one in dataclasses.fields(group)
    }


def _results(hint: Any) -> tuple[dict[str, ValueType], tuple[str, ...]]:
    if typing.get_origin(hint) is Literal:
        return {}, typing.get_args(hint)
    if not dataclasses.is_dataclass(hint):
        return {"value": _value_type(hint)}, ()
    fields = typing.get_type_hints(hint, include_extras=True)
    outcome = fields.pop("outcome", None)
    return {name: _value_type(kind) for name, kind in fields.items()}, typing.get_args(outcome) if outcome else ()


def _value_type(hint: Any) -> ValueType:
    origin, args = typing.get_origin(hint), typing.get_args(hint)
    if origin in (typing.Union, types.UnionType):
        inner = [arg for arg in args if arg is not type(None)]
        return dataclasses.replace(_value_type(inner[0]), optional=True)
    if origin is typing.Annotated:
        return ValueType("measure", frozenset(d for d in args[1:] if isinstance(d, Dimension)))
    if origin is Literal:
        return ValueType("word", words=args)
    if isinstance(origin, type) and issubclass(origin, Mapping):
        return dataclasses.replace(_value_type(args[1]), shape=ValueShape.ROWS)
    if isinstance(origin, type) and issubclass(origin, Sequence):
        return dataclasses.replace(_value_type(args[0]), shape=ValueShape.RUNS)
    if hint in PLAIN:
        return PLAIN[hint]
    if isinstance(hint, type) and issubclass(hint, StrEnum):
        return ValueType("word", words=tuple(hint))
    raise TypeError(f"{hint!r} is not a type a formula may have at its door")


def _enter(kind: ValueType, value: Argument, name: str) -> Any:
    if kind.shape is ValueShape.ROWS:
        return {row: _enter_one(kind, one, name) for row, one in typing.cast(Rows, value).items()}
    if kind.shape is ValueShape.RUNS:
        runs = typing.cast(Sequence[Rows], value)
        return tuple({row: _enter_one(kind, one, name) for row, one in run.items()} for run in runs)
    return _enter_one(kind, typing.cast(Value, value), name)


def _enter_one(kind: ValueType, value: Value, name: str) -> Any:
    if not isinstance(value, Measure):
        return value
    if value.dimension not in kind.dimensions:
        raise WrongDimension(value.unit, " or ".join(sorted(kind.dimensions)), name)
    return value.quantity


def _leave(kind: ValueType, value: Any) -> Any:
    if kind.shape is ValueShape.ROWS:
        return {row: _leave_one(kind, one) for row, one in value.items()}
    return _leave_one(kind, value)


def _leave_one(kind: ValueType, value: Any) -> Value:
    if isinstance(value, pint.Quantity):
        units = (_STORED_UNIT[dimension] for dimension in kind.dimensions)
        return measure(value, next(unit for unit in units if value.is_compatible_with(quantity(1.0, unit))))
    return str(value) if isinstance(value, StrEnum) else value


def stored(value: Argument) -> Value | Rows | tuple[Rows, ...]:
    """An argument as it stands in the record; it must have a value."""
    if isinstance(value, Sequence) and not isinstance(value, str):
        return tuple(dict(rows) for rows in value)
    assert value is not None
    return value
