"""The table of units: what each is, from ``dialogs/units.yaml`` and proved against pint, with its words by language."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from enum import StrEnum
from functools import cache, cached_property
from pathlib import Path
from typing import Annotated, Any, Literal, Self

import pint
from pint.facets.plain import PlainUnit
from pydantic import AfterValidator, Field, StringConstraints, model_validator

from engine.data.definitions import Definition, Place, PlacedError, dialogs_directory, read_definition
from engine.data.gathering import Gathered, gather
from engine.data.languages import Language
from engine.data.texts import Text, Words
from engine.frozen_model import FrozenModel

FILE = "units.yaml"


class System(StrEnum):
    """The units an operator wants to see."""

    US = "us"
    METRIC = "metric"


class Dimension(StrEnum):
    """The kinds of quantity Rowhand works with."""

    MASS = "mass"
    VOLUME = "volume"
    LENGTH = "length"
    AREA = "area"
    TIME = "time"
    SPEED = "speed"
    DENSITY = "density"
    AREA_RATE = "area_rate"
    ROW_RATE = "row_rate"
    WORK_RATE = "work_rate"
    RATIO = "ratio"


_POWERS: Mapping[Dimension, dict[str, int]] = {
    Dimension.MASS: {"[mass]": 1},
    Dimension.VOLUME: {"[length]": 3},
    Dimension.LENGTH: {"[length]": 1},
    Dimension.AREA: {"[length]": 2},
    Dimension.TIME: {"[time]": 1},
    Dimension.SPEED: {"[length]": 1, "[time]": -1},
    Dimension.DENSITY: {"[mass]": 1, "[length]": -3},
    Dimension.AREA_RATE: {"[mass]": 1, "[length]": -2},
    Dimension.ROW_RATE: {"[mass]": 1, "[length]": -1},
    Dimension.WORK_RATE: {"[length]": 2, "[time]": -1},
    Dimension.RATIO: {},
}
"""What pint says of each dimension."""

Line = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, pattern=r"^[^#@\n]+$")]


def _plain(text: Text) -> Text:
    if text.names:
        raise ValueError(f"{{{min(text.names)}}}: a unit is given no value")
    return text


Plain = Annotated[Text, AfterValidator(_plain)]


class Unit(FrozenModel):
    """One unit: what it is, how it is written and said, and what a person may say or type for it."""

    symbol: Annotated[str, Field(min_length=1)]
    """Its name in the table, in facts and in files."""
    line: Annotated[Line, Field(alias="pint")]
    """How pint knows it: a definition with ``=``, or an expression of units that are defined."""
    dimension: Dimension
    system: Literal["us", "metric"] | None = None
    """Who is used to it; None where everybody is."""
    shown: Plain
    """How it is written after a number."""
    single: Plain | None = None
    """How it is written after a 1, where that differs."""
    said: Plain
    """How it is said after a number."""
    one: Plain | None = None
    """How exactly one is said, number and all, where that differs."""
    words: Words
    """Patterns of what a person may say for it; the first is what Rowhand says."""
    signs: tuple[str, ...] = ()
    """Spellings that are only typed, beside the symbol, the same in every language."""
    typed: dict[str, tuple[str, ...]] = {}
    """Spellings of each language that are only typed, understood in all of them."""

    @cached_property
    def pint(self) -> str:
        """The unit as pint writes it."""
        return self.line.partition("=")[0].strip()

    @property
    def defines(self) -> bool:
        """Whether its line defines a unit for pint, and does not only put others together."""
        return "=" in self.line

    def spellings(self) -> Iterator[str]:
        """All that may be typed for it, without capitals."""
        yield from dict.fromkeys(text.lower() for _, text in self.placed_spellings())

    def placed_spellings(self) -> Iterator[tuple[Place, str]]:
        """The same as it stands there, with its place in the entry."""
        yield (), self.symbol
        yield from ((("signs",), text) for text in self.signs)
        yield from ((("typed", code), text) for code, typed in self.typed.items() for text in typed)


class UnitTable(FrozenModel):
    """Every unit by its symbol, no two of them written alike."""

    format: Literal["1"]
    prefixes: tuple[Line, ...]
    """Definitions of pint's prefixes, such as ``milli- = 1e-3``."""
    units: dict[str, Unit]

    @model_validator(mode="before")
    @classmethod
    def _named(cls, data: Any) -> Any:
        units = data.get("units") if isinstance(data, Mapping) else None
        if not isinstance(units, Mapping):
            return data
        for name, one in units.items():
            if isinstance(one, Mapping) and "symbol" in one:
                raise PlacedError(("units", name, "symbol"), "the symbol is the name of the entry", "remove it")
        named = {name: {**one, "symbol": name} if isinstance(one, Mapping) else one for name, one in units.items()}
        return {**data, "units": named}

    @model_validator(mode="after")
    def _told_apart(self) -> Self:
        spelt: dict[str, str] = {}
        shown: dict[tuple[Language, str], str] = {}
        for symbol, unit in self.units.items():
            for place, text in unit.placed_spellings():
                if (other := spelt.setdefault(text.lower(), symbol)) != symbol:
                    raise PlacedError(("units", symbol, *place), f"{text!r} is {other} already", "leave it to one")
            for language, text in unit.shown.root.items():
                if (other := shown.setdefault((language, text), symbol)) != symbol:
                    place = ("units", symbol, "shown", language)
                    raise PlacedError(place, f"{text!r} is how {other} is written", "write it another way")
        return self

    @model_validator(mode="after")
    def _as_pint_has_it(self) -> Self:
        for symbol, size in self.sizes.items():
            unit = self.units[symbol]
            if dict(self.registry.Unit(unit.pint).dimensionality) != _POWERS[unit.dimension]:
                wrong = f"{unit.line!r} is no {unit.dimension}"
                raise PlacedError(("units", symbol, "dimension"), wrong, "mend the line of pint, or the dimension")
            if not 0 < size < math.inf:
                raise PlacedError(("units", symbol, "pint"), f"{unit.line!r} has no size", "write how large it is")
        return self

    @cached_property
    def sizes(self) -> Mapping[str, float]:
        """How large every unit is, in metres, grams and seconds."""
        found, registry = {}, self.registry
        for symbol, unit in self.units.items():
            with _refused(symbol):
                found[symbol] = float(registry.Quantity(1.0, unit.pint).to_base_units().magnitude)
        return found

    @cached_property
    def spelt(self) -> Mapping[str, Unit]:
        """The unit of every spelling, without capitals."""
        return {text: unit for unit in self.units.values() for text in unit.spellings()}

    @cached_property
    def registry(self) -> pint.UnitRegistry[Any]:
        """A pint registry of these units alone."""
        made: pint.UnitRegistry[Any] = pint.UnitRegistry(None, cache_folder=None, on_redefinition="raise")
        for prefix in self.prefixes:
            made.define(prefix)
        for symbol, unit in self.units.items():
            if unit.defines:
                with _refused(symbol):
                    made.define(unit.line)
        return made

    @cached_property
    def parsed(self) -> Mapping[str, pint.Unit]:
        """Every unit as pint computes with it."""
        return {symbol: self.registry.Unit(unit.pint) for symbol, unit in self.units.items()}

    def factor(self, unit: PlainUnit, symbol: str) -> float:
        """What a magnitude in any unit is multiplied by to be one in a unit of the table: each pair is worked out once.

        Raises pint.DimensionalityError where they measure different things.
        """
        key = (unit, symbol)
        if key not in self._factors:
            self._factors[key] = float(self.registry.convert(1.0, unit, self.parsed[symbol]))
        return self._factors[key]

    @cached_property
    def _factors(self) -> dict[tuple[PlainUnit, str], float]:
        return {}


@contextmanager
def _refused(symbol: str) -> Iterator[None]:
    """What pint does not take is wrong at the line of its unit."""
    try:
        yield
    except (pint.errors.PintError, ValueError, TypeError, SyntaxError, ArithmeticError) as error:
        mend = "define it as name = size, or of units that are defined"
        raise PlacedError(("units", symbol, "pint"), f"pint does not take this: {error}", mend) from error


def read_units(directory: Path) -> UnitTable:
    """The table of a dialogs folder; DefinitionError where it is wrong, or pint says otherwise."""
    return gathered_units(directory).into(UnitTable)


def gathered_units(directory: Path) -> Gathered:
    """The table as it is written, with the words of every language of the folder."""
    table = read_definition(directory / FILE)
    found = gather(directory, FILE, table)
    for tongue in found.tongues.values():
        for symbol in _units_of(tongue):
            if symbol not in _units_of(table):
                raise tongue.error(("units", symbol), f"{symbol} is no unit", f"add it to {FILE}, or leave it out here")
    return found


def _units_of(definition: Definition) -> Mapping[str, object]:
    units = definition.content.get("units") if isinstance(definition.content, dict) else None
    return units if isinstance(units, dict) else {}


@cache
def _packaged() -> UnitTable:
    return read_units(dialogs_directory())


_TRIED: ContextVar[UnitTable | None] = ContextVar("tried", default=None)


def unit_table() -> UnitTable:
    """The table that comes with the package, read once; DefinitionError where it is wrong."""
    return _TRIED.get() or _packaged()


@contextmanager
def tried(table: UnitTable) -> Iterator[None]:
    """For as long as another folder of dialogs is checked, its table."""
    token = _TRIED.set(table)
    try:
        yield
    finally:
        _TRIED.reset(token)
