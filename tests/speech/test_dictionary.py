"""Words that no model was made with sound as the dictionary has them, and can be in a fixed graph."""

from __future__ import annotations

from pathlib import Path

from speech.decoding import closed
from speech.decoding import grammar as grammars
from speech.decoding.dictionary import sounds
from speech.recognizer_choice import SHIPPED

HANDED = "#JSGF V1.0;\ngrammar g;\npublic <u> = hand over to (maria | xyzzyx);"


def test_what_the_dictionary_has_sounds_in_the_phones_of_the_models() -> None:
    found = sounds({"maria", "north", "xyzzyx"})
    assert found["north"] == (("N", "AO", "R", "TH"),)
    assert set(found) == {"maria", "north"}
    assert sounds(()) == {}


def test_a_name_gets_into_the_graph_and_a_word_nobody_knows_stays_out(tmp_path: Path) -> None:
    automaton = grammars.automaton(HANDED)
    assert "maria" not in closed.lexicon(SHIPPED / "en")
    closed.write(SHIPPED / "en", tmp_path / "model", automaton)
    words = (tmp_path / "model" / "graph" / "words.txt").read_text(encoding="utf-8")
    assert "maria 2\n" in words
    assert "xyzzyx" not in words
