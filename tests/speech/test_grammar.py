"""Grammar texts and their automata: the language is exactly what the text says, in the fewest states."""

from itertools import product

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from speech.decoding import jsgf
from speech.decoding.automaton import Automaton, AutomatonBuilder
from speech.decoding.grammar import automaton
from speech.errors import GrammarError

HEADER = "#JSGF V1.0; grammar g;\n"
WORDS = ("a", "b", "c")
LONGEST = 4


def written(body: jsgf.Expansion) -> str:
    match body:
        case jsgf.JsgfToken(text):
            return text
        case jsgf.JsgfSequence(()):
            return "<NULL>"
        case jsgf.JsgfSequence(parts):
            return "(" + " ".join(map(written, parts)) + ")"
        case jsgf.JsgfChoice(options):
            return "(" + " | ".join(map(written, options)) + ")"
        case jsgf.JsgfRepeat(part, least):
            return f"({written(part)}){'*+'[least]}"
        case _:
            raise AssertionError(body)


def sentences(body: jsgf.Expansion) -> set[tuple[str, ...]]:
    """By definition, no automaton: all sentences of up to LONGEST words."""
    match body:
        case jsgf.JsgfToken(text):
            return {(text,)}
        case jsgf.JsgfSequence(parts):
            found: set[tuple[str, ...]] = {()}
            for part in parts:
                found = {a + b for a, b in product(found, sentences(part)) if len(a + b) <= LONGEST}
            return found
        case jsgf.JsgfChoice(options):
            return set().union(*map(sentences, options))
        case jsgf.JsgfRepeat(part, least):
            once = sentences(part)
            found, grown = set() if least else {()}, once
            while not grown <= found:
                found |= grown
                grown = {a + b for a, b in product(found, once) if len(a + b) <= LONGEST}
            return found
        case _:
            raise AssertionError(body)


def all_sentences() -> list[tuple[str, ...]]:
    return [words for length in range(LONGEST + 1) for words in product(WORDS, repeat=length)]


def future(machine: Automaton, state: int, depth: int) -> frozenset[tuple[str, ...]]:
    """Every ending of up to ``depth`` words that is accepted from a state."""
    found = {()} if state in machine.final else set()
    if depth:
        for word, following in machine.arcs[state].items():
            found |= {(word, *rest) for rest in future(machine, following, depth - 1)}
    return frozenset(found)


bodies = st.recursive(
    st.sampled_from([jsgf.JsgfToken(word) for word in WORDS] + [jsgf.NOTHING]),
    lambda inner: st.one_of(
        st.lists(inner, min_size=2, max_size=3).map(lambda parts: jsgf.JsgfSequence(tuple(parts))),
        st.lists(inner, min_size=2, max_size=3).map(lambda parts: jsgf.JsgfChoice(tuple(parts))),
        st.builds(jsgf.JsgfRepeat, inner, st.integers(0, 1)),
    ),
    max_leaves=7,
)


NESTED = jsgf.JsgfRepeat(
    jsgf.JsgfSequence((jsgf.JsgfToken("a"), jsgf.JsgfToken("a"), jsgf.JsgfRepeat(jsgf.JsgfToken("a"), 0))), 0
)
"""A repeat that ends in one: one word alone is not in it."""


@given(bodies)
@example(NESTED)
@settings(max_examples=120, deadline=None)
def test_the_language_is_the_one_written(body: jsgf.Expansion) -> None:
    machine = automaton(f"{HEADER}public <x> = {written(body)};")
    expected = sentences(body)
    assert {words for words in all_sentences() if machine.accepts(words)} == expected


@given(bodies)
@settings(max_examples=60, deadline=None)
def test_no_two_states_do_the_same(body: jsgf.Expansion) -> None:
    machine = automaton(f"{HEADER}public <x> = {written(body)};")
    depth = len(machine.arcs)
    if depth <= 6:
        futures = [future(machine, state, depth) for state in range(depth)]
        assert len(set(futures)) == depth
        assert all(futures)


@given(bodies)
@settings(max_examples=60, deadline=None)
def test_ways_out_of_a_state_share_one(body: jsgf.Expansion) -> None:
    machine = automaton(f"{HEADER}public <x> = {written(body)};")
    shares: dict[int, float] = {}
    for arc in machine.shared_arcs():
        shares[arc.start] = shares.get(arc.start, 0) + arc.share
    assert shares == pytest.approx(dict.fromkeys(range(len(machine.arcs)), 1.0))


def test_two_texts_of_one_language_give_one_automaton() -> None:
    one = automaton(HEADER + "<n> = a | b; public <x> = <n> [c] | <n> c c;")
    two = automaton(HEADER + "public <x> = (b | a) (c c | c | <NULL>);")
    assert one == two


def test_rules_comments_and_several_public_rules() -> None:
    text = HEADER + "// rows\n<row> = row (one | two); /* both\nways */ public <a> = <row> yes; public <b> = NO;"
    machine = automaton(text)
    assert machine.words() == {"row", "one", "two", "yes", "no"}
    assert machine.accepts(["row", "two", "yes"])
    assert machine.accepts(["no"])
    assert not machine.accepts(["row", "two"])
    assert not machine.accepts([])


def test_words_that_cannot_be_said_take_their_sentences_along() -> None:
    machine = automaton(HEADER + "public <x> = forty (grams | hectares) | help;").without({"hectares"})
    assert machine.words() == {"forty", "grams", "help"}
    assert not machine.without({"forty", "help"}).final


def test_an_empty_net_accepts_nothing() -> None:
    net = AutomatonBuilder()
    assert not net.automaton(net.state()).accepts([])


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("public <x> = a;", "header"),
        (HEADER + "<x> = a;", "rules"),
        (HEADER + "public <x> = <y>;", "<y>"),
        (HEADER + "public <x> = a <x>;", "<x>"),
        (HEADER + "public <x> = (a | b;", "<x>"),
        (HEADER + "public <x> = a) b;", "<x>"),
        (HEADER + "public <x> = a | ;", "<x>"),
        (HEADER + "public <x> = * a;", "<x>"),
        (HEADER + "public <x> = /5/ a | b;", "<x>"),
        (HEADER + "public <x> = a {tag};", "<x>"),
        (HEADER + "public <x> = a; <x> = b;", "<x>"),
        (HEADER + "import <other.rule>; public <x> = a;", "near"),
    ],
)
def test_a_wrong_text_is_refused_with_its_place(text: str, place: str) -> None:
    with pytest.raises(GrammarError) as caught:
        automaton(text)
    assert caught.value.place.startswith(place)
