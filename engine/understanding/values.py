"""Values for the slots that are open, or known and named, found anywhere in a sentence."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from engine.entries.fitting import Place, fit, is_usual
from engine.entries.hearing import Amount, Hearing
from engine.expectation import Asking, ExpectedSlot, Latest, SlotKind
from engine.messages import Entry, Given, Unclear, UnclearReason
from engine.quantities import Dimension, Measure
from engine.understanding.clauses import pieces
from engine.understanding.contrast import meant_after_all
from engine.understanding.dial_values import dial_in
from engine.understanding.lone_units import one_of
from engine.understanding.meaning import NUMBERED
from engine.understanding.pairing import Pair, paired
from engine.understanding.repair import Repaired
from engine.understanding.spans import SpanKind, TextSpan, in_terms_of, named_rows

RATES = frozenset({Dimension.AREA_RATE, Dimension.ROW_RATE})


def _same(one: TextSpan, other: TextSpan) -> bool:
    """Whether two spans tell one number: "it goes by 2s, 2 g"."""
    return one.amount is not None and other.amount is not None and one.amount.parts[0][0] == other.amount.parts[0][0]


SHORT = 3
"""A word so short behind a number may abbreviate a unit."""
MOST_IN_ORDER = 2
"""A list of as many numbers or more may be the rows that are open, in their order."""


@dataclass(frozen=True)
class FoundValues:
    """Entries with whether they are plainly what was said: nothing left over, nothing added; ``spans`` tell them,
    where not all amounts of the sentence do."""

    entries: tuple[Entry, ...] = ()
    plain: bool = False
    spans: tuple[TextSpan, ...] = ()


NOTHING = FoundValues()
TARE = "tare"
"""The slot that a scale set back to zero answers."""


class Values:
    """Finds the values of one sentence."""

    def __init__(self, hearing: Hearing, told: Repaired, knows: Callable[[str], bool] = lambda _: False) -> None:
        self.hearing = hearing
        self.knows = knows
        self.told = told
        self.expectation = hearing.expectation

    def found(self) -> FoundValues:
        """All values of the sentence; nothing where any has no place."""
        asked = self.expectation.slots[0] if self.expectation.slots else None
        if asked is not None and asked.kind is SlotKind.DIAL:
            told = dial_in(self.hearing, self.told.spans, asked)
            if told is not None:
                return FoundValues((told[0],), plain=told[1])
        slots = self._of_rows(self._slots())
        rowed = next((slot for slot, _ in slots if slot.per_row), None)
        values = [span for span in self.told.spans if span.is_value and not self._counts_else(span)]
        if not values:
            return self._nothing(slots)
        named_rows = any(span.kind is SpanKind.ROWS for span in self.told.spans)
        if rowed is None or (slots[0][0] is not rowed and not named_rows):
            return self._one_each(slots, values)
        return self._per_row(slots, rowed)

    @property
    def _latest(self) -> Latest | None:
        """Where the last value was kept, which is taken back; a value in doubt stands nowhere yet."""
        return None if self.expectation.asking is Asking.CONFIRM else self.expectation.latest

    # ---- slots

    def _slots(self) -> list[tuple[ExpectedSlot, bool]]:
        """The slots a value may be for, likeliest first, with whether it was known before: a named one alone."""
        named = self._named()
        latest = self._latest
        slots = [(slot, False) for slot in (*self.expectation.slots, *self.expectation.ahead)]
        known = [(slot, True) for slot in self.expectation.known]
        if named:
            first = [one for one in (*slots, *known) if one[0].name in named]
            return [*first, *(one for one in slots if one not in first)]
        if latest is not None and slots and self._puts_right() and slots[0][0].kind not in NUMBERED:
            before = [one for one in known if one[0].name == latest.slot]
            return [*before, *slots]
        if self.told.correcting and latest is not None:
            corrected = [one for one in (*slots, *known) if one[0].name == latest.slot]
            return [*corrected, *(one for one in slots if one not in corrected)]
        return slots

    def _puts_right(self) -> bool:
        said = self.hearing.says(self.hearing.vocabulary.past) or self.hearing.says(self.hearing.vocabulary.loose.repairs)
        return self.told.correcting or self.told.mended or said

    def _of_rows(self, slots: list[tuple[ExpectedSlot, bool]]) -> list[tuple[ExpectedSlot, bool]]:
        """What was told of rows before goes first where rows are named and nothing is asked of rows: "row 2 got 25"."""
        named = any(span.kind is SpanKind.ROWS and not (span.every or span.rest) for span in self.told.spans)
        if not named or any(slot.per_row for slot, _ in slots):
            return slots
        values = [span for span in self.told.spans if span.is_value]
        before = [slot for slot in self.expectation.known if slot.per_row]
        fitting = [slot for slot in before if any(self._is_of_row(span, slot) for span in values)]
        return [*((slot, True) for slot in fitting[-1:]), *slots]

    def _named(self) -> set[str]:
        """The slots that are named; what only mentions one does so where something is put right."""
        mentions = self.hearing.vocabulary.loose.mentions
        first = self.expectation.slots[:1]
        later = {slot.name for slot in self.expectation.ahead if first and first[0].kind not in NUMBERED}
        mentioned = {slot for slot, phrases in mentions.items() if self.hearing.says(phrases)}
        mentioned = mentioned if self._puts_right() else mentioned & later
        near = [span for part in pieces(self.told.spans) if any(one.is_value for one in part) for span in part]
        return mentioned | {
            str(capture.value)
            for span in near
            if span.kind in (SpanKind.WORD, SpanKind.JOIN)
            for match in self.hearing.matcher.rule("name", span.start)
            for capture in match.captures
        }

    def _nothing(self, slots: Sequence[tuple[ExpectedSlot, bool]]) -> FoundValues:
        """A container that weighs nothing, as the scale was set back to zero with it on."""
        slot = slots[0][0] if slots else None
        said = self.hearing.says(self.hearing.vocabulary.loose.nothing)
        if slot is None or slot.name != TARE or not said or slot.default_unit is None:
            return NOTHING if slot is None or slot.per_row else FoundValues(one_of(self.hearing, slot))
        place = Place(slot, None, self.hearing.text.strip()[:60])
        return FoundValues((place.given(Measure(value=0.0, unit=slot.default_unit)),), plain=True)

    def _counts_else(self, span: TextSpan) -> bool:
        """Whether a bare number counts bags or other things, which no slot asks for."""
        after = self.hearing.tokens[span.end : span.end + 1]
        loose = self.hearing.vocabulary.loose
        return span.kind is SpanKind.NUMBER and bool(after) and after[0].key in (*loose.bags, *loose.counted)

    # ---- one value a slot

    def _one_each(self, slots: Sequence[tuple[ExpectedSlot, bool]], values: Sequence[TextSpan]) -> FoundValues:
        taken: dict[str, tuple[ExpectedSlot, bool, TextSpan]] = {}
        if ends := self._ends(slots, values) or self._two_alike(slots, values):
            return FoundValues(ends, plain=True, spans=tuple(values))
        values, plain = self._meant(slots, values)
        lost = not plain
        for span in values:
            place = next((one for one in slots if self._fits(one[0], span, first=one is slots[0])), None)
            if place is None:
                lost = lost or not any(_same(span, other) for other in values if other is not span)
            elif place[0].name not in taken or (
                taken[place[0].name][2].kind is SpanKind.NUMBER and span.kind is SpanKind.AMOUNT
            ):
                before = taken[place[0].name][2] if place[0].name in taken else None
                lost = lost or (before is not None and not _same(before, span) and self._may_be(place[0], before))
                taken[place[0].name] = (*place, span)
            elif taken[place[0].name][2].amount != span.amount:
                before = taken[place[0].name][2]
                lost = (
                    lost
                    or span.kind is SpanKind.AMOUNT
                    or before.kind is SpanKind.NUMBER
                    or self._may_be(place[0], span)
                )
        if not taken:
            return self._refused(slots, values)
        entries = tuple(self._given(slot, None, span, known) for slot, known, span in taken.values())
        used = [span for *_, span in taken.values()]
        return FoundValues(entries, not lost and not self._strange(used), tuple(used))

    def _ends(
        self, slots: Sequence[tuple[ExpectedSlot, bool]], values: Sequence[TextSpan]
    ) -> tuple[Entry, ...]:
        """The lowest and the highest rate in one breath, where one is asked for after the other: "5 to 12 pounds"."""
        if len(values) != 2 or len(slots) < 2 or slots[1][1] or not RATES & set(slots[0][0].dimensions):  # noqa: PLR2004
            return ()
        (low, _), (high, _) = slots[:2]
        between = [span.key for span in self.told.spans if values[0].end <= span.start < values[1].start]
        ranged = bool(between) and set(between) <= set(self.hearing.vocabulary.loose.range_words)
        if low.dimensions != high.dimensions or not ranged or values[1].amount is None or values[0].amount is None:
            return ()
        unit = self._amount(values[1], high).parts[0][1]
        first = replace(values[0], amount=Amount(((values[0].amount.parts[0][0], unit),)))
        given = (self._given(low, None, first, known=False), self._given(high, None, values[1], known=False))
        return given if all(isinstance(one, Given) for one in given) else ()

    def _two_alike(
        self, slots: Sequence[tuple[ExpectedSlot, bool]], values: Sequence[TextSpan]
    ) -> tuple[Entry, ...]:
        """Two amounts for two questions of one dimension, where the second is mentioned before its own: "the cup is
        14 g and the scale reads 1 g"."""
        if len(values) != 2 or len(slots) < 2 or slots[1][1]:  # noqa: PLR2004
            return ()
        (one, _), (other, _) = slots[:2]
        phrases = self.hearing.vocabulary.loose.mentions.get(other.name, ())
        between = [span.start for span in self.told.spans if values[0].end <= span.start < values[1].start]
        if one.dimensions != other.dimensions or not phrases or not self.hearing.says(phrases, between):
            return ()
        given = tuple(self._given(slot, None, value, known=False) for (slot, _), value in zip(slots, values, strict=False))
        return given if all(isinstance(entry, Given) for entry in given) else ()

    def _meant(
        self, slots: Sequence[tuple[ExpectedSlot, bool]], values: Sequence[TextSpan]
    ) -> tuple[Sequence[TextSpan], bool]:
        """The values that are meant after all, where all may be for the same slot alone: a bare number is for the
        first one only."""
        if not slots:
            return values, True
        alike = [slot for slot, _ in slots if set(slot.dimensions) & set(slots[0][0].dimensions)]
        bare = any(span.kind is SpanKind.NUMBER for span in values)
        alone = (bare or len(alike) == 1) and all(self._fits(slots[0][0], span, first=True) for span in values)
        return meant_after_all(values, self.told.spans, self.hearing) if alone else (values, True)

    def _may_be(self, slot: ExpectedSlot, span: TextSpan) -> bool:
        """Whether a bare number would be a usual value of a slot."""
        given = fit(self._amount(span, slot), Place(slot, None, ""))
        return isinstance(given, Given) and is_usual(given.value, slot)

    def _refused(self, slots: Sequence[tuple[ExpectedSlot, bool]], values: Sequence[TextSpan]) -> FoundValues:
        """Why a single value cannot be what is asked, where there is a single one."""
        if len(values) != 1 or not slots:
            return NOTHING
        slot = slots[0][0]
        entry = fit(self._amount(values[0], slot), Place(slot, None, self.hearing.said(values[0].start, values[0].end)))
        return FoundValues((entry,), plain=True) if isinstance(entry, Unclear) else NOTHING

    def _fits(self, slot: ExpectedSlot, span: TextSpan, first: bool) -> bool:
        if span.amount is None or (span.kind is SpanKind.NUMBER and not first):
            return False
        return isinstance(fit(self._amount(span, slot), Place(slot, None, "")), Given)

    def _amount(self, span: TextSpan, slot: ExpectedSlot) -> Amount:
        """The amount in the slot's own terms."""
        assert span.amount is not None
        plural = [unit for _, unit in span.amount.parts] == ["s"]
        if slot in self.expectation.ahead and not plural:
            return span.amount
        return in_terms_of(span.amount, slot.dimensions, filter(None, (slot.default_unit, *slot.units)))

    def _given(self, slot: ExpectedSlot, row: int | None, span: TextSpan, known: bool) -> Entry:
        told_before = row is not None and slot.per_row and row not in slot.open_rows
        taken_back = self.told.correcting or self.told.mended or self.hearing.says(self.hearing.vocabulary.loose.repairs)
        correcting = known or (self.told.correcting and self._is_latest(slot, row)) or (told_before and taken_back)
        place = Place(slot, row, self.hearing.said(span.start, span.end), correcting)
        entry = fit(self._amount(span, slot), place)
        return entry if entry is not None else place.unclear(UnclearReason.WRONG_UNIT)

    def _is_latest(self, slot: ExpectedSlot, row: int | None) -> bool:
        latest = self._latest
        return latest is not None and (latest.slot, latest.row) == (slot.name, row)

    def _strange(self, values: Sequence[TextSpan]) -> bool:
        """Whether a word that nobody knows stands right behind a bare number: it may be its unit."""
        ends = {span.end for span in values if span.kind is SpanKind.NUMBER}
        after = [self.hearing.tokens[end] for end in ends if end < len(self.hearing.tokens)]
        words = [token.key for token in after if not (token.is_break or token.is_number)]
        other = self.hearing.vocabulary.loose.other_units
        plain = self.hearing.vocabulary.plain_words
        unknown = any(word in other or not (word in plain or (len(word) > SHORT and self.knows(word))) for word in words)
        return unknown or self._stray_unit()

    def _stray_unit(self) -> bool:
        """Whether a unit stands somewhere without its number: "the display is in kilometers, eight an hour"."""
        known = [span for span in self.told.spans if span.kind in (SpanKind.AMOUNT, SpanKind.ROWS)]
        taken = {place for span in (*known, *self.told.dropped) for place in range(span.start, span.end)}
        weak = self.hearing.vocabulary.loose.weak_units
        return any(
            place not in taken and token.key not in weak and len(token.key) > 1 and bool(self.hearing.units_at(place))
            for place, token in enumerate(self.hearing.tokens)
        )

    # ---- values by row

    def _per_row(self, slots: Sequence[tuple[ExpectedSlot, bool]], rowed: ExpectedSlot) -> FoundValues:
        rows = len(self.hearing.every_row)
        others = [one for one in slots if not one[0].per_row]
        known = next(known for slot, known in slots if slot is rowed)

        fitting = [span for span in self.told.spans if self._is_of_row(span, rowed)]
        usual = [span for span in fitting if self._is_usual(span, rowed)]

        def is_value(span: TextSpan) -> bool:
            return span in fitting and (span in usual or not usual or span.row is None or span.row > rows)

        entries: list[Entry] = []
        left = []
        for span in self.told.spans:
            place = next((one for one in others if self._fits(one[0], span, first=False)), None)
            if place is not None and not is_value(span):
                entries.append(self._given(place[0], None, span, place[1]))
            else:
                left.append(span)
        pairing = paired(left, is_value, self.hearing.vocabulary.loose.on_words, rows)
        used = {id(span) for pair in pairing.pairs for span in pair.spans}
        stray = [span for span in left if span.is_value and id(span) not in used]
        pairs = pairing.pairs
        bare = [pair for pair in pairs if not (pair.rows or pair.every or pair.rest)]
        if slots[0] in others and len(bare) == 1 and not entries and self._fits(slots[0][0], bare[0].value, first=True):
            entries.append(self._given(slots[0][0], None, bare[0].value, known=False))
            pairs = [pair for pair in pairs if pair not in bare]
        placed = self._placed(pairs, rowed) if pairs else []
        if placed is None or not (placed or entries):
            return self._empty(rowed)
        if any(row not in self.hearing.every_row for _, rows_of, _ in placed for row in rows_of):
            return NOTHING
        for span, rows_of, _ in placed:
            entries += [self._given(rowed, row, span, known) for row in rows_of]
        together = self.hearing.says(self.hearing.vocabulary.together)
        plain = not stray and not together and not pairing.lost and all(plain for *_, plain in placed)
        return FoundValues(tuple(entries), plain and not self._strange([pair.value for pair in pairing.pairs]))

    def _empty(self, slot: ExpectedSlot) -> FoundValues:
        """Rows of which nothing came, where that can be weighed."""
        rows = [row for span in named_rows(self.told.spans) for row in span.rows] if not self.told.correcting else []
        rows += [span.row for span in self.told.spans if span.row is not None]
        nothing = self.hearing.says(self.hearing.vocabulary.loose.no_catch) and slot.default_unit is not None
        if not nothing or Dimension.MASS not in slot.dimensions or not set(rows) <= set(self.hearing.every_row):
            return NOTHING
        value = Measure(value=0.0, unit=slot.default_unit or "g")
        text = self.hearing.text.strip()[:60]
        found = [Place(slot, row, text).given(value) for row in rows or slot.next_rows or (slot.next_row,) if row]
        return FoundValues(tuple(found), plain=True)

    def _is_of_row(self, span: TextSpan, slot: ExpectedSlot) -> bool:
        return span.is_value and span.amount is not None and isinstance(fit(span.amount, Place(slot, 1, "")), Given)

    def _is_usual(self, span: TextSpan, slot: ExpectedSlot) -> bool:
        given = fit(span.amount, Place(slot, 1, "")) if span.amount is not None else None
        return isinstance(given, Given) and slot.usual is not None and is_usual(given.value, slot)

    def _placed(self, pairs: Sequence[Pair], slot: ExpectedSlot) -> list[tuple[TextSpan, tuple[int, ...], bool]] | None:
        """Each value with its rows, and whether those are plain; None where nobody can tell."""
        bare = [pair for pair in pairs if not (pair.rows or pair.every or pair.rest)]
        told = [(pair.value, self._rows_of(pair, slot), True) for pair in pairs if pair not in bare]
        named = {row for _, rows, _ in told for row in rows}
        if not bare:
            return [*self._without_exceptions(told)]
        if len(bare) == 1 and not told:
            return [(bare[0].value, *self._asked_rows(slot))]
        open_rows = [row for row in slot.open_rows if row not in named]
        but = next((span for span in self.told.spans if span.key == "<all-but>"), None)
        if len(bare) == 1 and but is not None and told and bare[0] is pairs[-1]:
            excepted = tuple(row for row in self.hearing.every_row if row not in but.rows)
            return [*self._without_exceptions(told), (bare[0].value, excepted, True)]
        if (
            len(bare) == 1
            and bare[0] is pairs[0]
            and any(span.key in self.hearing.vocabulary.loose.except_words for span in self.told.spans)
        ):
            others = tuple(row for row in self.hearing.every_row if row not in named)
            return [(bare[0].value, others, True), *self._without_exceptions(told)]
        if len(bare) == 1 and bare[0] is pairs[0] and slot.next_row is not None and slot.next_row not in named:
            return [(bare[0].value, (slot.next_row,), True), *self._without_exceptions(told)]
        listed = [span for span in self.told.spans if span.kind is SpanKind.ROWS and len(span.rows) == len(bare)]
        if not told and len(bare) > 1 and len(listed) == 1:
            return [(pair.value, (row,), True) for pair, row in zip(bare, listed[0].rows, strict=True)]
        if told or len(bare) < MOST_IN_ORDER or len(bare) > len(open_rows):
            return None
        whole = len(bare) == len(open_rows)
        return [(pair.value, (row,), whole) for pair, row in zip(bare, open_rows, strict=False)]

    def _asked_rows(self, slot: ExpectedSlot) -> tuple[tuple[int, ...], bool]:
        """The rows of a value that names none: all where "each" is said, what was corrected, or what is asked."""
        latest = self._latest
        if self.hearing.says(self.hearing.vocabulary.each):
            return (slot.open_rows or self.hearing.every_row), True
        if self.told.correcting and latest is not None and latest.slot == slot.name and latest.row is not None:
            return (latest.row,), True
        rows = slot.next_rows or ((slot.next_row,) if slot.next_row is not None else ())
        return rows, bool(rows)

    def _rows_of(self, pair: Pair, slot: ExpectedSlot) -> tuple[int, ...]:
        if pair.every and not pair.rest:
            return self.hearing.every_row
        return tuple(slot.open_rows) if pair.rest else pair.rows

    def _without_exceptions(
        self, told: Sequence[tuple[TextSpan, tuple[int, ...], bool]]
    ) -> Iterator[tuple[TextSpan, tuple[int, ...], bool]]:
        """What is said of fewer rows goes before what is said of more."""
        for number, (span, rows, plain) in enumerate(told):
            fewer = {
                row
                for other, (_, some, _) in enumerate(told)
                if other != number and len(some) < len(rows)
                for row in some
            }
            yield span, tuple(row for row in rows if row not in fewer), plain
