"""What people say in their own words becomes entries: kept where it is plain, asked about where it is inferred."""

from __future__ import annotations

from collections.abc import Sequence

from engine.clock import ClockTime
from engine.entries.acceptance import Acceptance
from engine.entries.matching.name import as_before
from engine.entries.phrases.tokens import MOST_CHARACTERS
from engine.entries.phrases.vocabulary import Vocabulary
from engine.entries.strict_reader import read
from engine.expectation import Asking, Expectation, SlotKind
from engine.intents import Report, Topic
from engine.messages import (
    Answered,
    Asked,
    Correcting,
    Entry,
    Given,
    Reading,
    Reported,
    Unclear,
    UnclearReason,
    Utterance,
)
from engine.understanding.amendment import Amendment
from engine.understanding.clause_reader import FINE
from engine.understanding.danger import sounds_dangerous
from engine.understanding.description_reader import MOST_BEFORE
from engine.understanding.extraction.options import option_called, undone_named
from engine.understanding.extraction.reports import PEOPLE
from engine.understanding.name_reader import NameReader
from engine.understanding.remainder import Remainder
from engine.understanding.revision import Revision
from engine.understanding.scanning.counting import counted_out
from engine.understanding.scanning.spelling import written_out
from engine.understanding.series import Series
from engine.understanding.typed_text import as_typed, one_slip_away, plain_utterance, without_dots
from engine.understanding.weighing.classifier import load_classifier
from engine.understanding.weighing.clauses import Clause, pieces
from engine.understanding.weighing.evidence import doubtful

VAGUE = frozenset(
    {UnclearReason.UNKNOWN_WORDS, UnclearReason.NOT_A_CHOICE, UnclearReason.NO_VALUE, UnclearReason.WHICH_ROW}
)
MOST_WORDS = 60


def understand(
    utterance: Utterance, expectation: Expectation, vocabulary: Vocabulary, acceptance: Acceptance | None = None
) -> Reading:
    """Everything that an utterance means. What is spoken is read strictly; so is typed text that fits a known pattern,
    and all of it in a language that has not learned meanings yet. Any text gives a reading, never an error. What is
    inferred carries a doubt, so that it is asked before it counts.
    """
    utterance = plain_utterance(utterance)
    typed = utterance.text
    if not utterance.spoken:
        utterance = utterance.model_copy(update={"text": without_dots(typed, vocabulary)})
    reading, free = _alone(utterance, expectation, vocabulary, acceptance)
    if free is None:
        return reading
    entries = _together(utterance, free, reading, acceptance)
    entries = tuple(as_typed(one, typed, free.spelled, expectation, vocabulary) for one in entries)
    entries = tuple(one_slip_away(one, expectation) for one in entries)
    series = _series(utterance, free, acceptance)
    remainder = Remainder(free, series.partition, series.read)
    return reading.model_copy(update={"entries": remainder.doubted(entries), "left": remainder.left(entries)})


def _series(utterance: Utterance, free: FreeReader, acceptance: Acceptance | None) -> Series:
    """A sentence as answers one after the other."""
    expectation, vocabulary = free.expectation, free.vocabulary

    def part(text: str, now: Expectation) -> tuple[Entry, ...]:
        return _alone(utterance.model_copy(update={"text": text}), now, vocabulary, acceptance)[0].entries

    def amends(text: str) -> Given | None:
        alone = free.again(text)
        renamed = alone.renamed_before()
        names = {slot.name for slot in expectation.known if not slot.any_words}
        return Amendment(alone, part).given(()) or (renamed if renamed and renamed.slot in names else None)

    return Series(free, part, Revision(free, amends))


def _together(
    utterance: Utterance, free: FreeReader, reading: Reading, acceptance: Acceptance | None
) -> tuple[Entry, ...]:
    """What is told piece by piece, or put right, else what was read of the whole."""
    expectation, vocabulary = free.expectation, free.vocabulary
    alarmed = any(isinstance(one, Asked) and one.topic is Topic.EMERGENCY for one in reading.entries)
    if alarmed and sounds_dangerous(free.hearing):
        return reading.entries
    series = _series(utterance, free, acceptance)
    found: Sequence[Entry] = series.answers(reading.entries)
    if alarmed:
        return tuple(found) or reading.entries
    if not found and (amended := Amendment(free, series.read).given(reading.entries)) is not None:
        found = (amended,)
    if not found and (text := free.meant_after_all()):
        meant = utterance.model_copy(update={"text": text})
        alone = _alone(meant, expectation, vocabulary)[0]
        found = _after_all(reading.entries, _together(meant, free.again(text), alone, acceptance), expectation)
    if not found and series.leaves_out(reading.entries):
        return tuple(map(doubtful, reading.entries))
    return tuple(as_before(one, expectation) for one in found) or reading.entries


def _after_all(before: Sequence[Entry], after: Sequence[Entry], expectation: Expectation) -> Sequence[Entry]:
    """What is said instead of a name that was taken back in the same breath; where that is no plain name, what was
    read of the whole, asked about."""
    name = expectation.slots[0].name
    given = [one for one in after if isinstance(one, Given) and one.doubt is None]
    plain = len(given) == len(after) and any(one.slot == name for one in given)
    return after if plain else [doubtful(one) if isinstance(one, Given) and one.slot == name else one for one in before]


def _alone(
    utterance: Utterance, expectation: Expectation, vocabulary: Vocabulary, acceptance: Acceptance | None = None
) -> tuple[Reading, FreeReader | None]:
    """What an utterance means as a whole, and what is seen in it where it is not read strictly alone."""
    typed = utterance.text
    if not utterance.spoken and not expectation.asks_name:
        text = counted_out(written_out(utterance.text, vocabulary), expectation, vocabulary)
        utterance = utterance.model_copy(update={"text": text})
    classifier = load_classifier(vocabulary.language)
    if utterance.spoken or len(utterance.text) > MOST_CHARACTERS or not classifier.meanings:
        return read(utterance, expectation, vocabulary, acceptance), None
    free = FreeReader(utterance.text, expectation, vocabulary, classifier)
    same = free.hearing if free.hearing.text == utterance.text else None
    strict = read(utterance, expectation, vocabulary, acceptance, same)
    entries = free.entries(strict.entries)
    if entries is None:
        return strict, free
    if typed != utterance.text and entries == (free.told_by_name(),):
        told = free.again(typed).told_by_name()
        entries = entries if told is None else (told,)
    return Reading(entries=tuple(as_before(one, expectation) for one in entries)), free


class FreeReader(NameReader):
    """What one typed sentence means, beside what known patterns make of it."""

    def entries(self, strict: Sequence[Entry]) -> tuple[Entry, ...] | None:
        """The entries; None where the strict reading stands."""
        if sounds_dangerous(self.hearing) and not self._is_capital_name(strict):
            return self._in_danger()
        return self._otherwise(strict)

    def _in_danger(self) -> tuple[Entry, ...]:
        """Whom to call, and what else is told in other pieces; a name waits until it is asked for again."""
        parts = [self.hearing.said(part[0].start, part[-1].end) for part in pieces(self.spans)]
        heard = [self.again(part) for part in parts]
        calm = [one for one in heard if not sounds_dangerous(one.hearing)]
        beside = self.again(" ".join(one.text for one in calm)).found() if calm else None
        told = [one for one in beside or () if isinstance(one, Given | Reported) and not self._is_name(one)]
        lost = any(span.may_be_row for one in heard if sounds_dangerous(one.hearing) for span in one.spans)
        rest = any(span.rest for one in calm for span in one.spans)
        return (Asked(topic=Topic.EMERGENCY), *(map(doubtful, told) if lost and rest else told))

    def _is_capital_name(self, strict: Sequence[Entry]) -> bool:
        """Whether a few words with capitals answer what asks for a name: a field may be called "Dead Horse"."""
        words = self.text.split()
        capitals = len(words) < MOST_BEFORE + 2 and all(word[0].isupper() for word in words)
        return capitals and any(map(self._is_name, strict))

    def _is_name(self, entry: Entry) -> bool:
        return isinstance(entry, Given) and self.expectation.asks_name and entry.slot == self.expectation.slots[0].name

    def _otherwise(self, strict: Sequence[Entry]) -> tuple[Entry, ...] | None:
        if not self.hearing.tokens or len(self.hearing.tokens) > MOST_WORDS:
            return None
        if self.expectation.asks_name and self.expectation.slots[0].any_words:
            return self.as_typed(strict)
        if self.expectation.asks_name and any(isinstance(one, Given) for one in strict):
            return self.instead_of_name(strict)
        if (chosen := self._yes_or_no(strict)) is not None:
            return (chosen,)
        if (put_right := self.told_by_name() or self.called_wrong()) is not None:
            return (put_right,)
        if (again := self.report_again()) is not None:
            return again
        if (renamed := self.renamed() or self.renumbered() or self.renamed_before()) is not None:
            return (renamed,)
        if any(map(self._is_no_person, strict)) or self._means_all(strict) or any(map(self._may_be_row, strict)):
            return self.found()
        if self.expectation.reports and any(isinstance(one, Correcting) for one in strict[1:]):
            return self.found()
        if (denied := self._denied_choice(strict)) is not None:
            return denied
        if not any(isinstance(one, Unclear) for one in strict):
            return self._turned_round(strict)
        if not self.is_question and (undone := undone_named(self.hearing)) is not None:
            return (undone,)
        found = self.found()
        firm = any(isinstance(one, Unclear) and one.reason not in VAGUE for one in strict)
        partly = firm or not all(isinstance(one, Unclear) for one in strict)
        told = all(isinstance(one, Given | Reported) for one in found or ())
        return None if partly and not (found and told) else found

    def _means_all(self, strict: Sequence[Entry]) -> bool:
        """Whether what was taken for the last row is all of them: "las ocho"."""
        last = self.hearing.every_row[-1:]
        told = any(isinstance(one, Reported) and one.rows == last for one in strict)
        return told and any(span.every for span in self.spans)

    def _may_be_row(self, entry: Entry) -> bool:
        """Whether what was taken for an hour may be the row that a report lacks: "a la 2 le puse 18 libras"."""
        if not isinstance(entry, Reported) or entry.rows or entry.report not in (Report.REFILLED, Report.LEFT):
            return False
        when = entry.when
        return isinstance(when, ClockTime) and when.twice and when.minute == 0 and when.hour in self.hearing.every_row

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
        turned = refused and any(isinstance(one, Reported) and one.report in FINE for one in strict)
        if not told or not (turned or self.is_question or self.unreal(self.spans) or self.told.denied):
            return None
        return tuple(map(doubtful, strict))

    def _denied_choice(self, strict: Sequence[Entry]) -> tuple[Entry, ...] | None:
        """A closed answer behind a no without a mark, "no es restringido", which may be denied as well as put right:
        what it most likely is, kept where that is sure."""
        given = strict[0] if len(strict) == 1 else None
        slot = self.expectation.asked
        if not isinstance(given, Given) or slot is None or given.slot != slot.name or slot.kind is not SlotKind.CHOICE:
            return None
        tokens = self.hearing.tokens
        if len(tokens) < MOST_BEFORE or tokens[0].key not in self.loose.not_words or tokens[1].is_break:
            return None
        if not given.correcting:
            return None
        shares = self.weigh(self.spans)
        meant = max(shares, key=lambda one: shares[one])
        option = meant.removeprefix(f"option:{slot.name}.")
        told = given.model_copy(update={"value": option if option != meant else given.value, "correcting": False})
        sure = option != meant and shares[meant] >= self.limits.chosen and not self.is_question
        return (told if sure else doubtful(told),)

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
        return Given(slot=slot.name, row=slot.next_row, value=meant, said=self.said)
