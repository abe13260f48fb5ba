"""What was told before and is put right: a name, a lot's number, the last report."""

from __future__ import annotations

from collections.abc import Sequence

from engine.entries.phrases.tokens import fold, has_digit, tokenize
from engine.expectation import ExpectedSlot, SlotKind
from engine.messages import Command, Commanded, Entry, Given, Reported
from engine.quantities import Measure
from engine.understanding.extraction.options import option_called
from engine.understanding.extraction.told_names import CLAUSE_END, CODES, LOT, name_in
from engine.understanding.scanning.spans import SpanKind, TextSpan, is_number
from engine.understanding.weighing.evidence import Evidence

SHORTEST = 3
"""Letters by which a word of a name is told from others."""
MOST_TEXT = 80
MOST_WORDS = 8
"""So many words at most say what is wrong with a report and nothing else."""


class Corrections(Evidence):
    """Finds in one sentence what of an earlier answer is put right."""

    def report_again(self) -> tuple[Entry, ...] | None:
        """The last report with another amount or other rows: "that was 25 not 20", "no, it was row 3". It is taken
        back and told again; None where the sentence says anything else."""
        latest = self.expectation.latest_report
        if latest is None or not self.told.takes_back or self.is_question or self.unreal(self.spans):
            return None
        told = [span for span in self.told.spans if span.is_value or span.kind is SpanKind.ROWS]
        told = [span for span in told if not (len(told) > 1 and self._is_denied_row(span, latest.rows))]
        words = [span for span in self.told.spans if span.kind is SpanKind.WORD]
        if len(told) != 1 or told[0].every or len(words) > MOST_WORDS:
            return None
        shares = self.weigh(self.told.spans)
        other = max(shares, key=lambda one: shares[one])
        if other != f"report:{latest.report}" and shares[other] >= self.limits.acted:
            return None
        changed = self._changed(latest, told[0])
        again = changed.model_copy(update={"said": self.said, "doubt": None}) if changed else None
        return (Commanded(command=Command.SCRATCH), again) if again and again != latest else None

    def _is_denied_row(self, span: TextSpan, rows: Sequence[int]) -> bool:
        """Whether these are rows of the report, which are said not to be meant: "row 3 not 2"."""
        before = self.told.spans[max(0, self.told.spans.index(span) - 1)]
        return before.key in self.loose.not_words and set(self._rows(span)) == set(rows)

    def _changed(self, latest: Reported, span: TextSpan) -> Reported | None:
        rows = self._rows(span)
        dropped = {row for one in self.told.dropped for row in self._rows(one)}
        if rows and latest.rows and (span.kind is SpanKind.ROWS or dropped == set(latest.rows)):
            sure = not dropped or dropped == set(latest.rows)
            return latest.model_copy(update={"rows": rows}) if sure else None
        value = latest.value
        if not isinstance(value, Measure) or span.amount is None or len(span.amount.parts) != 1:
            return None
        numeral, unit = span.amount.parts[0]
        replaced = any(is_number(one, value.value) for one in self.told.dropped)
        if not (replaced or (unit is not None and unit == value.unit)):
            return None
        return latest.model_copy(update={"value": Measure(value=float(numeral.value), unit=unit or value.unit)})

    def _rows(self, span: TextSpan) -> tuple[int, ...]:
        return span.named if span.kind is SpanKind.ROWS or span.row in self.hearing.every_row else ()

    def renamed_before(self) -> Given | None:
        """A name told before that is denied or called wrong, with the right one: "not North field, it's South field",
        "the product is wrong, it's Kelbrick 10G"."""
        for slot in self.expectation.known:
            if slot.kind is not SlotKind.TEXT or slot.role in CODES or self.is_question:
                continue
            rest = self._after_denied(slot) or self._after_wrong(slot)
            name = self._name(rest, slot) if rest else None
            amounts = [span for span in self.spans if span.kind is SpanKind.AMOUNT]
            more = any(self.hearing.said(span.start, span.end) not in str(name) for span in amounts)
            if name is not None and not more:
                return Given(slot=slot.name, value=name, said=self.said, correcting=True)
        return None

    def renumbered(self) -> Given | None:
        """The number of a lot that was told before and is put right: "the lot was 474, not 447"."""
        slot = next((one for one in self.expectation.known if one.role == LOT), None)
        begins = [span.start for span in self.told.spans if self.says(self.loose.mentions[LOT], [span])]
        left = [span for span in self.told.spans if span.is_value and begins and span.start > begins[0]]
        right = self.told.takes_back or self.hearing.says((*self.vocabulary.past, *self.loose.wrong))
        if slot is None or len(left) != 1 or not right:
            return None
        number = self.hearing.said(left[0].start, left[0].end)
        return Given(slot=slot.name, value=number, said=self.said, correcting=True)

    def told_by_name(self) -> Given | None:
        """A word or description behind the name of what it is, where a closed question is open: "crop popcorn", "no,
        the crop is popcorn". Nothing where the words deny, ask, say that something is wrong, or name something else."""
        asked = self.expectation.asked
        if asked is None or asked.kind is not SlotKind.CHOICE or asked.per_row or self.is_question:
            return None
        start = self.after_small(0)
        named = [(end, slot) for slot in self.expectation.known for end in self._called(slot, start)]
        end, slot = max(named, key=lambda one: one[0], default=(0, None))
        if slot is None or slot.kind is not SlotKind.TEXT or self._says_more(end):
            return None
        value = self._stripped(end, len(self.hearing.tokens), ()).strip(" .,;:")
        if not value or len(value) > MOST_TEXT or not value.isprintable():
            return None
        return Given(slot=slot.name, value=value, said=self.said, correcting=bool(slot.told))

    def called_wrong(self) -> Given | None:
        """A plain no to all that was read back, where something of it is called wrong and no value is told: "the crop
        is wrong"."""
        asked = self.expectation.asked
        if asked is None or asked.kind is not SlotKind.CHOICE or asked.role is not None or self.is_question:
            return None
        loose, told = self.loose, any(span.is_value for span in self.spans)
        if told or self.denied(self.spans) or not self.hearing.says(loose.wrong):
            return None
        value = option_called(asked, self.vocabulary.answers.no)
        named = any(self._called(slot, place) for slot in self.expectation.known for place in range(len(self.spans)))
        return Given(slot=asked.name, value=value, said=self.said) if named and value else None

    def _called(self, slot: ExpectedSlot, start: int) -> list[int]:
        """Where each word for a slot that stands here ends."""
        keys = [token.key for token in self.hearing.tokens]
        words = [[token.key for token in tokenize(name)] for name in slot.called]
        return [start + len(word) for word in words if keys[start : start + len(word)] == word]

    def _says_more(self, end: int) -> bool:
        """Whether what follows denies, is called wrong, or names something else that was told."""
        loose, rest = self.loose, range(end, len(self.hearing.tokens))
        denied = any(self.hearing.tokens[place].key in loose.not_words for place in rest)
        others = any(self._called(slot, place) for slot in self.expectation.known for place in rest)
        return denied or others or self.hearing.says(loose.wrong, rest)

    def _after_denied(self, slot: ExpectedSlot) -> str:
        """What is said beside a name that is denied."""
        before = set(fold(str(slot.told.get(0, ""))).split())
        tokens = self.hearing.tokens
        for place, token in enumerate(tokens):
            if token.key not in self.loose.not_words:
                continue
            start = place + 1
            while start < len(tokens) and tokens[start].key in self.loose.copulas and start <= place + 2:
                start += 1
            end = start
            while end < len(tokens) and tokens[end].key in before:
                end += 1
            if any(len(one.key) >= SHORTEST or one.is_number for one in tokens[start:end]):
                after = self.hearing.after_breaks(end)
                leads = after < len(tokens) and tokens[after].key in self.loose.copulas
                start, end = (after, len(tokens)) if leads or place == 0 else (0, place)
                return self._stripped(start, end, slot.called)
        return ""

    def _after_wrong(self, slot: ExpectedSlot) -> str:
        """What follows where a slot is named and said to be wrong."""
        loose, tokens = self.loose, self.hearing.tokens
        if not self.hearing.says(self.hearing.mentions(slot)):
            return ""
        ends = self.hearing.ends(loose.wrong, *range(len(tokens)))
        return self._stripped(min(ends), len(tokens), slot.called) if ends else ""

    def _stripped(self, start: int, end: int, called: Sequence[str]) -> str:
        """A piece of the text without marks, small words at its beginning and the slot's own word behind it."""
        tokens = self.hearing.tokens
        small = (*self.loose.copulas, *self.loose.determiners)
        ends = {fold(word) for word in called}
        while start < end and (tokens[start].is_break or tokens[start].key in small):
            start += 1
        if end - 1 > start + 1 and tokens[end - 1].key in ends and tokens[end - 2].key in small:
            end -= 2
        while end > start and tokens[end - 1].is_break:
            end -= 1
        return self.hearing.said(start, end)

    def _name(self, text: str, slot: ExpectedSlot) -> str | None:
        name = name_in(self.hearing.again(text), slot, self.classifier.knows)
        stands_out = name is not None and not CLAUSE_END.search(name) and (not name.islower() or has_digit(name))
        return name if stands_out else None
