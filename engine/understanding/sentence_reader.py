"""A typed sentence in clauses: what all of them mean together, and what a part without a meaning does to the others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from engine.calculations.runs.fitness import RowCondition
from engine.entries.confidence import with_rest
from engine.entries.phrases.phrase import Phrases
from engine.entries.phrases.tokens import has_digit
from engine.entries.segmentation import with_exceptions
from engine.expectation import Asking, SlotKind
from engine.intents import Command, Report
from engine.messages import Answered, Asked, Commanded, DoubtReason, Entry, Given, Reported
from engine.understanding.clause_reader import ClauseReader
from engine.understanding.extraction.merging import agreed, and_others, answers, grouped, merged
from engine.understanding.scanning.spans import SpanKind, TextSpan, is_amount, is_telling
from engine.understanding.weighing.clauses import Clause, clauses, pieces, says_something
from engine.understanding.weighing.evidence import doubtful
from engine.understanding.weighing.meaning import OTHER, VALUE

FEWEST = 2
"""So many counts in a sentence may be counted together."""


class SentenceReader(ClauseReader):
    """Reads one sentence without regard to order and unknown words."""

    def found(self) -> tuple[Entry, ...] | None:
        """What all clauses mean; where a part has no meaning, what the others mean, asked about."""
        if (command := self._plain_command()) is not None:
            return (Commanded(command=command),)
        found: list[Entry] = []
        whole, missing = True, False
        excepted: tuple[int, ...] = ()
        cut = [part for one in clauses(self.told.spans, self.weigh) for part in self._split(one)]
        for group in grouped(agreed(self._contrasted(self._repeated([self._surer(one) for one in cut])))):
            self.excepted = excepted
            entries = self._meant_by(group)
            excepted = self._taken_out(group)
            if entries and _elaborates(entries, found, group):
                found, entries = self._rather_named(entries, found, group), ()
            entries = None if entries and found and self._is_no_question(entries, group) else entries
            if entries == () and self.excepted and self._denies(group):
                stopped = Reported(report=Report.STOPPED, rows=self.excepted, said=self.text[:60])
                entries = (doubtful(stopped),)
            missing = missing or entries is None
            whole = whole and (entries is not None or all(map(self._is_remark, group)))
            found = and_others(found, entries or (), group)
        if any(isinstance(one, Given | Reported) for one in found):
            found = [one for one in found if not (isinstance(one, Answered) and one.yes)]
        skips = any(isinstance(one, Commanded) and one.command is Command.SKIP for one in found)
        found = [doubtful(one) for one in found] if skips else found
        if any(isinstance(one, Asked | Given) for one in found):
            found = [one for one in found if not (isinstance(one, Commanded) and one.command is Command.SKIP)]
        if not found:
            return None if missing else ()
        if not whole:
            found = [one for one in found if isinstance(one, Given | Reported | Asked)]
        if not whole or any(isinstance(one, Given | Reported) and one.doubt is DoubtReason.INFERRED for one in found):
            found = [doubtful(one) for one in found]
        return with_rest(with_exceptions(merged(self._summed(found)))) or None

    def _rather_named(self, entries: Sequence[Entry], found: list[Entry], group: Sequence[Clause]) -> list[Entry]:
        """What was told of the row before; asked about as what it says itself where the words that go on about it name
        another trouble: "plugged at the bottom, mud in the outlet"."""
        first, last = entries[0], found[-1] if found else None
        if not isinstance(first, Given) or not isinstance(last, Given) or first.value == last.value:
            return found
        node = self.hearing.options.get(first.slot, {}).get(str(first.value))
        places = [span.start for clause in group for span in clause.spans]
        named = node is not None and any(self.hearing.matcher.match(node, place) for place in places)
        same = [one for one in found if isinstance(one, Given) and (one.slot, one.value) == (last.slot, last.value)]
        changed = {id(one): doubtful(one.model_copy(update={"value": first.value})) for one in same}
        return [changed.get(id(one), one) for one in found] if named else found

    def _summed(self, found: list[Entry]) -> list[Entry]:
        """Counts joined by "and" are asked about together, as what they come to: "six here and five there"."""
        slot = self.expectation.asked
        told = [one for one in found if isinstance(one, Given) and slot is not None and one.slot == slot.name]
        counts = [span for span in self.told.spans if span.kind is SpanKind.NUMBER and span.amount is not None]
        numbers = [numeral.value for span in counts if span.amount for numeral, _ in span.amount.parts]
        joins = {span.start for span in self.told.spans if span.kind is SpanKind.JOIN}
        joined = all(any(one.end <= place < after.start for place in joins) for one, after in pairwise(counts))
        other = (self.loose.concludes, self.loose.repairs, self.vocabulary.each)
        if slot is None or slot.kind is not SlotKind.COUNT or slot.per_row or not told or len(counts) < FEWEST:
            return found
        if not joined or self.told.denied or any(map(self.hearing.says, other)):
            return found
        total = told[0].model_copy(update={"value": int(sum(numbers)), "doubt": DoubtReason.INFERRED})
        return [total, *(one for one in found if one not in told)]

    def _plain_command(self) -> Command | None:
        """A plain word for going on, or for taking back, as one whole piece of a sentence that tells no amount."""
        parts = [[span for span in part if span.kind is SpanKind.WORD] for part in pieces(self.spans)]
        rows = len(self.hearing.every_row)
        told = any(is_amount(span) and not span.is_one_of(rows) for span in self.spans)

        def says(phrases: Phrases, some: Sequence[Sequence[TextSpan]]) -> bool:
            return any(part[-1].end in self.hearing.ends(phrases, part[0].start) for part in some if part)

        loose, chooses, asks = self.loose, self._chooses(), self.expectation.asking is Asking.SLOT
        if asks and len(parts) > 1 and says(loose.passes, parts[:1]) and not chooses:
            return Command.SKIP
        if told or self.is_question:
            return None
        if says(self.vocabulary.commands[Command.SCRATCH], parts) and len(parts) > 1 and not self.tells_code():
            return Command.SCRATCH
        if asks and self.hearing.says(loose.puzzled, (part[0].start for part in parts if part)):
            return Command.HELP
        passes = asks and not chooses and not any(map(is_telling, self.spans)) and says(loose.passes, parts)
        return Command.SKIP if passes else None

    def _chooses(self) -> bool:
        """Whether a piece of a sentence is most likely an answer to a closed question, as going on without may be."""
        slot = self.expectation.asked
        if slot is None or slot.kind is not SlotKind.CHOICE or slot.per_row:
            return False
        parts = [Clause(tuple(part), self.weigh(part)) for part in pieces(self.spans)]
        return any(one.meaning.startswith(f"option:{slot.name}.") and one.sure >= self.limits.chosen for one in parts)

    def tells_code(self) -> bool:
        """Whether a number stands in a sentence while a name or a code is asked for, which it then puts right."""
        return self.expectation.asks_name and has_digit(self.text)

    def _split(self, clause: Clause) -> list[Clause]:
        """A clause in its pieces where two of them plainly tell different things."""
        parts = [Clause(tuple(part), self.weigh(part)) for part in pieces(clause.spans)]
        sure = (part for part in parts if part.sure >= self.limits.piece and says_something(part.spans))
        told = {_told(part) for part in sure if part.meaning.startswith(("report:", "option:", VALUE))}
        return parts if len(told) > 1 else [clause]

    def _surer(self, clause: Clause) -> Clause:
        """A clause with a remark trailing behind is as sure as the piece that says the thing."""
        parts = pieces(clause.spans)
        if clause.sure >= self.limits.kept or len(parts) == 1:
            return clause
        telling = [part for part in parts if any(map(is_telling, part)) or clause.meaning != VALUE]
        sure = max((self.weigh(part).get(clause.meaning, 0.0) for part in telling), default=0.0)
        return clause if sure <= clause.sure else replace(clause, shares={**clause.shares, clause.meaning: sure})

    def _repeated(self, cut: Sequence[Clause]) -> list[Clause]:
        """Where rows are only said to be like those before, what was said of these: "one is fit, two too"."""
        also, found = self.loose.also, list(cut)
        for place, (before, one) in enumerate(pairwise(cut), 1):
            words = {span.key for span in one.spans if span.kind in (SpanKind.WORD, SpanKind.JOIN)}
            rows = any(span.may_be_row for span in one.spans) and words <= self.vocabulary.small_words | also
            if rows and words & also and before.meaning.startswith("option:"):
                found[place] = replace(one, shares=found[place - 1].shares)
        return found

    def _contrasted(self, cut: Sequence[Clause]) -> list[Clause]:
        """Where all rows but some are only named, with what is so of those behind, the others are the other way: "all
        but 8, which is off"."""
        found = list(cut)
        for place, (one, after) in enumerate(pairwise(cut)):
            slot, _, key = after.meaning.partition(":")[2].partition(".")
            keys = [option.key for slots in self.expectation.slots if slots.name == slot for option in slots.options]
            if self._is_bare_exception(one) and after.meaning.startswith("option:") and len(keys) == len({key}) + 1:
                other = next(option for option in keys if option != key)
                found[place] = replace(one, shares={f"option:{slot}.{other}": after.sure})
        return found

    def _is_bare_exception(self, clause: Clause) -> bool:
        """Whether a clause only names all rows but some."""
        leads = (*self.loose.except_words, *self.loose.after_except)
        words = [span for span in clause.spans if span.kind is SpanKind.WORD and span.key not in leads]
        return any(span.key == "<all-but>" for span in clause.spans) and not words

    def _taken_out(self, group: Sequence[Clause]) -> tuple[int, ...]:
        """The rows that a clause said "but" of."""
        but = [span for clause in group for span in clause.spans if span.key == "<all-but>"]
        return tuple(row for row in self.hearing.every_row if row not in but[0].rows) if but else ()

    def _meant_by(self, group: Sequence[Clause]) -> Sequence[Entry] | None:
        if len(group) == 1:
            return self.meant(group[0])
        spans = tuple(span for clause in group for span in clause.spans)
        meaning = group[0].meaning
        return self.meant(Clause(spans, {meaning: min(clause.sure for clause in group)}))

    def _denies(self, group: Sequence[Clause]) -> bool:
        """Whether something is denied of rows that were taken out: "all good but 6, that one won't drop"."""
        reports = Report.STOPPED in self.expectation.reports
        return reports and any(self.denied(clause.spans) for clause in group)

    def _is_no_question(self, entries: Sequence[Entry], group: Sequence[Clause]) -> bool:
        """Whether what was taken for a question, beside something that is told, names a trouble: it may be told too."""
        words = {span.key for clause in group for span in clause.spans}
        asks = self.is_question or not words.isdisjoint(self.loose.asking)
        trouble = not words.isdisjoint(self.loose.trouble)
        return trouble and not asks and all(isinstance(one, Asked) for one in entries)

    def _is_remark(self, clause: Clause) -> bool:
        """Whether a clause without a clear meaning tells no amount and no rows, denies nothing and is most likely
        talk, so that what is said beside it stands."""
        tells = any(is_telling(span) or span.kind is SpanKind.MOMENT for span in clause.spans)
        other = max((share for meaning, share in clause.shares.items() if meaning.startswith("report:")), default=0.0)
        talk = clause.shares.get(OTHER, 0.0) >= self.limits.remark > other
        return not tells and talk and not self.turned(clause.spans)


def _elaborates(entries: Sequence[Entry], found: Sequence[Entry], group: Sequence[Clause]) -> bool:
    """Whether a clause without rows says once more what is so of the rows before: "five's wet, rain got in"."""
    if any(span.may_be_row for clause in group for span in clause.spans):
        return False
    before = answers(found, by_row=True)
    return _is_of_last_row(entries, found) or all(answers([one], by_row=True) & before for one in entries)


def _is_of_last_row(entries: Sequence[Entry], found: Sequence[Entry]) -> bool:
    """Whether something wrong is told of no row right behind something wrong with one, which it then goes on about."""
    rows = [one for one in found if isinstance(one, Given) and one.row is not None]
    return bool(rows) and all(
        isinstance(one, Given) and one.slot == rows[-1].slot and RowCondition.FIT not in (one.value, rows[-1].value)
        for one in entries
    )


def _told(clause: Clause) -> str:
    """What a clause tells: of an option only its slot, unless it is said of rows."""
    rows = any(span.may_be_row for span in clause.spans)
    return clause.meaning if rows else clause.meaning.partition(".")[0]
