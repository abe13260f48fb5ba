"""What one clause of a typed sentence means, as entries: kept where it is plain, asked about where it is inferred."""

from __future__ import annotations

from dataclasses import dataclass, replace

from engine.entries.matching.naming import named
from engine.entries.matching.slot_fit import is_usual
from engine.entries.phrases.phrase import Phrases
from engine.entries.phrases.tokens import fold
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
    Reported,
    Unclear,
    UnclearReason,
)
from engine.quantities import Dimension
from engine.understanding.extraction.corrections import Corrections
from engine.understanding.extraction.options import option_called, options
from engine.understanding.extraction.reports import PEOPLE, Clauses
from engine.understanding.extraction.told_values import Values
from engine.understanding.scanning.spans import SpanKind, is_amount, is_telling
from engine.understanding.weighing.clauses import Clause, pieces
from engine.understanding.weighing.evidence import MOST_SAID, doubtful
from engine.understanding.weighing.meaning import DECLINED, LEFT_OUT, NAME, NO, NUMBERED, OTHER, TAKEN_IN, VALUE, YES

ALIKE = {"report:stopped": ("report:high",), "report:high": ("report:stopped", "report:level")}
EMERGENCY = f"topic:{Topic.EMERGENCY}"
MOVING = frozenset(
    {DECLINED, *(f"command:{one}" for one in (Command.SCRATCH, Command.BACK, Command.CANCEL, Command.DONE))}
)
"""Meanings by which something is lost or left."""
FINE = frozenset({Report.GOOD, Report.RUNS, Report.DROPPING, Report.WENT_ON})
"""Reports that a word of denial would turn round."""


@dataclass
class ClauseReader(Corrections):
    """Reads the clauses of one sentence; ``excepted`` are rows that the clause before took out."""

    excepted: tuple[int, ...] = ()

    def meant(self, clause: Clause) -> tuple[Entry, ...] | None:  # noqa: PLR0912
        """What a clause means, or None where that is not clear enough to act upon or to ask about."""
        meaning, sure = clause.meaning, clause.sure
        kind, _, what = meaning.partition(":")
        if clause.shares.get(EMERGENCY, 0.0) >= (self.limits.emergency if meaning == OTHER else self.limits.acted):
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
            return self._chosen(what, clause)
        if sure < (self.limits.moved if meaning in MOVING else self.limits.acted):
            return None
        if kind == "command":
            return (Commanded(command=Command(what)),)
        if kind == "language":
            return (Commanded(command=Command.LANGUAGE, language=what),)
        if kind == "open":
            return None if self.unreal(clause.spans) else (Opened(dialog=what),)
        if meaning == DECLINED:
            return None if self._only_wonders() or self._hardly(sure) else (Commanded(command=Command.SKIP),)
        if meaning in (YES, NO):
            denied = self._says_nothing(clause) or (meaning == YES and self.denied(clause.spans))
            return (Answered(yes=meaning == YES),) if not (self.is_question or denied) else None
        if meaning in (LEFT_OUT, TAKEN_IN):
            return None if self.is_question else self._left_out(clause, meaning == TAKEN_IN)
        return named(self.hearing, self.expectation.slots[0], ()) if meaning == NAME else None

    def _chosen(self, option: str, clause: Clause) -> tuple[Entry, ...] | None:
        """A closed answer; the other one where a plain yes or no at the beginning says that."""
        doubts = len(clause.spans) == 1 and self.says(self.loose.doubts, clause.spans)
        if doubts or clause.sure < self.limits.acted or self._says_nothing(clause):
            return None
        if (other := self._answered_otherwise(option)) is not None:
            return options(self.hearing, replace(clause, shares={f"option:{other}": clause.sure}), False, self.excepted)
        plain_no = {fold(one.say) for one in self.vocabulary.answers.no}
        denied = self.denied([span for span in clause.spans if span.key not in plain_no])
        sure = clause.sure >= (self.limits.chosen_denied if denied else self.limits.chosen)
        sure = sure or self._answer_at_first() == option.partition(".")[2]
        return options(self.hearing, clause, self.level(clause) and sure and not self._lost_rows(clause), self.excepted)

    def _says_nothing(self, clause: Clause) -> bool:
        """Whether it has no known word, nor a row where rows have each their own answer: it chooses nothing."""
        slot = self.expectation.asked
        words = [span.key for span in clause.spans if span.kind is SpanKind.WORD and len(span.key) > 1]
        rows = slot is not None and slot.per_row and not words
        return not rows and not any(map(self.classifier.knows, words))

    def _only_wonders(self) -> bool:
        """Whether a question is asked that names no way to go on without an answer."""
        passes = (*self.loose.passes, *self.vocabulary.commands[Command.SKIP])
        return self.is_question and not self.is_piece(passes)

    def is_piece(self, phrases: Phrases) -> bool:
        """Whether one whole piece of the sentence is one of these phrases."""
        parts = [[span for span in part if span.kind is not SpanKind.BREAK] for part in pieces(self.spans)]
        return any(part[-1].end in self.hearing.ends(phrases, part[0].start) for part in parts if part)

    def _hardly(self, sure: float) -> bool:
        """Whether no word says that there is no answer, or what is asked is told, so that going on must be surer."""
        naming, loose = self.naming, self.loose
        says = self.hearing.says((*loose.passes, *naming.skipped, *naming.unknown)) or self.denied(self.spans)
        slot = self.expectation.slots[0]
        numbered = slot.kind in NUMBERED and self.hearing.says(loose.days)
        told = slot.any_words and self.hearing.says(self.hearing.mentions(slot))
        return numbered or told or (sure < self.limits.declined_unsaid and not says)

    def _lost_rows(self, clause: Clause) -> bool:
        """Whether a clause names no rows, but some were taken back in the sentence: "it wasn't 3, it was 2"."""
        rows = any(span.may_be_row for span in clause.spans)
        return not rows and any(span.may_be_row for span in self.told.dropped)

    def _aside(self, clause: Clause) -> tuple[Entry, ...] | None:
        """Nothing for talk; but what one piece of it plainly tells is not passed over."""
        for part in pieces(clause.spans):
            inside = Clause(tuple(part), self.weigh(part))
            tells = inside.meaning == VALUE or inside.meaning.startswith("report:")
            if tells and inside.sure >= self.limits.piece and any(is_telling(span) for span in part):
                found = self.meant(inside) or ()
                told = tuple(one for one in found if isinstance(one, Given | Reported))
                alone = sum(is_amount(span) for span in clause.spans) <= 1
                sure = inside.sure >= self.limits.piece_kept and alone and not self.turned(clause.spans)
                if told:
                    return told if sure else tuple(map(doubtful, told))
        words = [span.key for span in clause.spans if span.kind is SpanKind.WORD]
        unknown = sum(not self.classifier.knows(word) for word in words)
        strange = (len(words) <= 1 and bool(self.expectation.reports)) or unknown * 2 > len(words)
        return () if clause.sure >= self.limits.ignored and not strange and not self._troubled(clause) else None

    def _answered_otherwise(self, option: str) -> str | None:
        """The other option of the question that a plain yes or no at the beginning is the word for."""
        name, _, key = option.partition(".")
        first = self._answer_at_first()
        asked = self.expectation.slots[0].name == name and not self.expectation.slots[0].per_row
        return f"{name}.{first}" if asked and first not in (None, key) else None

    def _answer_at_first(self) -> str | None:
        """The option that a plain yes or no at the beginning of the sentence is the word for."""
        slot = self.expectation.slots[0]
        answers = (self.vocabulary.answers.yes, self.vocabulary.answers.no)
        words = [span for span in self.spans if span.kind is SpanKind.WORD]
        alone = self.spans[:1] if len(words) != 1 else words
        said = tuple(one for told in answers if self.says(told, alone) for one in told)
        return option_called(slot, said) if said else None

    def _troubled(self, clause: Clause) -> bool:
        """Whether a row is named in words that seem to be none of the program's business: they may be a report."""
        rows = any(span.kind is SpanKind.ROWS for span in clause.spans)
        return rows and bool(self.expectation.reports) and clause.sure < self.limits.ignored_rows

    def _parted_rest(self, report: Report, clause: Clause) -> tuple[Entry, ...]:
        """Where a row that was down runs again, the others that run with it are good: they never stopped."""
        parts = pieces(clause.spans)
        rest = [part for part in parts if any(span.rest for span in part)]
        others = tuple(span for part in parts if part not in rest for span in part)
        if report is not Report.RUNS or not rest or not self.expectation.down:
            return ()
        good = Clause(tuple(span for part in rest for span in part), {f"report:{Report.GOOD}": clause.sure})
        runs = self._reported(report, Clause(others, clause.shares)) if others else ()
        return (*(runs or ()), *(self._reported(Report.GOOD, good) or ()))

    def _rather(self, report: Report, clause: Clause) -> Report:
        """What is said of all rows but some without a word of trouble is good of them; so are rows that run where none
        was down. A row that was down runs again where product is seen to drop from it."""
        but = any(span.key == "<all-but>" for span in clause.spans)
        trouble = any(span.key in self.loose.trouble for span in clause.spans)
        if report in (Report.STOPPED, Report.HIGH) and but and not trouble:
            return Report.GOOD
        named = {row for span in clause.spans for row in span.named}
        if report is Report.DROPPING and named and named <= set(self.expectation.down):
            return Report.RUNS
        every = any(span.every for span in clause.spans)
        return Report.GOOD if report is Report.RUNS and every and len(self.expectation.down) <= 1 else report

    def _values(self, clause: Clause) -> tuple[Entry, ...] | None:
        told = replace(self.told, spans=tuple(span for span in clause.spans if span.end > span.start))
        found = Values(self.hearing, told, self.classifier.knows).found()
        level = self.level(clause, found.spans)
        if level is None or not found.entries:
            return None
        denied = told.denied and not self._answers_first()
        keep = level and found.plain and not denied and not self.spelled.guessed
        return tuple(self._checked(one, keep) for one in found.entries)

    def _answers_first(self) -> bool:
        """Whether the first piece is a value alone and the others are remarks: "none, we never emptied one"."""
        first, *others = pieces(self.spans)
        alone = [span for span in first if span.kind is not SpanKind.BREAK]
        remarks = not any(is_telling(span) for part in others for span in part)
        loose = self.loose
        wrong = self.told.takes_back or any(map(self.hearing.says, (loose.wrong, loose.repairs)))
        return len(alone) == 1 and alone[0].is_value and remarks and not wrong and not self.is_question

    def _checked(self, entry: Entry, keep: bool) -> Entry:
        if not isinstance(entry, Given) or entry.doubt is not None:
            return entry
        slot = self.expectation.slot(entry.slot)
        if slot is not None and not is_usual(entry.value, slot):
            return entry.model_copy(update={"doubt": DoubtReason.UNUSUAL})
        return entry if keep else doubtful(entry)

    def _reported(self, report: Report, clause: Clause) -> tuple[Entry, ...] | None:
        if parted := self._parted_rest(report, clause):
            return parted
        report = self._rather(report, clause)
        level = self.level(clause)
        told = Clauses(self.hearing, self.classifier.knows)
        made = told.told(report, clause.spans, self.excepted) if level is not None else None
        if made is None:
            return None
        plainly = report in FINE or (report is Report.REFILLED and not any(map(is_telling, clause.spans)))
        turned = self.denied(clause.spans) if plainly else self.denies_trouble(clause.spans)
        turned = turned or self.denies_rows(clause.spans) or self.told.denied
        like = max((clause.shares.get(one, 0.0) for one in ALIKE.get(clause.meaning, ())), default=0.0)
        nameless = report in PEOPLE and made.reports[0].value is None and clause.sure < self.limits.nameless
        keep = level and made.plain and not (nameless or turned) and like < self.limits.alike
        return made.reports if keep else tuple(map(doubtful, made.reports))

    def _asked(self, topic: Topic, clause: Clause) -> tuple[Entry, ...]:
        """A question, with the row or the area that stands in it."""
        every = self.hearing.every_row
        rows = [span.rows[0] for span in clause.spans if len(span.rows) == 1]
        bare = [span.row for span in clause.spans if span.row in every]
        row = rows[0] if len(rows) == 1 else bare[0] if len(bare) == 1 and not rows else None
        if row is not None and every and row not in every:
            return (Unclear(reason=UnclearReason.NO_SUCH_ROW, said=self.hearing.text[:MOST_SAID], row=row),)
        areas = filter(None, (span.measured(Dimension.AREA) for span in clause.spans))
        return (Asked(topic=topic, row=row, amount=next(areas, None) if topic is Topic.HOW_MUCH else None),)

    def _left_out(self, clause: Clause, back: bool) -> tuple[Entry, ...] | None:
        """The rows that a clause names, to be done without or taken in again; None where it names none."""
        rows = {row for span in clause.spans if not span.every for row in span.named}
        if not rows or any(span.rest for span in clause.spans) or not rows <= set(self.hearing.every_row):
            return None
        return (LeavingOut(rows=tuple(sorted(rows)), back=back, said=self.hearing.text[:MOST_SAID]),)
