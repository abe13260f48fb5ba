"""One text with its tokens under one expectation: the rules that depend on what is expected, and the values in it."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from engine.entries.matching.marks import mark_node, read_marks
from engine.entries.matching.matcher import Matcher
from engine.entries.matching.numeral import Numeral, combine
from engine.entries.matching.row_numbers import numerals, row_list, row_numbers, row_range
from engine.entries.phrases.match import Capture, Captures, Match, Matches
from engine.entries.phrases.pattern import Node, any_typed, typed
from engine.entries.phrases.phrase import Meaning, Phrases, spoken
from engine.entries.phrases.stop_words import kept_words, parted
from engine.entries.phrases.tokens import tokenize
from engine.entries.phrases.vocabulary import Vocabulary
from engine.expectation import Expectation, ExpectedSlot, SlotKind
from engine.quantities import UNITS, Dimension, Measure
from engine.values import Dial

_MINUTES = re.compile(r"[0-9]{1,2}")
_SECONDS = re.compile(r"[0-5][0-9](?:\.[0-9]{1,2})?")


@dataclass(frozen=True)
class Amount:
    """Numbers as said, each with the unit that was said for it."""

    parts: tuple[tuple[Numeral, str | None], ...]

    @property
    def unsaid(self) -> bool:
        return any(numeral.unsaid for numeral, _ in self.parts)


@dataclass(frozen=True)
class Picked:
    """A closed answer of one slot: the key of an option, or the label of a mark on a dial."""

    slot: str
    key: str


RawValue = Amount | Picked | Dial


class MatchContext:
    """Matches the patterns of a vocabulary against a text, with the rows, names and values of an expectation."""

    def __init__(
        self, text: str, expectation: Expectation, vocabulary: Vocabulary, without: Collection[str] = ()
    ) -> None:
        self.text = text
        self.expectation = expectation
        self.vocabulary = vocabulary
        self.tokens = tuple(parted(tokenize(text, {*vocabulary.silent, *without}, kept_words(vocabulary)), vocabulary))
        self.matcher = Matcher(self.tokens, vocabulary)
        self.matcher.hooks |= {
            "measured_in": self._unit,
            "row": self._row,
            "typed_row": self._typed_row,
            "rows": self._rows,
            "name": self._name,
            "value": self._value,
            "area": self._area,
            "link": self._link,
            "lead": self._lead,
        }

    @property
    def slots(self) -> tuple[ExpectedSlot, ...]:
        return (*self.expectation.slots, *self.expectation.known)

    @property
    def every_row(self) -> tuple[int, ...]:
        if self.expectation.rows is not None:
            return tuple(range(1, self.expectation.rows + 1))
        return tuple(sorted({row for slot in self.slots for row in slot.open_rows}))

    @property
    def open_rows(self) -> tuple[int, ...]:
        """The rows without a value of the first slot that still has such."""
        return next((slot.open_rows for slot in self.expectation.slots if slot.open_rows), ())

    def said(self, start: int, end: int) -> str:
        """The piece of the text from one token up to another."""
        return self.text[self.tokens[start].start : self.tokens[end - 1].end] if start < end else ""

    def find(self, phrases: Phrases, start: int) -> Iterator[Match]:
        """Every fit of these phrases from ``start`` on."""
        text, key = self.matcher.text, self.key(start)
        for one in phrases:
            if (lead := one.leads) is None or key in lead.keys or (lead.rules and one.may_begin(text, start)):
                yield from one.node.fits(text, start)

    def says(self, phrases: Phrases, places: Iterable[int] | None = None) -> bool:
        """Whether any of these phrases begins at one of the places, or anywhere."""
        places = range(len(self.tokens)) if places is None else places
        return any(True for place in places for _ in self.find(phrases, place))

    def units_at(self, place: int) -> tuple[str, ...]:
        """The units that are named there."""
        return tuple(
            str(capture.value) for match in self.matcher.rule("measured_in", place) for capture in match.captures
        )

    def key(self, place: int) -> str:
        """How the token there is compared; END behind the last one."""
        return self.matcher.text.keys[place]

    # ---- rules that depend on what is expected

    def _unit(self, start: int) -> Matches:
        return tuple(
            Match(match.end, (Capture("unit", symbol),))
            for symbol, node in self.vocabulary.units_opening.get(self.key(start), ())
            for match in self.matcher.match(node, start)
        )

    def _link(self, start: int) -> Matches:
        typed = start < len(self.tokens) and self.tokens[start].key in self.vocabulary.typed_link
        ends = [match.end for match in self.find(self.vocabulary.link, start)] + ([start + 1] if typed else [])
        return tuple(Match(end, ()) for end in ends)

    def _lead(self, start: int) -> Matches:
        """Words that announce a correction, with or without a comma after them."""
        return tuple(Match(self.after_breaks(match.end), ()) for match in self.find(self.vocabulary.lead, start))

    def after_joins(self, place: int) -> int:
        """The place after breaks and words like "and"."""
        place = self.after_breaks(place)
        ends = [match.end for match in self.find(self.vocabulary.joins, place)]
        return self.after_joins(max(ends)) if ends else place

    def after_breaks(self, place: int) -> int:
        while place < len(self.tokens) and self.tokens[place].is_break:
            place += 1
        return place

    def _row(self, start: int) -> Matches:
        words = self.vocabulary.rows
        return row_numbers((*self.find(words.one, start), *self.find(words.typed, start)))

    def _typed_row(self, start: int) -> Matches:
        """A plain number for a row, as in "3: 49.5"; not the whole of 2 1/2."""
        if self.matcher.rule("written_fraction", start + 1):
            return ()
        return row_numbers(self.matcher.rule("written", start))

    def _rows(self, start: int) -> Matches:
        every = tuple(self.find(self.vocabulary.rows.all, start))
        rest = tuple(self.find(self.vocabulary.rows.rest, start))
        return (
            *(Match(match.end, (Capture("rows", self.every_row),)) for match in every if self.every_row),
            *(Match(match.end, (Capture("rows", self.open_rows),)) for match in rest if self.open_rows),
            *(found for match in self.find(self.vocabulary.rows.several, start) for found in row_range(match)),
            *(found for match in self.find(self.vocabulary.rows.listed, start) for found in row_list(match)),
        )

    def _name(self, start: int) -> Matches:
        return tuple(
            Match(match.end, (Capture("name", slot.name),))
            for slot in self.slots
            for called in slot.called
            for match in self.matcher.match(self.plain(called), start)
        )

    def _value(self, start: int) -> Matches:
        return tuple(Match(end, (Capture("value", value),)) for end, value in dict.fromkeys(self._values(start)))

    def _area(self, start: int) -> Matches:
        return tuple(
            Match(end, (Capture("area", measure),))
            for end, amount in self.amounts(start)
            if (measure := total(amount, (Dimension.AREA,))) is not None
        )

    # ---- values

    def _values(self, start: int) -> Iterator[tuple[int, RawValue]]:
        if any(slot.kind in _NUMBERED for slot in self.slots):
            yield from self.amounts(start)
        if any(Dimension.TIME in slot.dimensions for slot in self.slots):
            yield from self._clock(start)
        for slot in self.slots:
            match slot.kind:
                case SlotKind.CHOICE:
                    yield from self._picked(slot.name, self.options[slot.name], start)
                case SlotKind.SETTING if slot.dial is not None and slot.dial.marks:
                    yield from self._picked(slot.name, self.marks[slot.name], start)
                case SlotKind.COUNT:
                    yield from self._counted(slot, start)
                case SlotKind.MEASURE if slot.mark is not None:
                    yield from self._levels(slot.mark, start)
                case SlotKind.DIAL:
                    yield from self._dial(start)
                case _:
                    pass

    def amounts(self, start: int) -> Iterator[tuple[int, Amount]]:
        for match in self.find(self.vocabulary.amounts, start):
            yield match.end, _amount(match.captures)

    def _levels(self, mark: Measure, start: int) -> Iterator[tuple[int, Amount]]:
        """A tube read by its marks: level four is four times what lies between two of them."""
        for match in self.find(self.vocabulary.levels, start):
            (told,) = numerals(match.captures)
            yield match.end, Amount(((Numeral(f"{float(told.value) * mark.value:.10g}", told.unsaid), mark.unit),))

    def _clock(self, start: int) -> Iterator[tuple[int, Amount]]:
        """Minutes and seconds as a stopwatch shows them: 1:20 or 1:20.5."""
        keys = [token.key for token in self.tokens[start : start + 3]]
        if len(keys) == 3 and keys[1] == ":" and _MINUTES.fullmatch(keys[0]) and _SECONDS.fullmatch(keys[2]):
            yield start + 3, Amount(((Numeral(keys[0]), "min"), (Numeral(keys[2]), "s")))

    def _counted(self, slot: ExpectedSlot, start: int) -> Iterator[tuple[int, Amount]]:
        nouns = [spoken(self.vocabulary.rows.counted), *(self.plain(called) for called in slot.called)]
        for match in self.matcher.rule("number", start):
            for noun in nouns:
                for after in self.matcher.match(noun, match.end):
                    yield after.end, _amount(match.captures)

    def _picked(self, slot: str, nodes: dict[str, Node], start: int) -> Iterator[tuple[int, Picked]]:
        for key, node in nodes.items():
            for match in self.matcher.match(node, start):
                yield match.end, Picked(slot, key)

    def _dial(self, start: int) -> Iterator[tuple[int, Dial]]:
        """A numbered scale, or all the rest of the text as marks."""
        if start < len(self.tokens) and (marked := read_marks(self.text[self.tokens[start].start :], self.vocabulary)):
            yield len(self.tokens), marked
        for match in self.find(self.vocabulary.dials.numbered, start):
            low, high, step = (float(numeral.value) for numeral in numerals(match.captures)[:3])
            if low < high and 0 < step <= high - low:
                yield match.end, Dial.numbered(low, high, step)

    @cached_property
    def options(self) -> dict[str, dict[str, Node]]:
        """For each choice, the words of its options."""
        return {
            slot.name: {
                option.key: any_typed((*option.words, option.label, option.key), self.vocabulary.silent)
                for option in slot.options
            }
            for slot in self.slots
            if slot.kind is SlotKind.CHOICE
        }

    @cached_property
    def marks(self) -> dict[str, dict[str, Node]]:
        """For each dial with marks, the words of its marks."""
        return {
            slot.name: {mark: mark_node(mark, self.vocabulary) for mark in slot.dial.marks}
            for slot in self.slots
            if slot.kind is SlotKind.SETTING and slot.dial is not None
        }

    @cached_property
    def openings(self) -> dict[str, Node]:
        """For each dialog, the words that open it."""
        return {name: any_typed(opens, self.vocabulary.silent) for name, opens in self.expectation.dialogs.items()}

    def plain(self, words: str) -> Node:
        """Words from a dialog as they stand in a text whose fillers dropped out; never nothing."""
        return typed(words, self.vocabulary.silent)


_NUMBERED = frozenset({SlotKind.MEASURE, SlotKind.COUNT, SlotKind.SETTING})


def _amount(captures: Captures) -> Amount:
    """Numbers with the unit that follows each; a number after a unit without one of its own adds to it."""
    parts: list[tuple[Numeral, str | None]] = []
    for capture in captures:
        if not isinstance(capture.value, Numeral):
            parts[-1] = (parts[-1][0], str(capture.value))
        else:
            parts.append((capture.value, None))
    if len(parts) == 2 and parts[0][1] and not parts[1][1]:
        (added,) = combine(Meaning.SUM, [parts[0][0], parts[1][0]])
        parts = [(added, parts[0][1])]
    return Amount(tuple(parts))


def total(amount: Amount, dimensions: tuple[Dimension, ...]) -> Measure | None:
    """An amount whose units were all said, in the first of them; None where it is not one of these dimensions."""
    units = [unit for _, unit in amount.parts if unit is not None]
    if len(units) < len(amount.parts) or any(UNITS[unit].dimension not in dimensions for unit in units):
        return None
    if len({UNITS[unit].dimension for unit in units}) > 1:
        return None
    measures = [Measure(value=float(numeral.value), unit=unit or "") for numeral, unit in amount.parts]
    sizes = [Measure(value=1, unit=unit).to(units[0]).value for unit in units]
    if any(second >= first for first, second in pairwise(sizes)):
        return None
    return Measure(value=sum(measure.to(units[0]).value for measure in measures), unit=units[0])
