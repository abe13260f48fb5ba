"""``rowhand bench learn``: the weights by which meanings are told apart, learned from suites of utterances.

A sentence of one meaning is learned whole. One of several is cut into clauses by what was learned so far, each clause
is given the likeliest of the meanings that the sentence is known to have, and all is learned once more. Every phrase of
the vocabulary that means something by itself is learned as well.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Annotated

import numpy as np
import typer
from numpy.typing import NDArray

from bot.bench.suite import SPOKEN, Suite, Taught, UtteranceCase, load_suite
from bot.bench.suite_stage import SuiteStage
from engine.entries.matching.match_context import MatchContext
from engine.entries.phrases.pattern import forms
from engine.entries.phrases.phrase import Phrases
from engine.entries.phrases.tokens import fold, tokenize
from engine.entries.phrases.vocabulary import Vocabulary, load_vocabulary
from engine.errors import RowhandError
from engine.expectation import Expectation, SlotKind
from engine.understanding.scanning.scanner import Scanner
from engine.understanding.scanning.spans import SpanKind, TextSpan
from engine.understanding.scanning.spelling import is_misspelt, mended, written_out
from engine.understanding.weighing.classifier import FILE, Classifier
from engine.understanding.weighing.clauses import clauses
from engine.understanding.weighing.features import features
from engine.understanding.weighing.meaning import DECLINED, LEFT_OUT, NAME, NO, OTHER, TAKEN_IN, VALUE, YES, possible

USAGE_EXIT = 2
ROUNDS = 2
HELD = 0.3
"""How strongly weights are held down: chosen by folds over suites."""
PASSES, RATE, SMALLEST = 8, 0.5, 1e-4
PHRASE_WEIGHT, TALK_WEIGHT = 0.3, 0.7
MOST_FORMS = 12


@dataclass(frozen=True)
class Lesson:
    """A sentence at its place, with the meanings that are in it."""

    spans: tuple[TextSpan, ...]
    expectation: Expectation
    meanings: frozenset[str]
    weight: float = 1.0


@dataclass(frozen=True)
class Sample:
    """The features of one clause, its meaning, and what else it might have meant."""

    features: tuple[str, ...]
    meaning: str
    allowed: frozenset[str]
    weight: float = 1.0


def lessons(stage: SuiteStage, cases: Iterable[UtteranceCase]) -> Iterator[Lesson]:
    """Every case whose meanings are known, as something to learn from."""
    for case in cases:
        expected = stage.expectation(stage.place(case.context))
        meant = meanings_of(case, expected)
        if meant:
            yield Lesson(_spans(case.said, expected), expected, meant)


def taught(stage: SuiteStage, blocks: Iterable[Taught]) -> Iterator[Lesson]:
    """Every line of the blocks of a suite, at the first of its places."""
    for block in blocks:
        expected = stage.expectation(stage.place(block.places[0]))
        for line in block.lines:
            weight = TALK_WEIGHT if block.means == OTHER else 1.0
            yield Lesson(_spans(line, expected), expected, frozenset({block.means}), weight)


def _spans(text: str, expected: Expectation) -> tuple[TextSpan, ...]:
    """The spans of a sentence as it is read: with known spellings put right, and no other word."""
    vocabulary = load_vocabulary(expected.language)
    written = text if expected.asks_name else written_out(text, vocabulary)
    meant = mended(written, vocabulary, lambda _: True, expected.rows or 0, bool(expected.reports))
    return Scanner(MatchContext(meant.text, expected, vocabulary)).spans()


def meanings_of(case: UtteranceCase, expectation: Expectation) -> frozenset[str]:
    """What a case means, clause by clause; empty where its suite tells only what the reply must be."""
    if case.wanted_reports:
        return frozenset(f"report:{one.partition(' ')[0].partition('/')[0]}" for one in case.wanted_reports)
    if case.keep:
        return frozenset(_kept(one, expectation) for one in case.keep)
    if case.asks is not None:
        return frozenset({f"topic:{case.asks.partition('/')[0]}"})
    if case.does is not None:
        return frozenset({_done(case.does)})
    if case.opens is not None:
        return frozenset({f"open:{case.opens}"})
    if case.yes is not None:
        return frozenset({YES if case.yes else NO})
    told = ((case.skip, DECLINED), (case.leaves, LEFT_OUT), (case.takes_in, TAKEN_IN), (case.undo, "command:scratch"))
    named = frozenset(meaning for given, meaning in told if given)
    return named or (frozenset({OTHER}) if case.none and case.reply is None else frozenset())


def _done(does: str) -> str:
    if does in SPOKEN:
        return f"language:{SPOKEN[does]}"
    return DECLINED if does == "skip" else f"command:{does}"


def _kept(keep: str, expectation: Expectation) -> str:
    head, _, value = keep.partition(" ")
    name = head.partition("/")[0]
    slot = next((one for one in (*expectation.slots, *expectation.known) if one.name == name), None)
    kind = slot.kind if slot else SlotKind.MEASURE
    return f"option:{name}.{value}" if kind is SlotKind.CHOICE else NAME if kind is SlotKind.TEXT else VALUE


def phrases(vocabulary: Vocabulary, languages: Sequence[Expectation]) -> Iterator[Sample]:
    """The phrases of the vocabulary that mean something by themselves, with marks where rows and amounts stand."""
    answers = vocabulary.answers
    told: list[tuple[str, Phrases]] = [(YES, answers.yes), (NO, answers.no)]
    told += [(f"command:{command}", said) for command, said in vocabulary.commands.items()]
    told += [(f"topic:{topic}", said) for topic, said in vocabulary.topics.items()]
    told += [(f"report:{report}", said) for report, said in vocabulary.reports.items()]
    for expected in languages:
        allowed = possible(expected)
        for meaning, said in told:
            meant = DECLINED if meaning == "command:skip" else meaning
            for phrase in said if meant in allowed else ():
                for form in islice(forms(phrase.node), MOST_FORMS):
                    spans = [TextSpan(_KINDS.get(key, SpanKind.WORD), 0, 0, _MARKS.get(key, key)) for key in form]
                    yield Sample(features(spans, expected), meant, allowed, PHRASE_WEIGHT)


_MARKS = {
    "<some>": "<row>", "<row>": "<row>", "<rows>": "<rows>", "<weight>": "<mass>", "<area>": "<area>",
    "<pace>": "<speed>", "<dose>": "<row_rate>", "<span>": "<time>", "<length>": "<time>", "<share>": "half",
    "<number>": "<number>", "<clock>": "<moment>", "<lot_number>": "<number>", "<called>": "smith",
}  # fmt: skip
_KINDS = {
    "<some>": SpanKind.ROWS,
    "<row>": SpanKind.ROWS,
    "<rows>": SpanKind.ROWS,
    "<weight>": SpanKind.AMOUNT,
    "<number>": SpanKind.NUMBER,
}


def learn(found: Sequence[Lesson], more: Sequence[Sample], least: int = 2, held: float = HELD) -> Classifier:
    """The classifier that tells these lessons apart best."""
    whole = [_whole(one, next(iter(one.meanings))) for one in found if len(one.meanings) == 1]
    several = [one for one in found if len(one.meanings) > 1]
    classifier = fitted([*whole, *more], least, held)
    for _ in range(ROUNDS - 1 if several else 0):
        cut = [sample for one in several for sample in _cut(one, classifier)]
        classifier = fitted([*whole, *cut, *more], least, held)
    return classifier


def _whole(lesson: Lesson, meaning: str) -> Sample:
    allowed = possible(lesson.expectation) | {meaning}
    return Sample(features(lesson.spans, lesson.expectation), meaning, allowed, lesson.weight)


def _cut(lesson: Lesson, classifier: Classifier) -> Iterator[Sample]:
    def weigh(spans: Sequence[TextSpan]) -> dict[str, float]:
        shares = classifier.shares(features(spans, lesson.expectation), lesson.meanings)
        return shares or {next(iter(lesson.meanings)): 1.0}

    allowed = possible(lesson.expectation) | lesson.meanings
    for clause in clauses(lesson.spans, weigh):
        yield Sample(features(clause.spans, lesson.expectation), clause.meaning, allowed)


def fitted(samples: Sequence[Sample], least: int, held: float) -> Classifier:
    """Weights of a softmax over the meanings allowed to each sample, held down by their squares.

    One pass after another over the samples in a fixed order drawn once, each step as large as the steps so far allow
    (Duchi, Hazan and Singer 2011, adaptive subgradients): the same samples give the same weights.
    """
    counts = Counter(one for sample in samples for one in sample.features)
    names = sorted(one for one, count in counts.items() if count >= least)
    columns = {one: place for place, one in enumerate(names)}
    meanings = tuple(sorted({sample.meaning for sample in samples}))
    places = {one: place for place, one in enumerate(meanings)}
    weights = np.zeros((len(names), len(meanings)), dtype=np.float32)
    steps = np.full_like(weights, SMALLEST)
    open_to: dict[frozenset[str], NDArray[np.intp]] = {}
    seen = [np.array([columns[one] for one in sample.features if one in columns], dtype=np.intp) for sample in samples]
    order = np.random.default_rng(1)
    for _ in range(PASSES):
        for number in order.permutation(len(samples)):
            sample, known = samples[number], seen[number]
            if sample.allowed not in open_to:
                open_to[sample.allowed] = np.array([places[one] for one in sorted(sample.allowed) if one in places])
            allowed = open_to[sample.allowed]
            at = np.ix_(known, allowed)
            scale = 1.0 / max(1.0, len(known) ** 0.5)
            part = weights[at]
            scores = part.sum(axis=0) * scale
            shares = np.exp(scores - scores.max())
            shares /= shares.sum()
            shares[allowed == places[sample.meaning]] -= 1.0
            slope = (sample.weight * scale * shares)[None, :] + (held / len(samples)) * part
            steps[at] += slope * slope
            weights[at] = part - RATE * slope / np.sqrt(steps[at])
    return Classifier(meanings, columns, weights)


NAMING = ("product ", "field ", "handed_over ", "decided ")
RARE = 4
"""A word that stands in fewer sentences, but as a part of a name or as a slip, is none that is known."""


def unknown(suites: Iterable[Suite], vocabulary: Vocabulary) -> frozenset[str]:
    """The words of names that cases tell, and slips of numbers and units, which are hardly said otherwise."""
    elsewhere: Counter[str] = Counter()
    named: set[str] = set()
    for suite in suites:
        lines = [line for block in suite.lessons for line in block.lines]
        for case in suite.cases:
            told = (*case.keep, *case.wanted_reports)
            inside = {fold(word) for one in told if one.startswith(NAMING) for word in one.split()[1:]}
            named |= inside
            elsewhere.update({token.key for token in tokenize(case.said)} - inside)
        elsewhere.update(token.key for line in lines for token in tokenize(line))
    slips = {word for word in elsewhere if elsewhere[word] < RARE and is_misspelt(word, vocabulary)}
    return frozenset(word for word in named if elsewhere[word] < RARE) | slips


def learned(suites: Sequence[Path], places: Path) -> tuple[str, Classifier]:
    """What suites of one language teach, and which language that is."""
    found: list[Lesson] = []
    stage: SuiteStage | None = None
    loaded = [load_suite(path, places) for path in suites]
    for suite in loaded:
        stage = SuiteStage(suite, suite.language or "en", strictly=True)
        found += lessons(stage, suite.cases)
        found += taught(stage, suite.lessons)
    assert stage is not None
    seen = {one.expectation.asking: one.expectation for one in found}
    more = list(phrases(load_vocabulary(stage.language), list(seen.values())))
    return stage.language, learn(found, more).without(unknown(loaded, load_vocabulary(stage.language)))


def learning(
    suites: Annotated[list[Path], typer.Argument(help="files of utterances of one language", exists=True)],
    places: Annotated[Path, typer.Option(help="a file with the contexts of the suites")],
    into: Annotated[Path, typer.Option(help="the folder of the language, which the weights are written to")],
) -> None:
    """Learn how meanings are told apart."""
    try:
        language, classifier = learned(suites, places)
        classifier.save(into / FILE)
        typer.echo(f"{language}: {len(classifier.meanings)} meanings by {len(classifier.features)} features")
    except RowhandError as error:
        typer.echo(str(error), err=True)
        raise typer.Exit(USAGE_EXIT) from error
