"""An earlier answer put right in the same breath as others: "12, and the percent I gave is wrong, 20 not 15"."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from engine.entries.matching.slot_fit import Place, fit, is_usual
from engine.entries.phrases.tokens import fold
from engine.expectation import ExpectedSlot, SlotKind
from engine.messages import Given
from engine.quantities import Measure
from engine.understanding.codes import PrintedCode, codes_in
from engine.understanding.description_reader import SINGLE
from engine.understanding.extraction.capitals import has_capitals
from engine.understanding.extraction.told_names import CODES, PERSON, starts, without_replaced
from engine.understanding.scanning.spans import SpanKind, TextSpan, in_terms_of
from engine.understanding.weighing.evidence import Evidence
from engine.understanding.weighing.meaning import NUMBERED
from engine.understanding.weighing.repair import repaired

NEAR = 3
"""Words within which a denial reaches."""
MOST_BEFORE = 3
"""So many words at most say which of its kind a thing is, "waxy seed corn"."""
SHORTEST = 5
"""A code has at least so many characters to be known as one without its name."""
TWICE = 2
"""A code put right is so much longer than the piece of it that is called wrong."""

Amends = Callable[[str], Given | None]


@dataclass(frozen=True)
class Revision:
    """Reads stretches of one typed sentence that are about something told before; ``amends`` reads one by itself."""

    evidence: Evidence
    amends: Amends

    def named(self, part: Sequence[TextSpan], after: Sequence[TextSpan] = ()) -> ExpectedSlot | None:
        """The earlier answer that a part is about: the one that it names, or the only one whose unit it tells while
        something is denied or called wrong in it or right ``after``."""
        expected = self.evidence.expectation
        asked = {slot.name for slot in expected.slots}
        known = [slot for slot in expected.known if not slot.per_row and slot.name not in asked]
        if {span.key for span in part} & self.evidence.loose.also:
            return None
        named = [(place, slot) for slot in known if (place := self._place(part, slot)) is not None]
        if named:
            first = min(named, key=lambda one: one[0])[1]
            return None if self._may_be_asked(first, part) else first
        if (coded := self._coded(part, known)) is not None:
            return coded
        evidence, told = self.evidence, [*part, *after]
        if not evidence.denied(told) and not evidence.says((*evidence.loose.wrong, *evidence.vocabulary.past), told):
            return None
        open_ = [slot for slot in expected.slots if slot.kind is SlotKind.MEASURE]
        amounts = [span for span in part if not any(self._is_of_unit(span, slot) for slot in open_)]
        units = [slot for slot in known if any(self._is_of_unit(span, slot) for span in amounts)]
        return units[0] if len(units) == 1 else None

    def _coded(self, part: Sequence[TextSpan], known: Sequence[ExpectedSlot]) -> ExpectedSlot | None:
        """The only code told before, where a printed number is put right and no code is asked: "the number was 2218-64
        not 2218-46"."""
        slots = [slot for slot in known if slot.role in CODES]
        if len(slots) != 1 or any(slot.role in CODES for slot in self.evidence.expectation.slots):
            return None
        printed = [one for one in codes_in(self.evidence.hearing, lettered=True) if part and one.is_inside(part)]
        printed = [one for one in printed if len(one.text) >= SHORTEST and not one.text.isalpha()]
        return slots[0] if printed and self.evidence.denied(part) else None

    def _may_be_asked(self, slot: ExpectedSlot, part: Sequence[TextSpan]) -> bool:
        """Whether a number that is asked now is of the same kind as an earlier one that is mentioned, not named in
        full, and not called wrong: it may be what is asked."""
        asked = self.evidence.expectation.slots[:1]
        alike = any(set(one.dimensions) & set(slot.dimensions) for one in asked)
        said = f" {' '.join(span.key for span in part)} "
        full = any(f" {fold(name)} " in said for name in slot.called if " " in name)
        return alike and not full and not self.is_put_right(part)

    def _place(self, part: Sequence[TextSpan], slot: ExpectedSlot) -> tuple[int, int] | None:
        """Where a part names a slot first, before others that it names there in fewer words."""
        phrases = self.evidence.hearing.mentions(slot)
        called = {fold(word) for word in slot.called}
        places = []
        for span in part:
            named = [end for name in called if (end := self._ends(name, span.start))]
            found = self.evidence.hearing.ends(phrases, span.start)
            if named or found or self.evidence.owns(span, slot):
                places.append((span.start, -max([*named, *found], default=0)))
        return min(places, default=None)

    def _ends(self, name: str, start: int) -> int:
        """Where a name that stands at a place ends, in tokens; 0 where it does not stand there."""
        words = [token.key for token in self.evidence.hearing.tokens[start : start + len(name.split())]]
        return start + len(words) if words == name.split() else 0

    def is_put_right(self, part: Sequence[TextSpan]) -> bool:
        """Whether something is denied or called wrong in a part."""
        evidence, loose = self.evidence, self.evidence.loose
        words = (*loose.wrong, *loose.repairs, *evidence.vocabulary.past, *evidence.vocabulary.lead)
        told = evidence.hearing.said(part[0].start, part[-1].end) if part else ""
        replaced = without_replaced(told, evidence.hearing) != told
        return replaced or evidence.denied(part) or evidence.says(words, part)

    def _is_of_unit(self, span: TextSpan, slot: ExpectedSlot) -> bool:
        if span.kind is not SpanKind.AMOUNT or slot.kind is not SlotKind.MEASURE or span.amount is None:
            return False
        return {unit for _, unit in span.amount.parts} <= set(slot.units)

    def read(self, stretch: Sequence[TextSpan], slot: ExpectedSlot) -> Given | None:
        """The one value that a stretch plainly tells for an earlier answer."""
        said = self.evidence.hearing.said(stretch[0].start, stretch[-1].end)
        if slot.kind in NUMBERED:
            return self._number(stretch, slot, said)
        if slot.kind is SlotKind.CHOICE:
            return self._choice(stretch, slot, said)
        if slot.role in CODES:
            return self._code(stretch, slot, said)
        told = self.amends(said)
        if slot.role in SINGLE and (told is None or told.doubt is not None):
            return self._single(stretch, slot, said) or told
        return None if told is not None and slot.role == PERSON and not has_capitals(str(told.value)) else told

    def _single(self, stretch: Sequence[TextSpan], slot: ExpectedSlot, said: str) -> Given | None:
        """The one thing of its kind that is named and neither denied nor told before, with a word before it that says
        which: "take the formulation back to pellet, not granule", "it's sweet corn"."""
        evidence, called = self.evidence, {fold(word) for word in slot.called}
        phrases = evidence.hearing.mentions(slot)
        found: dict[str, bool] = {}
        for place, span in enumerate(stretch):
            ends = evidence.hearing.ends(phrases, span.start)
            if not ends or span.key in called:
                continue
            begin = self._thing_begins(stretch, place, called)
            if begin is None:
                return None
            denied = self._is_denied_at(stretch, begin)
            found[evidence.hearing.said(stretch[begin].start, max(ends))] = denied
        meant = [thing for thing, denied in found.items() if not denied]
        meant = [thing for thing in meant if fold(thing) != fold(str(slot.told.get(0, "")))]
        if len(meant) != 1 or not self.is_put_right(stretch) or evidence.unreal(stretch):
            return None
        return Given(slot=slot.name, value=meant[0], said=said[:60], correcting=bool(slot.told))

    def _is_denied_at(self, stretch: Sequence[TextSpan], place: int) -> bool:
        """Whether a denial stands right before a place, but for small words: "no es"."""
        small = {*self.evidence.loose.copulas, *self.evidence.loose.determiners}
        while place and stretch[place - 1].key in small:
            place -= 1
        return self.evidence.denied(stretch[max(0, place - 1) : place])

    def _thing_begins(self, stretch: Sequence[TextSpan], place: int, called: set[str]) -> int | None:
        """Where the thing named at a place begins, behind a small word or a denial; None where that is too far off."""
        loose, vocabulary = self.evidence.loose, self.evidence.vocabulary
        small = {*loose.per, *loose.on_words, *loose.not_words, *loose.single, *loose.range_words}
        small |= vocabulary.small_words | vocabulary.naming.inside
        led = starts(self.evidence.hearing)
        for begin in range(place, max(-1, place - MOST_BEFORE), -1):
            before = stretch[begin - 1] if begin else None
            if before is None or before.is_mark or before.key in small or stretch[begin].start in led:
                return begin
            if before.key.partition("'")[0] in called or before.is_value:
                return None
        return None

    def _number(self, stretch: Sequence[TextSpan], slot: ExpectedSlot, said: str) -> Given | None:
        told = repaired(stretch, self.evidence.hearing)
        values = [self._fitting(span, slot, said) for span in told.spans if span.is_value]
        found = {str(one.value): one for one in values if one is not None}
        if told.denied or None in values:
            return None
        if len(found) > 1:
            found = {key: one for key, one in found.items() if one.value != slot.told.get(0)}
        return next(iter(found.values())) if len(found) == 1 else None

    def _fitting(self, span: TextSpan, slot: ExpectedSlot, said: str) -> Given | None:
        assert span.amount is not None
        amount = in_terms_of(span.amount, slot.dimensions, filter(None, (slot.default_unit, *slot.units)))
        given = fit(amount, Place(slot, None, said[:60], bool(slot.told)))
        plain = isinstance(given, Given) and given.doubt is None and is_usual(given.value, slot)
        return given if plain and isinstance(given, Given) and isinstance(given.value, Measure | int) else None

    def _choice(self, stretch: Sequence[TextSpan], slot: ExpectedSlot, said: str) -> Given | None:
        """The one answer that is named and not denied, where it is more than a plain yes or no."""
        evidence = self.evidence
        nodes = evidence.hearing.options.get(slot.name, {})
        named: dict[str, int] = {}
        denied = 0
        for place, span in enumerate(stretch):
            before = stretch[max(0, place - NEAR) : place]
            for key, node in nodes.items():
                ends = [one.end for one in evidence.hearing.matcher.match(node, span.start)]
                if ends and evidence.denied(before):
                    denied = max(denied, *ends)
                elif ends and span.key not in evidence.plain_answers and span.start >= denied:
                    named.setdefault(key, span.start)
        if len(named) == 1 and not evidence.unreal(stretch):
            return Given(slot=slot.name, value=next(iter(named)), said=said[:60], correcting=True)
        weighed = evidence.weigh(stretch)
        shares = {option.key: weighed.get(f"option:{slot.name}.{option.key}", 0.0) for option in slot.options}
        option = max(shares, key=lambda one: shares[one])
        total = sum(shares.values())
        sure = total >= evidence.limits.asked and shares[option] >= total * evidence.limits.chosen_revised
        plain = sure and not evidence.unreal(stretch)
        return Given(slot=slot.name, value=option, said=said[:60], correcting=True) if plain else None

    def _code(self, stretch: Sequence[TextSpan], slot: ExpectedSlot, said: str) -> Given | None:
        """The code that is much longer than others in the stretch, which are pieces of it, or the only one; those that
        are denied are none."""
        codes = [one for one in codes_in(self.evidence.hearing, lettered=True) if one.is_inside(stretch)]
        left = {one.text for one in codes if not self._is_denied(one, stretch)}
        longest = max(left, key=len, default="")
        others = [one for one in left if one != longest]
        plain = all(len(one) * TWICE <= len(longest) for one in others)
        whole = len(longest) * TWICE >= len(str(slot.told.get(0, "")))
        if not longest or not plain or not whole:
            return None
        return Given(slot=slot.name, value=longest, said=said[:60], correcting=bool(slot.told))

    def _is_denied(self, code: PrintedCode, stretch: Sequence[TextSpan]) -> bool:
        before = [span for span in stretch if code.start - NEAR <= span.start < code.start]
        while before and before[-1].key in self.evidence.loose.copulas:
            before.pop()
        return self.evidence.denied(before[-1:])


def without_confirming(answers: Sequence[Given], asked: ExpectedSlot) -> tuple[Given, ...]:
    """The answers beside what is put right, but for one to all that was read back: who corrects something has not said
    yes to the whole."""
    whole = asked.kind is SlotKind.CHOICE and asked.role is None
    return tuple(one for one in answers if not (whole and one.slot == asked.name))
