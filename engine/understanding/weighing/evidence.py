"""What is seen in one typed sentence: its spans, the meanings of its clauses, and what may turn them round; what is
only inferred from it carries a doubt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Self

from engine.entries.matching.match_context import MatchContext
from engine.entries.phrases.phrase import Phrases
from engine.entries.phrases.sections import FreeWords, NamePhrases
from engine.entries.phrases.tokens import fold
from engine.entries.phrases.vocabulary import Vocabulary
from engine.expectation import Expectation, ExpectedSlot
from engine.messages import DoubtReason, Entry, Given, Reported
from engine.understanding.scanning.scanner import Scanner
from engine.understanding.scanning.spans import SpanKind, TextSpan, is_telling
from engine.understanding.scanning.spelling import Spelled, mended
from engine.understanding.weighing.classifier import Classifier
from engine.understanding.weighing.clauses import Clause, pieces
from engine.understanding.weighing.features import features
from engine.understanding.weighing.limits import LIMITS, MeaningLimits
from engine.understanding.weighing.meaning import OTHER, VALUE, possible
from engine.understanding.weighing.repair import Repaired, repaired

REMAINING = "report:remaining"
"""What is still to do may be done tomorrow."""
WENT_ON, RESUME = "report:went_on", "command:resume"
"""To go on is to plant again wherever that can be told."""
NEAR = 3
"""Words within which a denial reaches."""
MOST_SAID = 60
OWNED = "'s"
"""Stands behind a word, as tokens are compared, of which something is told: "the percent's wrong"."""


@dataclass
class Evidence:
    """One typed sentence under one expectation."""

    text: str
    expectation: Expectation
    vocabulary: Vocabulary
    classifier: Classifier
    limits: MeaningLimits = LIMITS

    def again(self, text: str) -> Self:
        """Another sentence under the same expectation."""
        return type(self)(text, self.expectation, self.vocabulary, self.classifier)

    @property
    def loose(self) -> FreeWords:
        return self.vocabulary.loose

    @property
    def naming(self) -> NamePhrases:
        return self.vocabulary.naming

    @property
    def said(self) -> str:
        """The text as it is kept with what it tells."""
        return self.text.strip()[:MOST_SAID]

    @cached_property
    def spelled(self) -> Spelled:
        expected = self.expectation
        rows, reporting = expected.rows or 0, bool(expected.reports) or expected.chooses_by_row
        options = (option for slot in expected.slots[:1] for option in slot.options)
        answers = frozenset(fold(word) for option in options for said in option.words for word in said.split())
        knows = (lambda _: True) if expected.asks_name else self.classifier.knows
        return mended(self.text, self.vocabulary, knows, rows, reporting, answers)

    @cached_property
    def hearing(self) -> MatchContext:
        return MatchContext(self.spelled.text, self.expectation, self.vocabulary)

    @cached_property
    def as_said(self) -> MatchContext:
        """The text as it was typed, no word of it put right: names and descriptions are taken from here."""
        return MatchContext(self.text, self.expectation, self.vocabulary)

    @cached_property
    def spans(self) -> tuple[TextSpan, ...]:
        return Scanner(self.hearing).spans()

    @cached_property
    def told(self) -> Repaired:
        """The sentence without what was taken back in it."""
        return repaired(self.spans, self.hearing)

    @cached_property
    def plain_answers(self) -> frozenset[str]:
        """All that says a plain yes or a plain no."""
        answers = self.vocabulary.answers
        return frozenset(fold(one.say) for one in (*answers.yes, *answers.no))

    # ---- meanings

    def weigh(self, spans: Sequence[TextSpan]) -> dict[str, float]:
        shares = self.classifier.shares(features(spans, self.expectation), possible(self.expectation))
        if WENT_ON in shares and RESUME in shares:
            shares = {**shares, WENT_ON: shares[WENT_ON] + shares[RESUME], RESUME: 0.0}
        return shares or {OTHER: 1.0}

    # ---- how sure

    @property
    def is_question(self) -> bool:
        return "?" in self.text

    def after_small(self, start: int) -> int:
        """The place behind a no, words that take something back ("wait", "I mean"), marks and small words."""
        ends = self.hearing.ends((*self.vocabulary.answers.no, *self.loose.repairs), start)
        return self.hearing.after_breaks(max(ends, default=start), {*self.loose.copulas, *self.loose.determiners})

    def says(self, phrases: Phrases, spans: Sequence[TextSpan]) -> bool:
        return self.hearing.says(phrases, (span.start for span in spans))

    def mentions(self, spans: Sequence[TextSpan], slot: ExpectedSlot) -> bool:
        """Whether a slot is named or mentioned among spans."""
        called = {fold(word) for word in slot.called}
        owned = any(self.owns(span, slot) for span in spans)
        return owned or self.says(self.hearing.mentions(slot), spans) or any(span.key in called for span in spans)

    def owns(self, span: TextSpan, slot: ExpectedSlot) -> bool:
        """Whether a word for a slot has an "'s" behind it: "the percent's wrong"."""
        bare = span.key.removesuffix(OWNED)
        if bare == span.key:
            return False
        return bare in map(fold, slot.called) or self.hearing.again(bare).says(self.hearing.mentions(slot))

    def unreal(self, spans: Sequence[TextSpan]) -> bool:
        return any(self.says(one, spans) for one in (self.loose.unreal, self.loose.conditions))

    def denied(self, spans: Sequence[TextSpan]) -> bool:
        return any(span.key in self.loose.not_words for span in spans)

    def denies_trouble(self, spans: Sequence[TextSpan]) -> bool:
        """Whether a word of trouble is denied: "row 4 isn't plugged"."""
        troubles = [place for place, span in enumerate(spans) if span.key in self.loose.trouble]
        return any(self.denied(spans[max(0, place - NEAR) : place]) for place in troubles)

    def denies_rows(self, spans: Sequence[TextSpan]) -> bool:
        """Whether rows are said not to be those: "it wasn't row 2"."""
        return any(after.kind is SpanKind.ROWS and self.denied([before]) for before, after in pairwise(spans))

    def turned(self, spans: Sequence[TextSpan]) -> bool:
        """Whether anything in a sentence may turn round what a piece of it says."""
        return self.is_question or self.unreal(spans) or self.denied(spans)

    def supposed(self, clause: Clause, told: Sequence[TextSpan] = ()) -> bool:
        """Whether what a clause says is not so now: "if it rains", "it used to be 6". A condition behind a value is a
        remark about it, "50 if you level it off", and so is what stands in a piece that tells nothing."""
        loose = self.loose
        if clause.meaning == REMAINING:
            return self.says(loose.unreal, clause.spans)
        if clause.meaning != VALUE:
            return self.unreal(clause.spans)
        last = max((span.start for span in clause.spans if is_telling(span)), default=0)
        before = [span for span in clause.spans if span.start < last]
        return self.says(loose.unreal, told_in(clause.spans, told)) or self.says(loose.conditions, before)

    def level(self, clause: Clause, told: Sequence[TextSpan] = ()) -> bool | None:
        """True to keep, False to ask, None for neither; ``told`` are the amounts that count of several."""
        if self.is_question or self.supposed(clause, told):
            return False if clause.sure >= self.limits.asked_unreal else None
        loose = self.loose
        vague = self.says(loose.vague, told_in(clause.spans, told))
        vague = vague or (not self.expectation.reports and self.says(loose.homophones, clause.spans))
        if clause.sure >= self.limits.kept and not vague:
            return True
        return False if clause.sure >= self.limits.asked else None


def told_in(spans: Sequence[TextSpan], told: Sequence[TextSpan] = ()) -> list[TextSpan]:
    """The spans of the pieces that tell an amount or rows, or those that count; all of them where none does."""
    parts = [part for part in pieces(spans) if any(span in told if told else is_telling(span) for span in part)]
    return [span for part in parts for span in part] or list(spans)


def doubtful(entry: Entry) -> Entry:
    """A value or a report with a doubt; anything else as it is."""
    if not isinstance(entry, Given | Reported) or entry.doubt is not None:
        return entry
    return entry.model_copy(update={"doubt": DoubtReason.INFERRED})
