"""One text with its tokens under one expectation: the rules that depend on what is expected, and the values in it."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import chain, pairwise

from engine.entries.matching.marks import mark_node, read_marks
from engine.entries.matching.matcher import Matcher
from engine.entries.matching.numeral import Numeral, combine
from engine.entries.matching.row_numbers import numerals, row_list, row_numbers, row_range
from engine.entries.phrases.match import Capture, Captures, Match, Matches, captured
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
    def number(self) -> float:
        """The first number."""
        return float(self.parts[0][0].value)

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

    def __init__(self, text: str, expectation: Expectation, vocabulary: Vocabulary) -> None:
        self.text = text
        self.expectation = expectation
        self.vocabulary, self.loose, self.naming = vocabulary, vocabulary.loose, vocabulary.naming
        self.tokens = tuple(parted(tokenize(text, vocabulary.fillers, kept_words(vocabulary)), vocabulary))
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

    def again(self, text: str) -> MatchContext:
        """Another text under the same expectation."""
        return MatchContext(text, self.expectation, self.vocabulary)

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
        """Every fit of these phrases from ``start`` on; where most end, at their first word, nothing is called."""
        text, key = self.matcher.text, self.key(start)
        for one in phrases:
            if (lead := one.leads) is None or key in lead.keys or (lead.rules and one.may_begin(text, start)):
                yield from one.node.fits(text, start)

    def ends(self, phrases: Phrases, *starts: int) -> list[int]:
        """Where each fit of these phrases ends that begins at any of these places."""
        return [match.end for start in starts for match in self.find(phrases, start)]

    def says(self, phrases: Phrases, places: Iterable[int] | None = None) -> bool:
        """Whether any of these phrases begins at one of the places, or anywhere."""
        places = range(len(self.tokens)) if places is None else places
        return any(True for place in places for _ in self.find(phrases, place))

    def mentions(self, slot: ExpectedSlot) -> Phrases:
        """What mentions a slot, beside its names."""
        return self.loose.mentions.get(slot.name, ())

    def units_at(self, place: int) -> tuple[str, ...]:
        """The units that are named there."""
        return tuple(str(unit) for match in self.matcher.rule("measured_in", place) for _, unit in match.captures)

    def key(self, place: int) -> str:
        """How the token there is compared; END behind the last one."""
        return self.matcher.text.keys[place]

    # ---- rules that depend on what is expected

    def _unit(self, start: int) -> Matches:
        opening = self.vocabulary.units_opening.get(self.key(start), ())
        found = (captured("unit", symbol, self.matcher.match(node, start)) for symbol, node in opening)
        return tuple(chain.from_iterable(found))

    def _link(self, start: int) -> Matches:
        typed = [start + 1] if self.key(start) in self.vocabulary.typed_link else []
        return tuple(Match(end, ()) for end in [*self.ends(self.vocabulary.link, start), *typed])

    def _lead(self, start: int) -> Matches:
        """Words that announce a correction, with or without a comma after them."""
        return tuple(Match(self.after_breaks(end), ()) for end in self.ends(self.vocabulary.lead, start))

    def after_joins(self, place: int) -> int:
        """The place after breaks and words like "and"."""
        place = self.after_breaks(place)
        ends = self.ends(self.vocabulary.joins, place)
        return self.after_joins(max(ends)) if ends else place

    def after_breaks(self, place: int, small: Collection[str] = ()) -> int:
        """The place after breaks, and after ``small`` words among them."""
        while place < len(self.tokens) and (self.tokens[place].is_break or self.tokens[place].key in small):
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
        words, every, open_rows = self.vocabulary.rows, self.every_row, self.open_rows
        return (
            *(captured("rows", every, self.find(words.all, start)) if every else ()),
            *(captured("rows", open_rows, self.find(words.rest, start)) if open_rows else ()),
            *(found for match in self.find(words.several, start) for found in row_range(match)),
            *(found for match in self.find(words.listed, start) for found in row_list(match)),
        )

    def _name(self, start: int) -> Matches:
        names = ((slot.name, self.plain(called)) for slot in self.slots for called in slot.called)
        return tuple(
            chain.from_iterable(captured("name", name, self.matcher.match(node, start)) for name, node in names)
        )

    def _value(self, start: int) -> Matches:
        return tuple(Match(end, (Capture("value", value),)) for end, value in dict.fromkeys(self._values(start)))

    def _area(self, start: int) -> Matches:
        areas = ((end, total(amount, (Dimension.AREA,))) for end, amount in self.amounts(start))
        return tuple(Match(end, (Capture("area", area),)) for end, area in areas if area is not None)

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
        silent, choices = self.vocabulary.fillers, [slot for slot in self.slots if slot.kind is SlotKind.CHOICE]
        words = {slot.name: {one.key: (*one.words, one.label, one.key) for one in slot.options} for slot in choices}
        return {name: {key: any_typed(said, silent) for key, said in told.items()} for name, told in words.items()}

    @cached_property
    def marks(self) -> dict[str, dict[str, Node]]:
        """For each dial with marks, the words of its marks."""
        dials = ((slot.name, slot.dial) for slot in self.slots if slot.kind is SlotKind.SETTING and slot.dial)
        return {name: {mark: mark_node(mark, self.vocabulary) for mark in dial.marks} for name, dial in dials}

    @cached_property
    def openings(self) -> dict[str, Node]:
        """For each dialog, the words that open it."""
        return {name: any_typed(opens, self.vocabulary.fillers) for name, opens in self.expectation.dialogs.items()}

    def plain(self, words: str) -> Node:
        """Words from a dialog as they stand in a text whose fillers dropped out; never nothing."""
        return typed(words, self.vocabulary.fillers)


_NUMBERED = frozenset({SlotKind.MEASURE, SlotKind.COUNT, SlotKind.SETTING})


def _amount(captures: Captures) -> Amount:
    """Numbers with the unit that follows each; a number after a unit without one of its own adds to it."""
    parts: list[tuple[Numeral, str | None]] = []
    for _, value in captures:
        if isinstance(value, Numeral):
            parts.append((value, None))
        else:
            parts[-1] = (parts[-1][0], str(value))
    if len(parts) == 2 and parts[0][1] and not parts[1][1]:
        (added,) = combine(Meaning.SUM, [parts[0][0], parts[1][0]])
        parts = [(added, parts[0][1])]
    return Amount(tuple(parts))


def total(amount: Amount, dimensions: tuple[Dimension, ...]) -> Measure | None:
    """An amount whose units were all said, in the first of them; None where it is not one of these dimensions."""
    units = [unit for _, unit in amount.parts if unit is not None]
    measured = {UNITS[unit].dimension for unit in units}
    if len(units) < len(amount.parts) or len(measured) > 1 or not measured <= set(dimensions):
        return None
    measures = [Measure(value=float(numeral.value), unit=unit or "") for numeral, unit in amount.parts]
    sizes = [Measure(value=1, unit=unit).to(units[0]).value for unit in units]
    if any(second >= first for first, second in pairwise(sizes)):
        return None
    return Measure(value=sum(measure.to(units[0]).value for measure in measures), unit=units[0])
