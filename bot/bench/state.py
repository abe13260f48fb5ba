"""What is expected while the clips of a set are heard, and what their words mean then.

A set of bare digits is heard as an answer digit by digit; bare numbers as a plain number, with the unit or the lead
word that the set uses; anything else as what the engine understands while it waits for catches or for a yes or no.
Any set may be heard as what is told during a shift instead.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from bot.bench.numbers import plain_numbers
from bot.bench.recording import Recording
from bot.hear import expectation as catches
from bot.settings import load_settings
from bot.wiring import assistant
from engine.database import open_database
from engine.dialog.expectation_builder import USUAL_UNITS
from engine.dialog.schema.slot_roles import Phase
from engine.entries.acceptance import Acceptance
from engine.entries.confusions import exchanged, sound_alikes
from engine.entries.grammar import grammar
from engine.entries.matching.numerals import readings
from engine.entries.phrases.vocabulary import Vocabulary
from engine.entries.strict_reader import read, read_text
from engine.expectation import Asking, Expectation
from engine.library import load_library
from engine.messages import Decision, Report, Reported, System, Unclear, Utterance
from speech.decoding import grammar as grammars

ROWS = 16
_ROWS = frozenset({Report.GOOD, Report.HIGH, Report.STOPPED, Report.RUNS})
FEW = 40
"""A set with more different sentences than this, besides numbers, has no list of them in its grammar."""


@dataclass(frozen=True)
class State:
    """The expectation of a set, with the words that stand around its bare numbers."""

    expectation: Expectation
    vocabulary: Vocabulary
    acceptance: Acceptance
    number: str = ""
    leads: frozenset[str] = frozenset()
    tails: frozenset[str] = frozenset()
    phrases: tuple[str, ...] = ()

    @cached_property
    def grammar(self) -> str:
        """The JSGF text that the recognisers get."""
        if self.number and not self.phrases:
            return f"#JSGF V1.0; grammar number; {_plain(self.number, self.leads, self.tails)}"
        parts = [grammar(self.expectation, self.vocabulary)]
        if self.number:
            parts.append(_plain(self.number, self.leads, self.tails))
        unknown = [phrase for phrase in self.phrases if self._understood(phrase) is None]
        if unknown:
            parts.append(f"public <others> = {' | '.join(f'({phrase})' for phrase in unknown)};")
        return "\n".join(parts)

    def meaning(self, text: str) -> object | None:
        """What a text means, to be compared; None where it means nothing here."""
        plain = self._plain(text) if self.number else None
        if plain is not None:
            return plain
        return text if text in self.phrases else self._understood(text)

    def kinds(self, text: str) -> frozenset[type]:
        """The kinds of entries in a text; none for a plain number, or words that only the set knows."""
        if (self.number and self._plain(text) is not None) or self._understood(text) is None:
            return frozenset()
        return frozenset(type(entry) for entry in read_text(text, self.expectation, self.vocabulary))

    def proof(self, text: str) -> frozenset[tuple[Report, tuple[int, ...]]]:
        """What a text says of which rows where some of them feed; empty where it proves none to feed."""
        entries = read_text(text, self.expectation, self.vocabulary)
        told = frozenset((one.report, one.rows) for one in entries if isinstance(one, Reported) and one.report in _ROWS)
        return told if any(report is Report.GOOD for report, _ in told) else frozenset()

    def decision(self, utterance: Utterance) -> Decision:
        """Whether what was heard is kept, asked or not understood."""
        if self.number and self._plain(utterance.text) is not None:
            alike = any(word in sound_alikes(self.vocabulary) for word in utterance.text.split())
            decided = self.acceptance.decide(utterance.confidence, alike)
            return Decision.ASK if decided is Decision.KEEP and self._mistakable(utterance) else decided
        if utterance.text in self.phrases and self._understood(utterance.text) is None:
            return Decision.KEEP if utterance.confidence >= self.acceptance.command_kept else Decision.UNCLEAR
        return read(utterance, self.expectation, self.vocabulary, self.acceptance).decision

    def _mistakable(self, utterance: Utterance) -> bool:
        """Whether a number may be another one in the mouth of this voice."""
        whole = (0, len(utterance.text))
        others = exchanged(utterance.text, whole, utterance.confusions)
        return any(self._plain(text) is not None for text in others)

    def _understood(self, text: str) -> object | None:
        entries = read_text(text, self.expectation, self.vocabulary)
        if any(isinstance(entry, Unclear) for entry in entries):
            return None
        return tuple(entry.model_dump_json(exclude={"said", "doubt", "rivals"}) for entry in entries)

    def _plain(self, text: str) -> tuple[str, str] | None:
        """A bare number as its digits side by side, with its unit; None where the text is something else."""
        words = text.split()
        unit = words.pop() if words and words[-1] in self.tails else ""
        if words and words[0] in self.leads:
            words.pop(0)
        known = plain_numbers(self.vocabulary.language).words
        digits = _side_by_side(words, self.vocabulary) if words and set(words) <= known else ""
        return (digits, unit) if digits else None


def state(clips: Sequence[Recording], vocabulary: Vocabulary, acceptance: Acceptance) -> State:
    """The state in which the clips of one set are heard."""
    texts = sorted({clip.text for clip in clips if not clip.chatter})
    language = vocabulary.language
    numbers = [text for text in texts if _is_number(text, plain_numbers(language).words)]
    others = [text for text in texts if text not in numbers]
    waiting = catches(language, ROWS, None)
    said_alone = all(len(text.split()) <= 2 for text in others)
    waiting = waiting.model_copy(update={"elsewhere": _elsewhere(waiting)})
    if texts and said_alone and len(others) <= FEW:
        waiting = Expectation(language=language, asking=Asking.CONFIRM, candidates=("?",), rows=ROWS)
        return _numbered(State(waiting, vocabulary, acceptance, phrases=tuple(others)), numbers)
    return State(waiting, vocabulary, acceptance)


def _elsewhere(waiting: Expectation) -> tuple[str, ...]:
    """The units of the dialog of the test run but for those of what is open, as the product expects them there."""
    own = {unit for slot in waiting.slots for unit in slot.units}
    runs = (one for one in load_library().scripts.values() if one.phase is Phase.CALIBRATION)
    return tuple(dict.fromkeys(unit for one in runs for unit in one.units if unit not in own))


def shift(vocabulary: Vocabulary, acceptance: Acceptance) -> State:
    """What is told and asked during a shift of a planter of ``ROWS`` rows, as an assistant of its own expects it.

    Answers of before the shift, which may be corrected by name in it, are left out.
    """
    begun = assistant(load_settings(), open_database(":memory:")).expectation("bench")
    during = {
        "language": vocabulary.language,
        "asking": Asking.REPORT,
        "rows": ROWS,
        "reports": tuple(Report),
        "units": USUAL_UNITS[System.US],
    }
    return State(begun.model_copy(update=during), vocabulary, acceptance)


def _numbered(waiting: State, numbers: Sequence[str]) -> State:
    if not numbers:
        return waiting
    words = [text.split() for text in numbers]
    known = plain_numbers(waiting.vocabulary.language)
    leads = frozenset(said[0] for said in words) - known.words
    tails = frozenset(said[-1] for said in words) - known.words
    forms = [form for form in known.forms if _fits(_plain(form, leads, tails), words)]
    return replace(waiting, number=forms[0] if forms else known.forms[-1], leads=leads, tails=tails)


def _plain(number: str, leads: frozenset[str], tails: frozenset[str]) -> str:
    """The rule for a number between the words that may stand around it."""
    return f"public <plain> = {_maybe(leads)} {number} {_maybe(tails)};"


def _fits(rule: str, texts: Sequence[Sequence[str]]) -> bool:
    automaton = grammars.automaton(f"#JSGF V1.0; grammar number; {rule}")
    return all(automaton.accepts(words) for words in texts)


def _is_number(text: str, known: frozenset[str]) -> bool:
    """A bare number, with at most one other word before and one after it."""
    words = text.split()
    inner = words[words[0] not in known : len(words) - (words[-1] not in known)]
    return bool(inner) and set(inner) <= known


def _side_by_side(words: Sequence[str], vocabulary: Vocabulary) -> str:
    """The digits of a row of numbers, each as long as it can be; empty where a part is no number."""
    digits, at = "", 0
    while at < len(words):
        for end in range(min(len(words), at + 8), at, -1):
            found = [one for one in readings(" ".join(words[at:end]), vocabulary) if one.digits.isdigit()]
            if found:
                digits, at = digits + found[0].digits, end
                break
        else:
            return ""
    return digits


def _maybe(words: Iterable[str]) -> str:
    return f"[{' | '.join(sorted(words))}]" if words else ""
