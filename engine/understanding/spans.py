"""A sentence as spans: amounts, numbers, rows, moments and levels found anywhere in it; the rest stays words."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum

from engine.clock import Moment
from engine.entries.fitting import Place, fit, is_usual
from engine.entries.hearing import Amount, Hearing
from engine.entries.numeral import Numeral
from engine.entries.row_numbers import numerals
from engine.entries.telling import Telling
from engine.expectation import Asking, ExpectedSlot
from engine.messages import Given
from engine.quantities import UNITS, Dimension, Measure

FULL = Measure(value=100.0, unit="%")
MOST_MARKED = 2
"""From so many digits side by side on they may be a list."""
MOST_PER = 3
"""Words between an amount and what stands over its unit, as in "pounds to the acre"."""
COMPOUNDS = {
    (unit.partition("/")[0], unit.partition("/")[2]): unit for unit in UNITS if "/" in unit and unit != "km/h"
} | {("mi", "h"): "mph", ("km", "h"): "km/h"}
"""Units of two parts, by what stands before and after "per"."""


class Kind(StrEnum):
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
class Span:
    """Tokens from ``start`` up to ``end`` as one thing; ``key`` is how it stands in the sentence that is judged.

    Of the rest only what its kind needs is set: an ``amount`` with or without a unit, ``rows`` (``every`` of them, or
    those that are still open: ``rest``), a ``moment``, a ``measure`` of a level.
    """

    kind: Kind
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
        if self.kind is not Kind.NUMBER or self.amount is None or len(self.amount.parts) != 1:
            return None
        value = self.amount.parts[0][0].value
        return int(value) if value == value.to_integral_value() and value >= 1 else None

    @property
    def is_value(self) -> bool:
        return self.kind in (Kind.AMOUNT, Kind.NUMBER)


def is_amount(span: Span) -> bool:
    return span.is_value or span.kind is Kind.LEVEL


def is_telling(span: Span) -> bool:
    """Whether a span is an amount or rows, about which something can be said."""
    return is_amount(span) or span.kind is Kind.ROWS


def in_terms_of(amount: Amount, dimensions: Collection[Dimension], units: Iterable[str]) -> Amount:
    """An amount in a unit that is asked for: "12 pounds" of a rate per acre, "5 miles" of a speed, "30s" of inches."""
    (numeral, unit), *more = amount.parts
    if unit is None or more or UNITS[unit].dimension in dimensions:
        return amount
    if unit == "s" and Dimension.LENGTH in dimensions:
        return Amount(((numeral, None),))
    parts = {one: part for part, one in COMPOUNDS.items()}
    meant = [
        one for one in dict.fromkeys(units) if parts.get(one, ("",))[0] == unit and UNITS[one].dimension in dimensions
    ]
    return Amount(((numeral, meant[0]),)) if meant else amount


class Scanner:
    """Finds the spans of one sentence, from left to right, the longest first."""

    def __init__(self, hearing: Hearing) -> None:
        self.hearing = hearing
        self.words = hearing.vocabulary
        self.loose = hearing.vocabulary.loose
        self.reporting = hearing.expectation.asking is Asking.REPORT or bool(hearing.expectation.reports)
        self.clocks = Telling(hearing).clocks

    def spans(self) -> tuple[Span, ...]:
        found: list[Span] = []
        place = 0
        while place < len(self.hearing.tokens):
            span = self._longest(place)
            found.append(span)
            place = span.end
        ranged = _lists(_levels(self._compounds(found)), self)
        listed = _row_lists(ranged, len(self.hearing.every_row)) if self.reporting else ranged
        return tuple(_with_exceptions(listed, self))

    def _longest(self, place: int) -> Span:
        token = self.hearing.tokens[place]
        if token.is_break:
            return Span(Kind.BREAK, place, place + 1, token.key)
        compared = [match.end for match in self.hearing.find(self.loose.compared, place)]
        if compared:
            return Span(Kind.WORD, place, max(compared), "<compared>")
        found = [*self._moments(place), *self._lengths(place), *self._rows(place), *self._amounts(place)]
        found += self._levels(place)
        if found:
            return max(found, key=lambda one: (one.end, _RANK[one.kind]))
        joins = [match.end for match in self.hearing.find(self.words.joins, place)]
        if joins:
            return Span(Kind.JOIN, place, max(joins), token.key)
        return Span(Kind.WORD, place, place + 1, token.key)

    def _moments(self, place: int) -> Iterator[Span]:
        if self.reporting and not any(True for _ in self.hearing.find(self.loose.untimely, place)):
            if self._is_range_of_rows(place):
                return
            for end, moment in self.clocks.moments(place):
                if self._is_row_and_amount(place, end):
                    continue
                if any(later > end for inside in range(place, end) for later in self._measured(inside)):
                    continue
                yield Span(Kind.MOMENT, place, end, "<moment>", moment=moment)

    def _is_row_and_amount(self, place: int, end: int) -> bool:
        """ "1: 25" with a gap behind the colon is row 1 with 25, not a time."""
        colons = [at for at in range(place, end) if self.hearing.tokens[at].key == ":"]
        return any(at + 1 < end and self.hearing.tokens[at].end < self.hearing.tokens[at + 1].start for at in colons)

    def _is_range_of_rows(self, place: int) -> bool:
        """ "One to three" are rows where there are as many, not three minutes to one."""
        tokens, count = self.hearing.tokens, len(self.hearing.every_row)
        for low in self.hearing.matcher.rule("number", place):
            if low.end < len(tokens) and tokens[low.end].key in self.loose.range_words:
                for high in self.hearing.matcher.rule("number", low.end + 1):
                    first, last = (float(numerals(one.captures)[0].value) for one in (low, high))
                    if 0 < first < last <= count:
                        return True
        return False

    def _measured(self, place: int) -> Iterator[int]:
        """Where amounts with a unit that begin here end."""
        for end, amount in self.hearing.amounts(place):
            if all(unit is not None and UNITS[unit].dimension is not Dimension.TIME for _, unit in amount.parts):
                yield end

    def _lengths(self, place: int) -> Iterator[Span]:
        for match in self.hearing.matcher.rule("length", place):
            measure = next((value for _, value in match.captures if isinstance(value, Measure)), None)
            if measure is not None:
                amount = Amount(((Numeral(f"{measure.value:g}"), measure.unit),))
                yield Span(Kind.AMOUNT, place, match.end, "<time>", amount=amount)

    def _levels(self, place: int) -> Iterator[Span]:
        for match in self.hearing.matcher.rule("level", place) if self.reporting else ():
            share = Measure(value=100 * float(numerals(match.captures)[0].value), unit="%")
            yield Span(Kind.LEVEL, place, match.end, self.hearing.tokens[place].key, measure=share)

    def _rows(self, place: int) -> Iterator[Span]:
        for match in self.hearing.matcher.rule("row", place):
            row = next(value for _, value in match.captures if isinstance(value, int))
            yield Span(Kind.ROWS, place, match.end, "<row>", rows=(row,))
        for match in self.hearing.matcher.rule("rows", place):
            rows = next(value for _, value in match.captures if isinstance(value, tuple))
            rest = any(one.end == match.end for one in self.hearing.find(self.words.rows.rest, place))
            every = not rest and rows == self.hearing.every_row
            if every and match.end == place + 1 and self._is_other_all(match.end):
                continue
            key = "<rest>" if rest else "<all>" if every else "<rows>"
            yield Span(Kind.ROWS, place, match.end, key, rows=rows, every=every, rest=rest)
        yield from self._said_of_all(place)
        yield from self._ordinals(place)
        yield from self._sets(place)
        yield from self._ranges(place)

    def _ranges(self, place: int) -> Iterator[Span]:
        """Rows from one to another: "from two to five", "de la seis a la ocho"."""
        count = len(self.hearing.every_row)
        slots = self.hearing.expectation.slots
        if not self.reporting and not any(slot.per_row for slot in slots):
            return
        for match in self.hearing.find(self.loose.ranges, place):
            ends = [int(one.value) for one in numerals(match.captures) if one.value == one.value.to_integral_value()]
            if len(ends) == len(numerals(match.captures)) and 0 < ends[0] < ends[-1] <= count:
                yield Span(Kind.ROWS, place, match.end, "<rows>", rows=tuple(range(ends[0], ends[-1] + 1)))

    def _sets(self, place: int) -> Iterator[Span]:
        every = self.hearing.every_row
        for match in self.hearing.find(self.loose.whole, place):
            if any(int(one.value) == len(every) for one in numerals(match.captures)):
                yield Span(Kind.ROWS, place, match.end, "<all>", rows=every, every=True)
        for name, phrases in self.loose.sets.items():
            for match in self.hearing.find(phrases, place):
                count = next((int(one.value) for one in numerals(match.captures)), 0)
                side = (len(every) - count) // 2
                picked = {
                    "odd": every[::2],
                    "even": every[1::2],
                    "first": every[:count],
                    "last": every[-count:],
                    "middle": every[side : len(every) - side],
                    "outside": (*every[:1], *every[-1:]),
                    "inner": every[1:-1],
                }
                if every and count <= len(every):
                    yield Span(Kind.ROWS, place, match.end, "<rows>", rows=picked[name])

    def _minutes(self, place: int) -> Iterator[Span]:
        """ "A minute ten" and the like."""
        for match in self.hearing.find(self.loose.minute, place):
            for seconds in numerals(match.captures):
                amount = Amount(((Numeral("1"), "min"), (seconds, "s")))
                yield Span(Kind.AMOUNT, place, match.end, "<time>", amount=amount)

    def _compounds(self, spans: list[Span]) -> list[Span]:
        """Amounts with what stands over their unit: "seven ounces a thousand", "five mile an hour"."""
        found: list[Span] = []
        place = 0
        while place < len(spans):
            made, end = self._compound(spans, place)
            found.append(made)
            place = end
        return found

    def _compound(self, spans: list[Span], place: int) -> tuple[Span, int]:
        span = spans[place]
        unit = span.amount.parts[-1][1] if span.kind is Kind.AMOUNT and span.amount else None
        if unit is None or span.amount is None or len(span.amount.parts) > 1:
            return span, place + 1
        start = span.end
        while start < min(span.end + MOST_PER, len(self.hearing.tokens)):
            if self.hearing.tokens[start].key not in self.loose.per:
                break
            start += 1
        for over, phrases in self.loose.over.items():
            whole = COMPOUNDS.get((unit, over))
            ends = [match.end for match in self.hearing.find(phrases, start)] if whole and start > span.end else []
            if whole and ends:
                amount = Amount(((span.amount.parts[0][0], whole),))
                key = f"<{UNITS[whole].dimension}>"
                after = next(
                    (number for number in range(place, len(spans)) if spans[number].start >= max(ends)), len(spans)
                )
                return Span(Kind.AMOUNT, span.start, max(ends), key, amount=amount), after
        return span, place + 1

    def _said_of_all(self, place: int) -> Iterator[Span]:
        every = self.hearing.every_row
        for match in self.hearing.find(self.loose.every, place):
            if match.end == place + 1 and self._is_other_all(match.end):
                continue
            yield Span(Kind.ROWS, place, match.end, "<all>", rows=every, every=True)
        for match in self.hearing.find(self.loose.rest, place):
            yield Span(Kind.ROWS, place, match.end, "<rest>", rows=self.hearing.open_rows, rest=True)

    def _is_other_all(self, end: int) -> bool:
        """Whether a word like "all" is said of something else: "all this mud"."""
        return end < len(self.hearing.tokens) and self.hearing.tokens[end].key in self.loose.not_all

    def _ordinals(self, place: int) -> Iterator[Span]:
        for number, phrases in self.loose.ordinals.items():
            rows = self.hearing.every_row
            row = int(number) if int(number) > 0 else len(rows) + 1 + int(number)
            for match in self.hearing.find(phrases, place):
                if rows and 0 < row <= len(rows):
                    yield Span(Kind.ROWS, place, match.end, "<row>", rows=(row,))

    def _amounts(self, place: int) -> Iterator[Span]:
        yield from self._minutes(place)
        if self._is_pronoun(place):
            return
        if self.hearing.tokens[place].key in self.loose.not_first:
            return
        found = [(end, amount) for end, amount in self.hearing.amounts(place) if not self._is_weak(end, amount)]
        longest = max((end for end, _ in found), default=0)
        readings = [amount for end, amount in found if end == longest]
        if not readings:
            yield from self._single(place)
            return
        amount = readings[0]
        if self._is_part(place, amount):
            return
        short = self._row_before(place, found, amount) or self._row_of_list(place, longest, amount)
        if short is not None:
            yield short
            return
        units = [unit for _, unit in amount.parts if unit is not None]
        if not units:
            yield Span(Kind.NUMBER, place, longest, "<number>", amount=amount)
        else:
            dimension = UNITS[units[-1]].dimension
            yield Span(Kind.AMOUNT, place, longest, f"<{dimension}>", amount=amount)

    def _row_of_list(self, place: int, end: int, amount: Amount) -> Span | None:
        """The first of rows told one after another, "5 6 7 and 8", where digits side by side would make one number."""
        if not self.reporting or amount.parts[-1][1] is not None or end - place < MOST_MARKED:
            return None
        for first in range(place, end):
            single = [one for stop, one in self.hearing.amounts(first) if stop == first + 1]
            row = Span(Kind.NUMBER, first, first + 1, "<number>", amount=single[0]).row if single else None
            if row is None or row > len(self.hearing.every_row):
                return None
        first_amount = next(one for stop, one in self.hearing.amounts(place) if stop == place + 1)
        return Span(Kind.NUMBER, place, place + 1, "<number>", amount=first_amount)

    def _is_weak(self, end: int, amount: Amount) -> bool:
        """Whether a unit is only a small word here: "thirty in each"."""
        tokens = self.hearing.tokens
        if amount.parts[-1][1] is None or tokens[end - 1].key not in self.loose.weak_units or end >= len(tokens):
            return False
        after = tokens[end]
        return not (after.is_break or after.is_number or after.key in self.loose.after_weak)

    def _single(self, place: int) -> Iterator[Span]:
        """One of a unit without a number: "a mile", "a full minute"."""
        if self.hearing.tokens[place].key not in self.loose.single:
            return
        start = place + 1
        if start < len(self.hearing.tokens) and self.hearing.tokens[start].key in self.loose.full:
            start += 1
        for match in self.hearing.matcher.rule("measured_in", start):
            for capture in match.captures:
                amount = Amount(((Numeral("1"), str(capture.value)),))
                yield Span(Kind.AMOUNT, place, match.end, f"<{UNITS[str(capture.value)].dimension}>", amount=amount)

    def _is_part(self, place: int, amount: Amount) -> bool:
        """Whether a fraction in words has no unit, as in "half a field": it is no number by itself."""
        (numeral, unit), *more = amount.parts
        return (
            unit is None
            and not more
            and numeral.value < 1
            and not self.hearing.tokens[place].is_number
            and numeral.value > 0
        )

    def _row_before(self, place: int, found: list[tuple[int, Amount]], amount: Amount) -> Span | None:
        """A row's number where the whole would be no usual value and the rest is: "one sixty seven" is row 1, 67."""
        slot = next(iter(self.hearing.expectation.slots), None)
        if slot is None or not slot.per_row or slot.usual is None or _is_usual(amount, slot):
            return None
        for end, first in found:
            row = Span(Kind.NUMBER, place, end, "<number>", amount=first)
            if row.row is None or row.row > len(self.hearing.every_row):
                continue
            if any(_is_usual(rest, slot) for _, rest in self.hearing.amounts(end)):
                return row
        return None

    def _is_pronoun(self, place: int) -> bool:
        """Whether "one" stands for something named before: "that one", "the last one"."""
        tokens = self.hearing.tokens
        if tokens[place].key in self.loose.articles:
            return not any(self.hearing.matcher.rule("measured_in", place + 1)) and not self._counts(place + 1)
        return (
            tokens[place].key in self.loose.pronouns
            and place > 0
            and tokens[place - 1].key in self.loose.before_pronoun
            and not any(self.hearing.matcher.rule("measured_in", place + 1))
        )

    def _counts(self, place: int) -> bool:
        """Whether a number goes on there: "un mil", "un cuarto"."""
        return place < len(self.hearing.tokens) and any(True for _ in self.hearing.amounts(place))


_RANK = {Kind.MOMENT: 5, Kind.LEVEL: 4, Kind.ROWS: 3, Kind.AMOUNT: 2, Kind.NUMBER: 1}


def _levels(spans: list[Span]) -> list[Span]:
    """ "Half full" is half."""
    found: list[Span] = []
    for span in spans:
        if span.kind is Kind.LEVEL and found and found[-1].kind is Kind.LEVEL and span.measure == FULL:
            found[-1] = replace(found[-1], end=span.end)
        else:
            found.append(span)
    return found


def _is_usual(amount: Amount, slot: ExpectedSlot) -> bool:
    given = fit(amount, Place(slot, 1, ""))
    return isinstance(given, Given) and is_usual(given.value, slot)


def _lists(spans: list[Span], scanner: Scanner) -> list[Span]:
    """Numbers after rows with their noun go on with the list: "rows 1, 2 and 4", and "2 through 5" is a range."""
    found: list[Span] = []
    place = 0
    while place < len(spans):
        span = spans[place]
        low, high = span.row if span.kind is Kind.NUMBER else _single(span), None
        if low is not None and place + 2 < len(spans) and _is_range(spans[place + 1], scanner):
            high = spans[place + 2].row or _single(spans[place + 2])
        if low is not None and high is not None and low < high <= len(scanner.hearing.every_row):
            rows = tuple(range(low, high + 1))
            found.append(Span(Kind.ROWS, span.start, spans[place + 2].end, "<rows>", rows=rows))
            place += 3
            continue
        found.append(span)
        place += 1
    return found


def _row_lists(spans: list[Span], count: int) -> list[Span]:
    """Rows told one after another, with marks or joining words between, as one span: "1 2 and 4 thru 6"."""
    found: list[Span] = []
    place = 0
    while place < len(spans):
        end = _list_end(spans, place, count)
        members = [span for span in spans[place:end] if _may_be_row(span, count)]
        if len(members) < MOST_MARKED:
            found.append(spans[place])
            place += 1
            continue
        rows = tuple(sorted({row for span in members for row in (span.rows or (span.row or 0,))}))
        found.append(Span(Kind.ROWS, spans[place].start, spans[end - 1].end, "<rows>", rows=rows))
        place = end
    return found


def _may_be_row(span: Span, count: int) -> bool:
    if span.kind is Kind.ROWS:
        return bool(span.rows) and not span.every and not span.rest and span.key != "<all-but>"
    return span.row is not None and span.row <= count


def _list_end(spans: list[Span], place: int, count: int) -> int:
    """The span after a list of rows that begins here; where what follows a mark says something of its own, it ends."""
    end, place_of_next = place, place
    while place_of_next < len(spans):
        if _may_be_row(spans[place_of_next], count):
            own = place_of_next + 1 < len(spans) and spans[place_of_next + 1].kind in (Kind.WORD, Kind.LEVEL)
            told = place > 0 and spans[place - 1].kind in (Kind.WORD, Kind.LEVEL)
            if own and told and end > place and spans[place_of_next - 1].kind is Kind.BREAK:
                break
            end = place_of_next = place_of_next + 1
        elif end > place and spans[place_of_next].kind in (Kind.JOIN, Kind.BREAK) and spans[place_of_next].key != ".":
            place_of_next += 1
        else:
            break
    return end


def _single(span: Span) -> int | None:
    return span.rows[0] if span.kind is Kind.ROWS and len(span.rows) == 1 else None


def _is_range(span: Span, scanner: Scanner) -> bool:
    return span.kind in (Kind.WORD, Kind.JOIN) and span.key in scanner.loose.range_words


def _with_exceptions(spans: list[Span], scanner: Scanner) -> list[Span]:
    """ "All but four" is the other rows; what is said of those goes on behind: "all good but seven's high"."""
    for place, span in enumerate(spans):
        if not span.every:
            continue
        except_at = _excepted_at(spans, place, scanner)
        rows, end = _listed(spans, except_at + 1) if except_at is not None else ((), 0)
        if except_at is None or not rows:
            continue
        others = tuple(row for row in span.rows if row not in rows)
        changed = replace(span, key="<all-but>", rows=others, every=False)
        goes_on = any(one.kind not in (Kind.BREAK, Kind.JOIN) for one in spans[end : end + 1])
        if goes_on:
            cut = replace(spans[except_at], kind=Kind.JOIN)
            return [*spans[:place], changed, *spans[place + 1 : except_at], cut, *spans[except_at + 1 :]]
        if except_at == place + 1:
            changed = replace(changed, end=spans[end - 1].end)
        return [*spans[:place], changed, *spans[place + 1 : except_at], *spans[end:]]
    return spans


def _excepted_at(spans: list[Span], place: int, scanner: Scanner) -> int | None:
    """Where a word like "except" stands behind rows, with nothing but words between."""
    for number in range(place + 1, min(place + 8, len(spans))):
        if spans[number].key in scanner.loose.except_words:
            last = number
            while last + 1 < len(spans) and spans[last + 1].key in scanner.loose.after_except:
                last += 1
            return last
        if spans[number].kind not in (Kind.WORD, Kind.AMOUNT, Kind.NUMBER, Kind.LEVEL, Kind.BREAK):
            return None
    return None


def _is_told_of(spans: list[Span], place: int) -> bool:
    """Whether something is said of a row that stands there: it does not go on with a list."""
    return place + 1 < len(spans) and spans[place + 1].kind in (Kind.WORD, Kind.LEVEL, Kind.AMOUNT)


def _listed(spans: list[Span], place: int) -> tuple[tuple[int, ...], int]:
    """The rows that begin at a span, named or as bare numbers in a list, and the span after them."""
    rows: list[int] = []
    end = place
    while place < len(spans):
        span = spans[place]
        more = span.rows if span.kind is Kind.ROWS and not span.every else (span.row,) if span.row else ()
        if more:
            rows += more
            place += 1
            end = place
        elif rows and span.kind in (Kind.JOIN, Kind.BREAK) and not _is_told_of(spans, place + 1):
            place += 1
        else:
            break
    return tuple(rows), end
