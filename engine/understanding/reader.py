"""What people say in their own words becomes entries: kept where it is plain, asked about where it is inferred."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from engine.entries.acceptance import Acceptance
from engine.entries.doubt import with_rest
from engine.entries.exception import with_exceptions
from engine.entries.fitting import is_usual
from engine.entries.hearing import Hearing
from engine.entries.name import as_before
from engine.entries.naming import named
from engine.entries.reader import read
from engine.entries.tokens import MOST_CHARACTERS, fold
from engine.entries.vocabulary import Vocabulary
from engine.expectation import Asking, Expectation, SlotKind
from engine.intents import Command, Report, Topic
from engine.messages import (
    Answered,
    Asked,
    Commanded,
    DoubtReason,
    Entry,
    Given,
    LeavingOut,
    Opened,
    Reading,
    Reported,
    Unclear,
    Utterance,
)
from engine.quantities import Dimension
from engine.understanding.classifier import Classifier, load_classifier
from engine.understanding.clauses import Clause, clauses, pieces
from engine.understanding.features import features
from engine.understanding.limits import LIMITS, Limits
from engine.understanding.meaning import DECLINED, LEFT_OUT, NAME, NO, OTHER, TAKEN_IN, VALUE, YES, possible
from engine.understanding.merging import merged
from engine.understanding.names import name_in, starts
from engine.understanding.options import options
from engine.understanding.repair import Repaired, repaired
from engine.understanding.reports import Clauses
from engine.understanding.spans import Kind, Scanner, Span, is_amount, is_telling
from engine.understanding.spelling import Spelled, mended, written_out
from engine.understanding.values import Values

MOST_WORDS = 60
EMERGENCY = f"topic:{Topic.EMERGENCY}"
MOVING = frozenset(
    {DECLINED, *(f"command:{one}" for one in (Command.SCRATCH, Command.BACK, Command.CANCEL, Command.DONE))}
)
"""Meanings by which something is lost or left."""
LOT = "lot"
"""The role of a slot whose names are numbers as they are printed."""


def understand(
    utterance: Utterance, expectation: Expectation, vocabulary: Vocabulary, acceptance: Acceptance | None = None
) -> Reading:
    """Everything that an utterance means. What is spoken is read strictly; so is typed text that fits a known pattern,
    and all of it in a language that has not learned meanings yet.

    Any text gives a reading, never an error. What is inferred carries a doubt, so that it is asked before it counts.
    """
    asks_name = expectation.asking is Asking.SLOT and expectation.slots[0].kind is SlotKind.TEXT
    if not utterance.spoken and not asks_name:
        utterance = utterance.model_copy(update={"text": written_out(utterance.text, vocabulary)})
    strict = read(utterance, expectation, vocabulary, acceptance)
    classifier = load_classifier(vocabulary.language)
    if utterance.spoken or len(utterance.text) > MOST_CHARACTERS or not classifier.meanings:
        return strict
    free = Free(utterance.text, expectation, vocabulary, classifier)
    entries = free.entries(strict.entries)
    return strict if entries is None else Reading(entries=tuple(as_before(one, expectation) for one in entries))


@dataclass
class Free:
    """One typed sentence under one expectation, read without regard to order and unknown words."""

    text: str
    expectation: Expectation
    vocabulary: Vocabulary
    classifier: Classifier
    limits: Limits = LIMITS
    excepted: tuple[int, ...] = ()

    @cached_property
    def spelled(self) -> Spelled:
        return mended(self.text, self.vocabulary, self.classifier.knows)

    @cached_property
    def hearing(self) -> Hearing:
        return Hearing(self.spelled.text, self.expectation, self.vocabulary)

    @cached_property
    def spans(self) -> tuple[Span, ...]:
        return Scanner(self.hearing).spans()

    def entries(self, strict: Sequence[Entry]) -> tuple[Entry, ...] | None:
        """The entries; None where the strict reading stands."""
        names = self.expectation.asking is Asking.SLOT and self.expectation.slots[0].kind is SlotKind.TEXT
        if not self.hearing.tokens or len(self.hearing.tokens) > MOST_WORDS:
            return None
        if names and any(isinstance(one, Given) for one in strict):
            return self._instead_of_name(strict)
        if (chosen := self._yes_or_no(strict)) is not None:
            return (chosen,)
        if not any(isinstance(one, Unclear) for one in strict):
            return None
        found = self._found()
        partly = not all(isinstance(one, Unclear) for one in strict)
        return None if partly and not found else found

    def _yes_or_no(self, strict: Sequence[Entry]) -> Given | None:
        """A plain yes or no to a question whose closed answers are these."""
        if self.expectation.asking is not Asking.SLOT or len(strict) != 1 or not isinstance(strict[0], Answered):
            return None
        slot = self.expectation.slots[0]
        answers = self.vocabulary.answers
        said = {fold(one.say) for one in (answers.yes if strict[0].yes else answers.no)}
        meant = [option.key for option in slot.options if said & {fold(word) for word in option.words}]
        if slot.per_row or len(meant) != 1:
            return None
        return Given(slot=slot.name, value=meant[0], said=self.text.strip()[:60])

    # ---- meanings

    def weigh(self, spans: Sequence[Span]) -> dict[str, float]:
        shares = self.classifier.shares(features(spans, self.expectation), possible(self.expectation))
        return shares or {OTHER: 1.0}

    def _instead_of_name(self, strict: Sequence[Entry]) -> tuple[Entry, ...] | None:
        """Something else than a name where the words are that; what is half sure to be one is asked."""
        slot = self.expectation.slots[0]
        whole = Clause(self.spans, self.weigh(self.spans))
        led = name_in(self.hearing, slot, slot.role == LOT, self.classifier.knows) is not None and starts(self.hearing)
        if whole.meaning != NAME and whole.sure >= self.limits.acted and not (whole.meaning == OTHER and led):
            return self._meant(whole)
        name = name_in(self.hearing, slot, slot.role == LOT, self.classifier.knows)
        told = tuple(self._renamed(one, name) if isinstance(one, Given) else one for one in strict)
        sure = whole.meaning == NAME and whole.sure >= self.limits.name_kept
        return tuple(one if sure or not isinstance(one, Given) else _doubtful(one) for one in told)

    def _renamed(self, entry: Given, name: str | None) -> Given:
        """The name alone, where the sentence says more than that."""
        return entry if name is None else entry.model_copy(update={"value": name, "said": name, "doubt": None})

    def _found(self) -> tuple[Entry, ...] | None:
        """What all clauses mean; where a part has no meaning, what the others mean, asked about."""
        found: list[Entry] = []
        whole = True
        excepted: tuple[int, ...] = ()
        cut = [part for one in clauses(self.told.spans, self.weigh) for part in self._split(one)]
        for group in _grouped(_agreed([self._surer(one) for one in cut])):
            self.excepted = excepted
            entries = self._meant_by(group)
            excepted = self._taken_out(group)
            whole = whole and entries is not None
            found = _and_others(found, entries or (), group)
        if not found:
            return () if whole else None
        if not whole:
            found = [one for one in found if isinstance(one, Given | Reported | Asked)]
        if not whole or any(
            _is_doubtful(one) and one.doubt is DoubtReason.INFERRED
            for one in found
            if isinstance(one, Given | Reported)
        ):
            found = [_doubtful(one) if isinstance(one, Given | Reported) else one for one in found]
        return with_rest(with_exceptions(merged(found))) or None

    @cached_property
    def told(self) -> Repaired:
        """The sentence without what was taken back in it."""
        return repaired(self.spans, self.hearing)

    def _split(self, clause: Clause) -> list[Clause]:
        """A clause in its pieces where two of them plainly report different things."""
        if not clause.meaning.startswith("report:"):
            return [clause]
        parts = [Clause(tuple(part), self.weigh(part)) for part in pieces(clause.spans)]
        told = {part.meaning for part in parts if part.meaning.startswith("report:") and part.sure >= self.limits.piece}
        return parts if len(told) > 1 else [clause]

    def _surer(self, clause: Clause) -> Clause:
        """A clause with a remark trailing behind is as sure as the piece that says the thing."""
        parts = pieces(clause.spans)
        if clause.sure >= self.limits.kept or len(parts) == 1:
            return clause
        shares = [
            self.weigh(part) for part in parts if any(is_telling(span) for span in part) or clause.meaning != VALUE
        ]
        sure = max((share.get(clause.meaning, 0.0) for share in shares), default=0.0)
        return clause if sure <= clause.sure else replace(clause, shares={**clause.shares, clause.meaning: sure})

    def _taken_out(self, group: Sequence[Clause]) -> tuple[int, ...]:
        """The rows that a clause said "but" of."""
        but = [span for clause in group for span in clause.spans if span.key == "<all-but>"]
        return tuple(row for row in self.hearing.every_row if row not in but[0].rows) if but else ()

    def _meant_by(self, group: Sequence[Clause]) -> Sequence[Entry] | None:
        if len(group) == 1:
            return self._meant(group[0])
        spans = tuple(span for clause in group for span in clause.spans)
        meaning = group[0].meaning
        return self._meant(Clause(spans, {meaning: min(clause.sure for clause in group)}))

    def _meant(self, clause: Clause) -> tuple[Entry, ...] | None:  # noqa: PLR0912
        """What a clause means, or None where that is not clear enough to act upon or to ask about."""
        meaning, sure = clause.meaning, clause.sure
        kind, _, what = meaning.partition(":")
        if clause.shares.get(EMERGENCY, 0.0) >= (self.limits.emergency if meaning == OTHER else self.limits.answered):
            return (Asked(topic=Topic.EMERGENCY),)
        if meaning == OTHER:
            return self._aside(clause)
        if kind == "topic":
            return self._asked(Topic(what), clause) if sure >= self.limits.answered else None
        if kind == "report":
            return self._reported(Report(what), clause)
        if meaning == VALUE:
            return self._values(clause)
        if kind == "option":
            level = self._level(clause)
            return options(self.hearing, clause, level and sure >= self.limits.chosen, self.excepted)
        if sure < (self.limits.moved if meaning in MOVING else self.limits.acted):
            return None
        if kind == "command":
            return (Commanded(command=Command(what)),)
        if kind == "open":
            return (Opened(dialog=what),)
        match meaning:
            case m if m == DECLINED:
                return (Commanded(command=Command.SKIP),)
            case m if m in (YES, NO):
                return (Answered(yes=meaning == YES),) if not self._is_question else None
            case m if m in (LEFT_OUT, TAKEN_IN):
                return self._left_out(clause, meaning == TAKEN_IN)
            case m if m == NAME:
                return named(self.hearing, self.expectation.slots[0], ())
            case _:
                return None

    def _aside(self, clause: Clause) -> tuple[Entry, ...] | None:
        """Nothing for talk; but what a piece of it plainly tells, and what may be an emergency, is not passed over."""
        for part in pieces(clause.spans):
            inside = Clause(tuple(part), self.weigh(part))
            tells = inside.meaning == VALUE or inside.meaning.startswith("report:")
            if tells and inside.sure >= self.limits.piece and any(is_telling(span) for span in part):
                found = self._meant(inside) or ()
                told = tuple(one for one in found if isinstance(one, Given | Reported))
                alone = sum(is_amount(span) for span in clause.spans) <= 1
                sure = inside.sure >= self.limits.piece_kept and alone and not self._turned(clause.spans)
                if told:
                    return told if sure else tuple(map(_doubtful, told))
        return () if clause.sure >= self.limits.ignored and not self._troubled(clause) else None

    def _asked(self, topic: Topic, clause: Clause) -> tuple[Entry, ...]:
        rows = [span for span in clause.spans if span.kind is Kind.ROWS and len(span.rows) == 1]
        bare = [span for span in clause.spans if span.row is not None and span.row in self.hearing.every_row]
        row = rows[0].rows[0] if len(rows) == 1 else bare[0].row if len(bare) == 1 and not rows else None
        areas = [
            measure
            for span in clause.spans
            if span.kind is Kind.AMOUNT
            for measure in (Clauses(self.hearing, self.classifier.knows)._of(span, (Dimension.AREA,)),)
            if measure is not None
        ]
        return (Asked(topic=topic, row=row, amount=areas[0] if areas and topic is Topic.HOW_MUCH else None),)

    def _left_out(self, clause: Clause, back: bool) -> tuple[Entry, ...] | None:
        rows, rest, _ = Clauses(self.hearing, self.classifier.knows)._rows(clause.spans)
        if not rows or rest or any(row not in self.hearing.every_row for row in rows):
            return None
        return (LeavingOut(rows=rows, back=back, said=self.text[:60]),)

    # ---- how sure

    @property
    def _is_question(self) -> bool:
        return "?" in self.text

    def _says(self, phrases: object, spans: Sequence[Span]) -> bool:
        return any(True for span in spans for _ in self.hearing.find(phrases, span.start))  # type: ignore[arg-type]

    def _unreal(self, spans: Sequence[Span]) -> bool:
        return self._says(self.vocabulary.loose.unreal, spans)

    def _denied(self, spans: Sequence[Span]) -> bool:
        return any(span.key in self.vocabulary.loose.not_words for span in spans)

    def _turned(self, spans: Sequence[Span]) -> bool:
        """Whether anything in a sentence may turn round what a piece of it says."""
        return self._is_question or self._unreal(spans) or self._denied(spans)

    def _troubled(self, clause: Clause) -> bool:
        """Whether a row is named in words that seem to be none of the program's business: they may be a report."""
        rows = any(span.kind is Kind.ROWS for span in clause.spans)
        return rows and bool(self.expectation.reports) and clause.sure < self.limits.ignored_rows

    def _level(self, clause: Clause) -> bool | None:
        """True to keep, False to ask, None for neither."""
        if self._is_question or self._unreal(clause.spans):
            return False if clause.sure >= self.limits.asked_unreal else None
        if clause.sure >= self.limits.kept:
            return True
        return False if clause.sure >= self.limits.asked else None

    def _values(self, clause: Clause) -> tuple[Entry, ...] | None:
        told = replace(self.told, spans=clause.spans)
        found = Values(self.hearing, told).found()
        level = self._level(clause)
        if level is None or not found.entries:
            return None
        keep = level and found.plain and not told.denied and not self.spelled.guessed
        return tuple(self._checked(one, keep) for one in found.entries)

    def _checked(self, entry: Entry, keep: bool) -> Entry:
        if not isinstance(entry, Given) or entry.doubt is not None:
            return entry
        slots = (*self.expectation.slots, *self.expectation.known, *self.expectation.ahead)
        slot = next(slot for slot in slots if slot.name == entry.slot)
        if not is_usual(entry.value, slot):
            return entry.model_copy(update={"doubt": DoubtReason.UNUSUAL})
        return entry if keep else _doubtful(entry)

    def _reported(self, report: Report, clause: Clause) -> tuple[Entry, ...] | None:
        level = self._level(clause)
        made = (
            Clauses(self.hearing, self.classifier.knows).told(report, clause.spans, self.excepted)
            if level is not None
            else None
        )
        if made is None:
            return None
        turned = report in _FINE and self._denied(clause.spans)
        keep = level and made.plain and not turned and not self.told.denied
        return made.reports if keep else tuple(_doubtful(one) for one in made.reports)


_FINE = frozenset({Report.GOOD, Report.RUNS, Report.DROPPING, Report.WENT_ON})
"""Reports that a word of denial would turn round."""


def _and_others(found: Sequence[Entry], entries: Sequence[Entry], group: Sequence[Clause]) -> list[Entry]:
    """All entries; the same of the rest as was said of others is asked about: it would have been said of all."""
    rest = any(span.rest for clause in group for span in clause.spans)
    before = {(one.slot, str(one.value)) for one in found if isinstance(one, Given) and one.row is not None}
    same = any(isinstance(one, Given) and (one.slot, str(one.value)) in before for one in entries)
    asked = rest and same and group[0].meaning.startswith("option:")
    told = [*found, *entries]
    return [_doubtful(one) if asked and isinstance(one, Given) else one for one in told]


def _is_doubtful(entry: Entry) -> bool:
    return isinstance(entry, Unclear) or (isinstance(entry, Given | Reported) and entry.doubt is not None)


def _doubtful(entry: Given | Reported) -> Entry:
    return entry if entry.doubt is not None else entry.model_copy(update={"doubt": DoubtReason.INFERRED})


def _agreed(cut: Sequence[Clause]) -> list[Clause]:
    """Clauses that follow each other with one meaning are as sure as the surest of them."""
    found = list(cut)
    for place in range(len(found) - 1):
        one, other = found[place : place + 2]
        if one.meaning == REFILLED and other.meaning == LEFT and not any(is_amount(span) for span in one.spans):
            other = replace(other, shares={REFILLED: other.sure})
            found[place + 1] = other
        if one.meaning == other.meaning:
            sure = max(found[place].sure, other.sure)
            found[place] = replace(found[place], shares={**one.shares, one.meaning: sure})
            found[place + 1] = replace(other, shares={**other.shares, other.meaning: sure})
    return found


def _grouped(cut: Sequence[Clause]) -> list[list[Clause]]:
    """Clauses of one meaning that go together: rows and amounts of one may belong to another."""
    groups: list[list[Clause]] = []
    for clause in cut:
        before = groups[-1][-1] if groups else None
        if before is not None and clause.meaning == before.meaning and _goes_with(before, clause):
            groups[-1].append(clause)
        else:
            groups.append([clause])
    return groups


def _goes_with(before: Clause, clause: Clause) -> bool:
    if clause.meaning == VALUE:
        return True
    if not clause.meaning.startswith("report:"):
        return False
    amounts = [any(is_amount(span) for span in one.spans) for one in (before, clause)]
    return clause.meaning in PAIRED or not all(amounts)


LEFT, REFILLED = "report:left", "report:refilled"
PAIRED = frozenset({"report:left", "report:level", "report:refilled", "report:caught"})
"""Reports of which each may be told of some rows, and the next amount of others."""
