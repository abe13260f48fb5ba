"""The bench of what is told during a shift: what it waits for, its phrases, and what may never be kept."""

import random

import pytest

from bot.bench import voice
from bot.bench.recording import Recording
from bot.bench.state import ROWS, shift
from bot.bench.tally import Outcome, OutcomeTally
from demo.recording import FOLDER
from engine.entries.acceptance import load_acceptance
from engine.entries.grammar import grammar
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.messages import Decision
from speech.decoding import grammar as grammars
from speech.training import phrases, synthesise
from speech.transcript import Transcript, TranscriptWord
from tests.dialog.test_laws import beginning, interpreter

DRAWN = 300


@pytest.fixture(scope="module")
def waiting():
    return shift(load_vocabulary("en"), load_acceptance())


def test_it_waits_for_what_a_planting_shift_waits_for(waiting):
    planting = interpreter().expectation(beginning("planting"))
    assert planting.rows != ROWS
    during = planting.model_copy(update={"rows": ROWS, "known": (), "names": {}})
    assert waiting.expectation == during
    assert waiting.grammar == grammar(during, load_vocabulary("en"))


def test_the_phrases_that_are_read_out_are_understood_and_can_be_heard(waiting):
    automaton = grammars.automaton(waiting.grammar)
    for number in range(DRAWN):
        text = phrases.phrase(random.Random(number), "shift")
        assert automaton.accepts(text.split()), text
        assert waiting.meaning(text), text


class Ears:
    """Hears what it is told, quite surely."""

    name = "ears"

    def __init__(self, text, sure=1.0):
        self.words = tuple(TranscriptWord(word, sure, 0.0, 0.1) for word in text.split())

    def transcribe(self, clip, language, grammar):
        return Transcript(self.words, (), self.name, 0.0, None)


@pytest.mark.parametrize(
    ("said", "heard", "chatter", "decision", "false_good"),
    [
        ("all good", "all good", False, Decision.KEEP, False),
        ("row five stopped", "all good", False, Decision.KEEP, True),
        ("row five stopped", "row nine stopped", False, Decision.KEEP, False),
        ("two acres done and all good", "ten acres done and all good", False, Decision.KEEP, False),
        ("five and seven high the rest good", "five high the rest good", False, Decision.KEEP, True),
        ("did you hear that", "all good", True, Decision.KEEP, True),
        ("did you hear that", "lunch", True, Decision.KEEP, False),
        ("did you hear that", "", True, Decision.UNCLEAR, False),
    ],
)
def test_what_proves_rows_to_feed_and_was_not_said_is_counted_apart(
    waiting, said, heard, chatter, decision, false_good
):
    clip = Recording(FOLDER / "x.ogg", "shift", said, "", chatter)
    came = voice.outcome(clip, None, waiting, Ears(heard))
    assert (came.decision, came.false_good) == (decision, false_good)
    assert (came.said, came.heard) == (said, heard)


def test_the_line_of_a_shift_has_one_figure_more():
    good = Outcome(False, False, Decision.KEEP, 0.1, false_good=True)
    other = Outcome(True, True, Decision.KEEP, 0.1, false_good=False)
    assert OutcomeTally([good, other]).line()["false_good"] == 0.5
    assert "false_good" not in OutcomeTally([Outcome(True, True, Decision.KEEP, 0.1)]).line()


def test_held_out_phrases_get_a_table_and_other_talk_its_kind(tmp_path):
    (tmp_path / "piper_00000.txt").write_text("all good")
    synthesise.write_table(tmp_path, "shift")
    lines = (tmp_path / "transcripts.tsv").read_text().splitlines()
    assert lines == [synthesise.TABLE_HEAD, "piper_00000.ogg\tshift\tall good\tsynthetic\tpiper"]
    synthesise.write_table(tmp_path, "chatter")
    assert "\tout of grammar\t" in (tmp_path / "transcripts.tsv").read_text()
