"""Vosk with a fixed graph: a model that brings its lexicon can be held to the sentences of a grammar.

A run-time word list lets Vosk put the words in any order; a graph made from the grammar's automaton does not, and hears
better for it. The graph also has ``[unk]``, any run of phones, beside every sentence.
"""

from __future__ import annotations

import math
import tempfile
from collections import Counter
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path

import vosk

from speech.decoding import dictionary
from speech.decoding.automaton import Automaton
from speech.decoding.transducer import UNKNOWN, Transducer, Ways

LEXICON = "lexicon.txt"
UNKNOWN_FIRST, UNKNOWN_EACH = 0.0, 2.0
"""Cost of starting ``[unk]``, beyond the share that a first word of the grammar costs, and of each of its phones.

Chosen with ``speech.training.score``; see its README.md.
"""

ENDS = 0.5
"""Share of what is said that ends where it may end, however many words may follow there. Chosen as the costs above."""


def supports(model: Path) -> bool:
    """Whether a model folder brings the lexicon that a fixed graph needs."""
    return (model / LEXICON).is_file()


@lru_cache(maxsize=4)
def lexicon(model: Path) -> Mapping[str, Ways]:
    """The words of a model folder and how each may sound."""
    found: dict[str, list[tuple[str, ...]]] = {}
    for line in (model / LEXICON).read_text(encoding="utf-8").splitlines():
        word, *phones = line.split()
        found.setdefault(word, []).append(tuple(phones))
    return {word: tuple(ways) for word, ways in found.items()}


def graph(
    automaton: Automaton, words: Mapping[str, Ways], unknown: tuple[float, float] = (UNKNOWN_FIRST, UNKNOWN_EACH)
) -> tuple[Transducer, tuple[str, ...]]:
    """The fixed graph, and its words: label ``i + 1`` is the ``i``-th. Words that the lexicon lacks cannot be said.

    A word that leads from many states to the same one stands in it once: in a grammar of a shift that is a tenth.
    """
    missing = [word for word in automaton.words() if word not in words]
    said = automaton.without(missing) if missing else automaton
    names = (*sorted(said.words()), UNKNOWN)
    labels = {name: at + 1 for at, name in enumerate(names)}
    made = Transducer()
    states = [0, *(made.state() for _ in said.arcs[1:])]
    end = made.state()
    shared = {
        ends: made.state()
        for ends, sources in Counter(pair for out in said.arcs for pair in out.items()).items()
        if sources > 1
    }
    for (word, following), start in shared.items():
        made.say((start, states[following]), labels[word], words[word])
    for state, out in enumerate(said.arcs):
        made.wait(states[state])
        going_on, ending = _costs(len(out), state in said.final)
        for word, following in out.items():
            if (word, following) in shared:
                made.arc((states[state], shared[word, following]), cost=going_on)
            else:
                made.say((states[state], states[following]), labels[word], words[word], going_on)
        if state in said.final:
            made.final[states[state]] = ending
    first, each = unknown
    made.anything((0, end), labels[UNKNOWN], math.log(max(len(said.arcs[0]), 1)) + first, each)
    made.wait(end)
    made.final[end] = 0.0
    return made, names


def _costs(ways: int, ends: bool) -> tuple[float, float]:
    """What each of the words that may follow costs, and to end here."""
    if not ends:
        return math.log(max(ways, 1)), 0.0
    return (math.log(ways / (1 - ENDS)), -math.log(ENDS)) if ways else (0.0, 0.0)


def write(
    model: Path,
    folder: Path,
    automaton: Automaton,
    unknown: tuple[float, float] = (UNKNOWN_FIRST, UNKNOWN_EACH),
    language: str = "en",
) -> None:
    """Make ``folder`` a model folder with the fixed graph; the acoustic model is linked, not copied.

    Words that its lexicon lacks, such as names, sound as the dictionary of the language has them.
    """
    known = lexicon(model)
    made, names = graph(automaton, {**dictionary.sounds(automaton.words() - known.keys(), language), **known}, unknown)
    (folder / "graph").mkdir(parents=True)
    for part in ("am", "conf"):
        (folder / part).symlink_to((model / part).resolve(), target_is_directory=True)
    (folder / "graph" / "HCLG.fst").write_bytes(made.binary())
    numbered = enumerate(("<eps>", *names, "#0"))
    (folder / "graph" / "words.txt").write_text(
        "".join(f"{name} {label}\n" for label, name in numbered), encoding="utf-8"
    )


def load(
    model: Path,
    automaton: Automaton,
    unknown: tuple[float, float] = (UNKNOWN_FIRST, UNKNOWN_EACH),
    language: str = "en",
) -> vosk.Model:
    """A Vosk model that hears the automaton's sentences alone; make ``vosk.KaldiRecognizer(model, rate)`` of it."""
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "model"
        write(model, folder, automaton, unknown, language)
        return vosk.Model(str(folder))
