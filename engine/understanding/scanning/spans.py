"""A sentence as spans: what a piece of it is, and amounts in the terms of what is asked."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from enum import StrEnum

from engine.clock import Moment
from engine.entries.matching.match_context import Amount, total
from engine.quantities import UNITS, Dimension, Measure

COMPOUNDS = {(unit.partition("/")[0], unit.partition("/")[2]): unit for unit in UNITS if "/" in unit}
COMPOUNDS |= {("mi", "h"): "mph"}
"""Units of two parts, by what stands before and after "per"."""
_OVER = {unit: before for (before, _), unit in COMPOUNDS.items()}


class SpanKind(StrEnum):
    """What a span is; a ``BREAK`` is a mark between clauses, a ``JOIN`` a word like "and"."""

    AMOUNT = "amount"
    NUMBER = "number"
    ROWS = "rows"
    MOMENT = "moment"
    LEVEL = "level"
    WORD = "word"
    JOIN = "join"
    BREAK = "break"


@dataclass(frozen=True)
class TextSpan:
    """Tokens from ``start`` up to ``end`` as one thing; ``key`` is how it stands in the sentence that is judged.

    Of the rest only what its kind needs is set: an ``amount`` with or without a unit, ``rows`` (``every`` of them, or
    those that are still open: ``rest``), a ``moment``, a ``measure`` of a level.
    """

    kind: SpanKind
    start: int
    end: int
    key: str
    amount: Amount | None = None
    rows: tuple[int, ...] = ()
    every: bool = False
    rest: bool = False
    moment: Moment | None = None
    measure: Measure | None = None

    @property
    def row(self) -> int | None:
        """The row that a bare number may be; None where it is none."""
        if self.kind is not SpanKind.NUMBER or self.amount is None or len(self.amount.parts) != 1:
            return None
        value = self.amount.parts[0][0].value
        return int(value) if value == value.to_integral_value() and value >= 1 else None

    @property
    def may_be_row(self) -> bool:
        return self.kind is SpanKind.ROWS or self.row is not None

    def is_one_of(self, rows: int) -> bool:
        """Whether it is a bare number that may be one of so many rows."""
        return self.row is not None and self.row <= rows

    @property
    def named(self) -> tuple[int, ...]:
        """The rows that it is, or the one that a bare number may be."""
        return self.rows or ((self.row,) if self.row is not None else ())

    @property
    def is_value(self) -> bool:
        return self.kind in (SpanKind.AMOUNT, SpanKind.NUMBER)

    @property
    def is_mark(self) -> bool:
        """Whether it only parts or joins what is said."""
        return self.kind in (SpanKind.BREAK, SpanKind.JOIN)

    def measured(self, *dimensions: Dimension) -> Measure | None:
        """Its amount, whose units were all said, where it is of one of these dimensions."""
        return total(self.amount, dimensions) if self.kind is SpanKind.AMOUNT and self.amount else None


def is_amount(span: TextSpan) -> bool:
    return span.is_value or span.kind is SpanKind.LEVEL


def is_telling(span: TextSpan) -> bool:
    """Whether a span is an amount or rows, about which something can be said."""
    return is_amount(span) or span.kind is SpanKind.ROWS


def is_number(span: TextSpan, number: float) -> bool:
    """Whether a span tells just this number, in whatever unit."""
    return span.amount is not None and span.amount.number == number


def named_rows(spans: Iterable[TextSpan]) -> list[TextSpan]:
    """The spans that name rows; those that name every row only where no others do."""
    named = [span for span in spans if span.kind is SpanKind.ROWS]
    return [span for span in named if not span.every] or named


def in_terms_of(amount: Amount, dimensions: Collection[Dimension], units: Iterable[str]) -> Amount:
    """An amount in a unit that is asked for: "12 pounds" of a rate per acre, "5 miles" of a speed, "30s" of inches."""
    (numeral, unit), *more = amount.parts
    if unit is None or more or UNITS[unit].dimension in dimensions:
        return amount
    if unit == "s" and Dimension.LENGTH in dimensions:
        return Amount(((numeral, None),))
    meant = [one for one in dict.fromkeys(units) if _OVER.get(one) == unit and UNITS[one].dimension in dimensions]
    return Amount(((numeral, meant[0]),)) if meant else amount
