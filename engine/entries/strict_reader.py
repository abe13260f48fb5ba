"""What was said becomes entries, given what is expected."""

from __future__ import annotations

from engine.entries.acceptance import Acceptance, load_acceptance
from engine.entries.confidence import ConfidenceCheck
from engine.entries.matching.match_context import MatchContext
from engine.entries.matching.name import as_before, as_told, named_alone
from engine.entries.matching.naming import named
from engine.entries.matching.report_parser import MOST_NAME
from engine.entries.misplaced import placed
from engine.entries.phrases.tokens import MOST_CHARACTERS, MOST_TOKENS
from engine.entries.phrases.vocabulary import Vocabulary
from engine.entries.segmentation import Segmentation, settle, with_exceptions
from engine.entries.sentence import Sentence
from engine.expectation import Asking, Expectation, ExpectedSlot, SlotKind
from engine.messages import (
    Answered,
    Command,
    Commanded,
    Entry,
    Given,
    Reading,
    Report,
    Reported,
    Unclear,
    UnclearReason,
    Utterance,
)

MOST_SAID = 60


def read(
    utterance: Utterance,
    expectation: Expectation,
    vocabulary: Vocabulary,
    acceptance: Acceptance | None = None,
    hearing: MatchContext | None = None,
) -> Reading:
    """Everything that an utterance means, in the order it was said. Any text gives a reading, never an error.
    ``hearing`` is the same text under the same expectation, where it was matched before.

    An impossible value gives an ``Unclear`` entry beside the others; unknown words make the whole utterance unclear.
    """
    text = utterance.text
    entries = read_text(text, expectation, vocabulary, hearing)
    if not utterance.spoken and expectation.naming is not None and _means_nothing(entries):
        entries = _named(MatchContext(text, expectation, vocabulary), expectation.naming) or entries
    elif expectation.naming is not None and _means_nothing(entries):
        name = named_alone(text, expectation.naming, expectation, vocabulary)
        entries = entries if name is None else (name,)
    if utterance.spoken:
        entries = placed(text, entries, expectation, lambda said, now: read_text(said, now, vocabulary))
        entries = tuple(as_told(entry, expectation, vocabulary) for entry in entries)
    entries = tuple(as_before(entry, expectation) for entry in entries)

    def reread(other: str) -> tuple[Entry, ...]:
        return read_text(other, expectation, vocabulary)

    doubts = ConfidenceCheck(utterance, expectation, vocabulary, acceptance or load_acceptance(), reread)
    return Reading(entries=doubts.about(entries), spoken=utterance.spoken)


def _means_nothing(entries: tuple[Entry, ...]) -> bool:
    return all(isinstance(entry, Unclear) and entry.reason is UnclearReason.UNKNOWN_WORDS for entry in entries)


def _named(hearing: MatchContext, report: Report) -> tuple[Entry, ...]:
    """A name that was typed alone, after what it belongs to was told; nothing where it cannot be one."""
    words = hearing.text.split()
    is_name = 0 < len(words) <= MOST_NAME and all(any(mark.isalpha() for mark in word) for word in words)
    counts = any(hearing.matcher.rule("number", place) for place in range(len(hearing.tokens)))
    clean = " ".join(words)
    if not is_name or len(clean) > MOST_SAID or not clean.isprintable():
        return ()
    if counts and report is Report.HANDED_OVER:
        return ()
    return (Reported(report=report, value=clean, said=clean),)


def read_text(
    text: str, expectation: Expectation, vocabulary: Vocabulary, hearing: MatchContext | None = None
) -> tuple[Entry, ...]:
    """The entries in a text, without any doubt about whether it was heard well."""
    if len(text) > MOST_CHARACTERS:
        return (_unclear(UnclearReason.UNKNOWN_WORDS, text),)
    hearing = hearing or MatchContext(text, expectation, vocabulary)
    if all(token.is_break for token in hearing.tokens):
        heard = any(mark.isalnum() for mark in text)
        return (_unclear(UnclearReason.UNKNOWN_WORDS if heard else UnclearReason.NOTHING_HEARD, text),)
    asked = expectation.asked if expectation.asking is Asking.SLOT else None
    if (option := _option(text, asked)) is not None:
        return (option,)
    if _plain(text) in map(str.casefold, expectation.declined):
        return (Commanded(command=Command.SKIP),)
    entries = _entries(hearing)
    if asked is not None and asked.kind is SlotKind.TEXT:
        return named(hearing, asked, entries)
    return entries


def _option(text: str, asked: ExpectedSlot | None) -> Given | None:
    """The option that a whole utterance names: in the answer to a choice it goes before a command of the same words."""
    clean = _plain(text)
    of_rows = asked is not None and asked.per_row and (not asked.next_row or asked.next_rows)
    if asked is None or asked.kind is not SlotKind.CHOICE or of_rows:
        return None
    named = [option.key for option in asked.options if clean in {word.casefold() for word in option.words}]
    return Given(slot=asked.name, row=asked.next_row, value=named[0], said=clean) if len(named) == 1 else None


def _plain(text: str) -> str:
    return " ".join(text.casefold().strip(" .,!?¡¿").split())


def _entries(hearing: MatchContext) -> tuple[Entry, ...]:
    """The entries of the words; an answer that only repeats the one before it counts once: "yes, that's right"."""
    length = len(hearing.tokens)
    if length > MOST_TOKENS:
        return (_unclear(UnclearReason.UNKNOWN_WORDS, hearing.text),)
    cover = Segmentation(Sentence(hearing), length)
    if not cover.is_whole:
        return (_not_understood(hearing, cover.reached),)
    entries = [entry for readings in cover.segments() for entry in settle(readings)]
    pairs = zip((None, *entries), entries, strict=False)
    once = tuple(entry for before, entry in pairs if not (isinstance(entry, Answered) and entry == before))
    settled = () if _takes_back(once, cover.asking) else with_exceptions(once)
    return settled or (_unclear(UnclearReason.UNKNOWN_WORDS, hearing.text),)


def _takes_back(entries: tuple[Entry, ...], asking: Asking) -> bool:
    """Whether a no stands among values that are asked for, as in "six, no, eight": which of them holds is not sure."""
    denied = any(isinstance(entry, Answered) and not entry.yes for entry in entries)
    return asking is Asking.SLOT and denied and any(isinstance(entry, Given) for entry in entries)


def _not_understood(hearing: MatchContext, reached: int) -> Unclear:
    """Say why no reading covers the words: no such choice, or words that mean nothing here."""
    asked = hearing.expectation.asked
    if asked is not None and asked.kind is SlotKind.CHOICE:
        return _unclear(UnclearReason.NOT_A_CHOICE, hearing.text, asked.name)
    if asked is not None and asked.kind is SlotKind.SETTING and asked.dial is not None and asked.dial.marks:
        return _unclear(UnclearReason.NO_SUCH_SETTING, hearing.text, asked.name)
    if asked is not None and asked.kind is SlotKind.DIAL:
        return _unclear(UnclearReason.NO_VALUE, hearing.text, asked.name)
    return _unclear(UnclearReason.UNKNOWN_WORDS, hearing.said(reached, len(hearing.tokens)))


def _unclear(reason: UnclearReason, said: str, slot: str | None = None) -> Unclear:
    clean = " ".join(said.split())
    return Unclear(reason=reason, said=clean if len(clean) <= MOST_SAID else clean[: MOST_SAID - 1] + "…", slot=slot)
