"""What people say in their own words becomes entries: kept where it is plain, asked about where it is inferred."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from engine.entries.acceptance import Acceptance
from engine.entries.doubt import with_rest
from engine.entries.exception import with_exceptions
from engine.entries.fitting import is_usual
from engine.entries.name import as_before
from engine.entries.naming import named
from engine.entries.phrase import Phrases
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
    Opened,
    Reading,
    Reported,
    Unclear,
    UnclearReason,
    Utterance,
)
from engine.understanding.classifier import load_classifier
from engine.understanding.clauses import Clause, clauses, pieces, says_something
from engine.understanding.danger import sounds_dangerous
from engine.understanding.evidence import Evidence
from engine.understanding.grouping import agreed, grouped
from engine.understanding.inferring import and_others, doubtful
from engine.understanding.meaning import DECLINED, LEFT_OUT, NAME, NO, NUMBERED, OTHER, TAKEN_IN, VALUE, YES
from engine.understanding.merging import merged
from engine.understanding.names import name_in, starts
from engine.understanding.options import option_called, options
from engine.understanding.questions import asked, left_out
from engine.understanding.reports import PEOPLE, Clauses
from engine.understanding.spans import SpanKind, is_amount, is_telling
from engine.understanding.spelling import written_out
from engine.understanding.values import Values

VAGUE = frozenset(
    {UnclearReason.UNKNOWN_WORDS, UnclearReason.NOT_A_CHOICE, UnclearReason.NO_VALUE, UnclearReason.WHICH_ROW}
)
MOST_WORDS = 60
ALIKE = {"report:stopped": ("report:high",), "report:high": ("report:stopped", "report:level")}
EMERGENCY = f"topic:{Topic.EMERGENCY}"
MOVING = frozenset(
    {DECLINED, *(f"command:{one}" for one in (Command.SCRATCH, Command.BACK, Command.CANCEL, Command.DONE))}
)
"""Meanings by which something is lost or left."""
MOST_BEFORE = 3
"""Words at the beginning of a sentence that may make it a question."""
LOT = "lot"
"""The role of a slot whose names are numbers as they are printed."""


def understand(
    utterance: Utterance, expectation: Expectation, vocabulary: Vocabulary, acceptance: Acceptance | None = None
) -> Reading:
    """Everything that an utterance means. What is spoken is read strictly; so is typed text that fits a known pattern,
    and all of it in a language that has not learned meanings yet. Any text gives a reading, never an error. What is
    inferred carries a doubt, so that it is asked before it counts.
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
class Free(Evidence):
    """What one typed sentence means, read without regard to order and unknown words."""

    excepted: tuple[int, ...] = ()

    def entries(self, strict: Sequence[Entry]) -> tuple[Entry, ...] | None:
        """The entries; None where the strict reading stands."""
        if sounds_dangerous(self.hearing) and not self._is_capital_name(strict):
            return self._in_danger(strict)
        return self._otherwise(strict)

    def _in_danger(self, strict: Sequence[Entry]) -> tuple[Entry, ...]:
        """Whom to call, before what else is told; what would have to be asked about waits, and so do names."""
        told = self._otherwise(strict)
        left = [one for one in (strict if told is None else told) if isinstance(one, Given | Reported)]
        kept = [one for one in left if one.doubt is None and not self._is_name(one)]
        return (*kept, Asked(topic=Topic.EMERGENCY))

    def _is_capital_name(self, strict: Sequence[Entry]) -> bool:
        """Whether a few words with capitals answer what asks for a name: a field may be called "Dead Horse"."""
        words = self.text.split()
        return any(map(self._is_name, strict)) and len(words) < MOST_BEFORE + 2 and all(word[0].isupper() for word in words)

    def _is_name(self, entry: Entry) -> bool:
        names = self.expectation.asking is Asking.SLOT and self.expectation.slots[0].kind is SlotKind.TEXT
        return isinstance(entry, Given) and names and entry.slot == self.expectation.slots[0].name

    def _otherwise(self, strict: Sequence[Entry]) -> tuple[Entry, ...] | None:
        if not self.hearing.tokens or len(self.hearing.tokens) > MOST_WORDS:
            return None
        names = self.expectation.asking is Asking.SLOT and self.expectation.slots[0].kind is SlotKind.TEXT
        if names and any(isinstance(one, Given) for one in strict):
            return self._instead_of_name(strict)
        if (chosen := self._yes_or_no(strict)) is not None:
            return (chosen,)
        if any(map(self._is_no_person, strict)) or self._means_all(strict):
            return self._found()
        if not any(isinstance(one, Unclear) for one in strict):
            return self._turned_round(strict)
        found = self._found()
        firm = any(isinstance(one, Unclear) and one.reason not in VAGUE for one in strict)
        partly = firm or not all(isinstance(one, Unclear) for one in strict)
        told = all(isinstance(one, Given | Reported) for one in found or ())
        return None if partly and not (found and told) else found

    def _means_all(self, strict: Sequence[Entry]) -> bool:
        """Whether what was taken for the last row is all of them: "las ocho"."""
        last = self.hearing.every_row[-1:]
        told = any(isinstance(one, Reported) and one.rows == last for one in strict)
        return told and any(span.every for span in self.spans)

    def _is_no_person(self, entry: Entry) -> bool:
        """Whether what a pattern took for somebody's name is an ordinary word: "sigue tapado"."""
        name = entry.value if isinstance(entry, Reported) and entry.report in PEOPLE else None
        return isinstance(name, str) and name == name.lower() and all(map(self.classifier.knows, name.split()))

    def _turned_round(self, strict: Sequence[Entry]) -> tuple[Entry, ...] | None:
        """What a known pattern tells is asked about all the same where it is denied, supposed or itself a question."""
        told = [one for one in strict if isinstance(one, Given | Reported)]
        if told and (wanted := self._only_asked(strict)):
            return wanted
        refused = any(isinstance(one, Answered) and not one.yes for one in strict)
        turned = refused and any(isinstance(one, Reported) and one.report in _FINE for one in strict)
        if not told or not (turned or self.is_question or self.unreal(self.spans) or self.told.denied):
            return None
        return tuple(map(doubtful, strict))

    def _only_asked(self, strict: Sequence[Entry]) -> tuple[Entry, ...]:
        """The question of a sentence that only asks about a number: "why 208"."""
        whole = Clause(self.spans, self.weigh(self.spans))
        single = len(pieces(self.spans)) == 1
        asks = whole.meaning.startswith("topic:") and whole.sure >= self.limits.acted and single
        return tuple(one for one in strict if isinstance(one, Asked)) if asks else ()

    def _yes_or_no(self, strict: Sequence[Entry]) -> Given | None:
        """A plain yes or no to a question whose closed answers are these."""
        if self.expectation.asking is not Asking.SLOT or len(strict) != 1 or not isinstance(strict[0], Answered):
            return None
        slot = self.expectation.slots[0]
        answers = self.vocabulary.answers
        meant = option_called(slot, answers.yes if strict[0].yes else answers.no)
        if meant is None or (slot.per_row and slot.next_row is None):
            return None
        return Given(slot=slot.name, row=slot.next_row, value=meant, said=self.text.strip()[:60])

    # ---- meanings

    def _instead_of_name(self, strict: Sequence[Entry]) -> tuple[Entry, ...] | None:
        """Something else than a name where the words are that; what is half sure to be one is asked."""
        if along := self._name_and_more():
            return along
        slot = self.expectation.slots[0]
        whole = Clause(self.spans, self.weigh(self.spans))
        name = name_in(self.hearing, slot, slot.role == LOT, self.classifier.knows)
        led = name is not None and starts(self.hearing)
        if whole.meaning != NAME and whole.sure >= self.limits.acted and not (whole.meaning == OTHER and led):
            return self._meant(whole)
        change = {} if name is None else {"value": name, "said": name, "doubt": None}
        told = tuple(one.model_copy(update=change) if isinstance(one, Given) else one for one in strict)
        sure = whole.meaning == NAME and whole.sure >= self.limits.name_kept and not self._is_odd(name)
        sure = sure and not (name is None and slot.role == LOT) and not self.unreal(self.spans)
        return tuple(one if sure or not isinstance(one, Given) else doubtful(one) for one in told)

    def _is_odd(self, name: str | None) -> bool:
        """Whether a name may be none: it is asked for in the same words, or stands in small letters in a long sentence."""
        words = [span.key for span in self.spans if span.kind is SpanKind.WORD]
        asks = any(word in self.vocabulary.loose.asking for word in words[:MOST_BEFORE])
        small = name is not None and name == name.lower() and not any(map(str.isdigit, name))
        slot = self.expectation.slots[0]
        counted = name is not None and name.isdigit() and slot.role != LOT
        return asks or counted or (small and len(words) > MOST_BEFORE + 1)

    def _name_and_more(self) -> tuple[Entry, ...]:
        """A name with the answer to what is asked next behind a comma: "River Bottom, 62 acres"."""
        head, _, tail = self.text.partition(",")
        slot, following = self.expectation.slots[0], self.expectation.ahead[:1]
        if not following or following[0].kind not in NUMBERED or not any(map(str.isdigit, tail)):
            return ()
        after = self.expectation.model_copy(update={"slots": following, "ahead": self.expectation.ahead[1:]})
        more = Free(tail.strip(), after, self.vocabulary, self.classifier)
        found = Values(more.hearing, more.told, self.classifier.knows).found()
        led = any(span.kind is SpanKind.AMOUNT for span in more.spans) or slot.role == LOT
        alone = len(found.entries) == 1 and isinstance(found.entries[0], Given)
        first = Free(head, self.expectation, self.vocabulary, self.classifier)
        name = name_in(first.hearing, slot, slot.role == LOT, self.classifier.knows)
        if name is None or not (found.plain and led and alone and found.entries[0].slot == following[0].name):
            return ()
        return (Given(slot=slot.name, value=name, said=head), *found.entries)

    def _found(self) -> tuple[Entry, ...] | None:
        """What all clauses mean; where a part has no meaning, what the others mean, asked about."""
        if (command := self._plain_command()) is not None:
            return (Commanded(command=command),)
        found: list[Entry] = []
        whole = True
        excepted: tuple[int, ...] = ()
        cut = [part for one in clauses(self.told.spans, self.weigh) for part in self._split(one)]
        for group in grouped(agreed([self._surer(one) for one in cut])):
            self.excepted = excepted
            entries = self._meant_by(group)
            excepted = self._taken_out(group)
            entries = () if entries and _elaborates(entries, found, group) else entries
            entries = None if entries and found and self._is_no_question(entries, group) else entries
            if entries == () and self.excepted and self._denies(group):
                entries = (Reported(report=Report.STOPPED, rows=self.excepted, said=self.text[:60], doubt=DoubtReason.INFERRED),)
            whole = whole and (entries is not None or all(map(self._is_remark, group)))
            found = and_others(found, entries or (), group)
        if any(isinstance(one, Given | Reported) for one in found):
            found = [one for one in found if not (isinstance(one, Answered) and one.yes)]
        if not found:
            return () if whole else None
        if not whole:
            found = [one for one in found if isinstance(one, Given | Reported | Asked)]
        if not whole or any(isinstance(one, Given | Reported) and one.doubt is DoubtReason.INFERRED for one in found):
            found = [doubtful(one) for one in found]
        return with_rest(with_exceptions(merged(found))) or None

    def _plain_command(self) -> Command | None:
        """A plain word for going on, or for taking back, as one whole piece of a sentence that tells no amount."""
        parts = [[span for span in part if span.kind is SpanKind.WORD] for part in pieces(self.spans)]
        told = any(is_amount(span) and span.row is None for span in self.spans)

        def says(phrases: Phrases) -> bool:
            found = ((part, match) for part in parts if part for match in self.hearing.find(phrases, part[0].start))
            return any(match.end == part[-1].end for part, match in found)

        if told or self.is_question:
            return None
        if says(self.vocabulary.commands[Command.SCRATCH]) and len(parts) > 1:
            return Command.SCRATCH
        asks = self.expectation.asking is Asking.SLOT and not any(map(is_telling, self.spans))
        return Command.SKIP if asks and says(self.vocabulary.loose.passes) else None

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
        if clause.shares.get(EMERGENCY, 0.0) >= (self.limits.emergency if meaning == OTHER else self.limits.acted):
            return (Asked(topic=Topic.EMERGENCY),)
        if meaning == OTHER:
            return self._aside(clause)
        if kind == "topic":
            return asked(self.hearing, Topic(what), clause) if sure >= self.limits.answered else None
        if kind == "report":
            return self._reported(Report(what), clause)
        if meaning == VALUE:
            return self._values(clause)
        doubts = len(clause.spans) == 1 and self.says(self.vocabulary.loose.doubts, clause.spans)
        if kind == "option" and (doubts or sure < self.limits.acted):
            return None
        if kind == "option":
            level = self.level(clause)
            plain_no = {fold(one.say) for one in self.vocabulary.answers.no}
            denied = self.denied([span for span in clause.spans if span.key not in plain_no])
            sure_enough = sure >= (self.limits.chosen_denied if denied else self.limits.chosen)
            sure_enough = sure_enough or self._begins_with_answer(what)
            return options(self.hearing, clause, level and sure_enough, self.excepted)
        if sure < (self.limits.moved if meaning in MOVING else self.limits.acted):
            return None
        if kind == "command":
            return (Commanded(command=Command(what)),)
        if kind == "open":
            if self.unreal(clause.spans):
                return None
            return (Opened(dialog=what),)
        match meaning:
            case m if m == DECLINED:
                return (Commanded(command=Command.SKIP),)
            case m if m in (YES, NO):
                denied = meaning == YES and self.denied(clause.spans)
                return (Answered(yes=meaning == YES),) if not (self.is_question or denied) else None
            case m if m in (LEFT_OUT, TAKEN_IN):
                return left_out(self.hearing, clause, meaning == TAKEN_IN)
            case m if m == NAME:
                return named(self.hearing, self.expectation.slots[0], ())
            case _:
                return None

    def _aside(self, clause: Clause) -> tuple[Entry, ...] | None:
        """Nothing for talk; but what one piece of it plainly tells is not passed over."""
        for part in pieces(clause.spans):
            inside = Clause(tuple(part), self.weigh(part))
            tells = inside.meaning == VALUE or inside.meaning.startswith("report:")
            if tells and inside.sure >= self.limits.piece and any(is_telling(span) for span in part):
                found = self._meant(inside) or ()
                told = tuple(one for one in found if isinstance(one, Given | Reported))
                alone = sum(is_amount(span) for span in clause.spans) <= 1
                sure = inside.sure >= self.limits.piece_kept and alone and not self.turned(clause.spans)
                if told:
                    return told if sure else tuple(map(doubtful, told))
        words = [span.key for span in clause.spans if span.kind is SpanKind.WORD]
        strange = (len(words) <= 1 and bool(self.expectation.reports)) or sum(
            not self.classifier.knows(word) for word in words
        ) * 2 > len(words)
        return () if clause.sure >= self.limits.ignored and not strange and not self._troubled(clause) else None

    def _denies(self, group: Sequence[Clause]) -> bool:
        """Whether something is denied of rows that were taken out: "all good but 6, that one won't drop"."""
        reports = Report.STOPPED in self.expectation.reports
        return reports and any(self.denied(clause.spans) for clause in group)

    def _is_no_question(self, entries: Sequence[Entry], group: Sequence[Clause]) -> bool:
        """Whether what was taken for a question, beside something that is told, names a trouble: it may be told too."""
        words = {span.key for clause in group for span in clause.spans}
        asks = self.is_question or bool(words & set(self.vocabulary.loose.asking))
        return all(isinstance(one, Asked) for one in entries) and not asks and bool(words & set(self.vocabulary.loose.trouble))

    def _is_remark(self, clause: Clause) -> bool:
        """Whether a clause without a clear meaning tells no amount and no rows, denies nothing and is most likely
        talk, so that what is said beside it stands."""
        tells = any(is_telling(span) or span.kind is SpanKind.MOMENT for span in clause.spans)
        other = max((share for meaning, share in clause.shares.items() if meaning.startswith("report:")), default=0.0)
        talk = clause.shares.get(OTHER, 0.0) >= self.limits.remark > other
        return not tells and talk and not self.turned(clause.spans)

    def _begins_with_answer(self, option: str) -> bool:
        """Whether the sentence begins with a plain yes or no that is the word for this option."""
        slot = self.expectation.slots[0]
        answers = (self.vocabulary.answers.yes, self.vocabulary.answers.no)
        words = [span for span in self.spans if span.kind is SpanKind.WORD]
        alone = self.spans[:1] if len(words) != 1 else words
        said = tuple(one for told in answers if self.says(told, alone) for one in told)
        return option_called(slot, said) == option.partition(".")[2]

    # ---- values and reports

    def _rather(self, report: Report, clause: Clause) -> Report:
        """What is said of all rows but some without a word of trouble is good of them; rows that run where none was down
        are good."""
        but = any(span.key == "<all-but>" for span in clause.spans)
        trouble = any(span.key in self.vocabulary.loose.trouble for span in clause.spans)
        if report in (Report.STOPPED, Report.HIGH) and but and not trouble:
            return Report.GOOD
        every = any(span.every for span in clause.spans)
        return Report.GOOD if report is Report.RUNS and every and len(self.expectation.down) <= 1 else report

    def _troubled(self, clause: Clause) -> bool:
        """Whether a row is named in words that seem to be none of the program's business: they may be a report."""
        rows = any(span.kind is SpanKind.ROWS for span in clause.spans)
        return rows and bool(self.expectation.reports) and clause.sure < self.limits.ignored_rows

    def _values(self, clause: Clause) -> tuple[Entry, ...] | None:
        told = replace(self.told, spans=tuple(span for span in clause.spans if span.end > span.start))
        found = Values(self.hearing, told, self.classifier.knows).found()
        level = self.level(clause, found.spans)
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
        return entry if keep else doubtful(entry)

    def _reported(self, report: Report, clause: Clause) -> tuple[Entry, ...] | None:
        report = self._rather(report, clause)
        level = self.level(clause)
        made = (
            Clauses(self.hearing, self.classifier.knows).told(report, clause.spans, self.excepted)
            if level is not None
            else None
        )
        if made is None:
            return None
        turned = self.denied(clause.spans) if report in _FINE else self.denies_trouble(clause.spans)
        like = max((clause.shares.get(one, 0.0) for one in ALIKE.get(clause.meaning, ())), default=0.0)
        turned = turned or self.denies_rows(clause.spans)
        nameless = report in PEOPLE and made.reports[0].value is None and clause.sure < self.limits.nameless
        keep = level and not nameless and made.plain and not turned and not self.told.denied and like < self.limits.alike
        return made.reports if keep else tuple(doubtful(one) for one in made.reports)


def _elaborates(entries: Sequence[Entry], found: Sequence[Entry], group: Sequence[Clause]) -> bool:
    """Whether a clause without rows says once more what is so of the rows before: "five's wet, rain got in"."""
    if any(span.kind is SpanKind.ROWS or span.row is not None for clause in group for span in clause.spans):
        return False
    before = {(one.slot, str(one.value)) for one in found if isinstance(one, Given) and one.row is not None}
    return all(isinstance(one, Given) and one.row is not None and (one.slot, str(one.value)) in before for one in entries)


def _told(clause: Clause) -> str:
    """What a clause tells: of an option only its slot, unless it is said of rows."""
    rows = any(span.kind is SpanKind.ROWS or span.row is not None for span in clause.spans)
    return clause.meaning if rows else clause.meaning.partition(".")[0]


_FINE = frozenset({Report.GOOD, Report.RUNS, Report.DROPPING, Report.WENT_ON})
"""Reports that a word of denial would turn round."""
