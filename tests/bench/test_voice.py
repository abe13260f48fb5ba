"""The bench of hearing: its sets, its counts, and its lines on real recordings."""

import json
import shutil

import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from bot.bench.numbers import plain_numbers
from bot.bench.peer import said
from bot.bench.recording import Recording, by_set, recordings
from bot.bench.state import state
from bot.bench.tally import Outcome, OutcomeTally, wilson
from bot.cli import app
from demo.recording import FOLDER
from engine.entries.acceptance import load_acceptance
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.errors import InputError
from engine.messages import Decision, HeardWord
from speech.decoding import grammar as grammars
from tests.helpers.entries import utterance
from tests.speech.test_recognition import NOTES, words

KEYS = ["set", "snr", "noise", "engine", "n", "exact", "kept_right", "asked", "unclear", "kept_wrong", "p50_s", "p95_s"]


def of(*texts, chatter=False):
    clips = [Recording(FOLDER / "x.ogg", "set", text, "", chatter) for text in texts]
    return state(clips, load_vocabulary("en"), load_acceptance())


def allowed(waiting, text):
    return grammars.automaton(waiting.grammar).accepts(text.split())


def test_digits_wait_for_digits_and_numbers_for_numbers():
    digits = of("two six eight", "nine")
    assert allowed(digits, "four oh nine")
    assert not allowed(digits, "forty")
    numbers = of("one hundred and sixty four seconds", "seventy nine minutes", "four")
    assert allowed(numbers, "ninety one seconds")
    assert not allowed(numbers, "four five six")
    census = of("enter four fifty six", "two six eight four", "yes", "rubout")
    for text in ("enter five sixteen sixty nine", "yes", "no", "rubout", "scratch that"):
        assert allowed(census, text)


def test_catches_wait_for_catches():
    waiting = of("row three forty nine point five", "row two is seventy grams and row four eighty")
    assert allowed(waiting, "row five fifty one point five")


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("enter eight seven", "enter eighty seven", True),
        ("one oh five", "one zero five", True),
        ("one hundred and five", "one hundred five", True),
        ("five sixteen sixty nine", "five sixteen sixty five", False),
        ("two six eight four four one eight", "two sixty eight four four one eight", True),
        ("nine seconds", "nine minutes", False),
        ("yes", "no", False),
    ],
)
def test_meanings_are_compared_not_words(one, other, same):
    waiting = of("enter five", "one hundred and ninety", "nine seconds", "nine minutes", "yes")
    assert waiting.meaning(one) is not None
    assert (waiting.meaning(one) == waiting.meaning(other)) is same


def test_words_that_mean_nothing_have_no_meaning():
    assert of("two six").meaning("left right") is None


def test_a_number_heard_badly_is_asked_and_one_hardly_heard_is_unclear():
    waiting = of("two six", "eight")
    limits = load_acceptance()
    assert waiting.number == plain_numbers("en").forms[0]
    for sure, expected in ((1.0, "keep"), (limits.value_heard + 0.01, "ask"), (limits.value_heard - 0.01, "unclear")):
        said = utterance("two six", "en").model_copy(
            update={"spoken": True, "words": tuple(HeardWord(text=word, confidence=sure) for word in ("two", "six"))}
        )
        assert waiting.decision(said) == expected


# ---- the folder


def folder(tmp_path, rows, head="file\tset\ttext\tkind\tspeaker\tsource"):
    (tmp_path / "transcripts.tsv").write_text("\n".join([head, *rows]) + "\n")
    return tmp_path


def test_clips_are_read_with_their_kind(tmp_path):
    rows = ["a.ogg\tone\ttwo six\treal\ts\tx", "b.ogg\tone\t?\treal\ts\tx", "c.ogg\tother\tleft\tout of grammar\ts\tx"]
    rows += ["unk_five_1.ogg\tother\t_unknown_\tout of grammar (must be rejected)\ts\tx"]
    clips = recordings(folder(tmp_path, rows))
    assert [(clip.file.name, clip.chatter) for clip in clips] == [("a.ogg", False), ("c.ogg", True)]
    assert list(by_set(clips)) == ["one", "other"]


@pytest.mark.parametrize("rows", [["a.ogg\t\ttwo"], ["a.ogg"]])
def test_a_table_with_holes_is_refused(tmp_path, rows):
    with pytest.raises(InputError, match="needs file, set, text"):
        recordings(folder(tmp_path, rows))


def test_a_folder_without_a_table_is_refused(tmp_path):
    with pytest.raises(InputError, match=r"no transcripts\.tsv"):
        recordings(tmp_path)


# ---- counts


def test_the_interval_is_the_one_of_the_published_example():
    """R. G. Newcombe, "Two-sided confidence intervals for the single proportion", Statistics in Medicine 17 (1998),
    table I, method 3: 81 of 263 gives 0.2553 to 0.3662, 0 of 20 gives 0 to 0.1611."""
    assert wilson(81, 263) == pytest.approx((0.2553, 0.3662), abs=5e-5)
    assert wilson(0, 20) == pytest.approx((0, 0.1611), abs=5e-5)


@given(st.integers(1, 5000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_the_interval_holds_the_share(trial):
    low, high = wilson(*trial)
    assert 0 <= low <= trial[0] / trial[1] + 1e-12
    assert trial[0] / trial[1] - 1e-12 <= high <= 1


def test_what_is_kept_asked_and_unclear_is_everything():
    outcomes = [
        Outcome(True, True, Decision.KEEP, 0.1),
        Outcome(False, True, Decision.KEEP, 0.2),
        Outcome(False, False, Decision.KEEP, 0.3),
        Outcome(True, True, Decision.ASK, 0.4),
        Outcome(False, False, Decision.UNCLEAR, 0.5),
    ]
    line = OutcomeTally(outcomes).line(set="s")
    assert line == {
        "set": "s",
        "n": 5,
        "exact": 0.4,
        "kept_right": 0.4,
        "asked": 0.2,
        "unclear": 0.2,
        "kept_wrong": 0.2,
        "p50_s": 0.3,
        "p95_s": 0.48,
    }


# ---- the command, on real voices


@pytest.fixture
def notes(tmp_path):
    chosen = [note for note in NOTES if words(note.text).startswith("row")][:2]
    for note in chosen:
        shutil.copy(FOLDER / f"{note.file}.ogg", tmp_path)
    return folder(tmp_path, [f"{note.file}.ogg\tnotes\t{words(note.text)}\tvoice\ts\tx" for note in chosen])


def run(*arguments):
    return CliRunner().invoke(app, ["bench", "voice", *map(str, arguments)])


@pytest.mark.campaign
def test_the_command_gives_a_line_for_each_set_condition_and_engine(notes):
    done = run("--data", notes, "--snr", "clean,0", "--engines", "policy,vosk", "--json")
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    assert [list(line) for line in lines] == [KEYS] * 4
    assert [(line["snr"], line["noise"], line["engine"]) for line in lines] == [
        (None, "none", "policy"),
        (None, "none", "vosk"),
        (0.0, "computed", "policy"),
        (0.0, "computed", "vosk"),
    ]
    assert lines[0]["exact"] == 1.0
    for line in lines:
        parts = [line[name] for name in ("kept_right", "asked", "unclear", "kept_wrong")]
        assert sum(parts) == pytest.approx(1, abs=0.001)


def test_recorded_noise_is_mixed_in(notes):
    loops = notes / "loops"
    loops.mkdir()
    shutil.copy(FOLDER / f"{NOTES[0].file}.ogg", loops / "talk.ogg")
    done = run("--data", notes, "--noise", loops, "--snr", "10", "--engines", "vosk", "--most", "1")
    assert "10 dB recorded" in done.stdout


@pytest.mark.parametrize(
    "wrong", [("--snr", "loud"), ("--engines", "ears"), ("--sets", "none"), ("--noise", "."), ("--data", "tests")]
)
def test_what_cannot_be_measured_is_said(notes, wrong):
    done = run("--data", notes, *wrong)
    assert done.exit_code == 2
    assert len(done.output.splitlines()) == 1


# ---- the peer


@pytest.mark.parametrize(
    ("written", "spoken"),
    [
        ("Row 3, 49.5.", "row three forty nine point five"),
        ("Yes!", "yes"),
        ("2684418", "two six eight four four one eight"),
        ("148 seconds", "one hundred and forty eight seconds"),
    ],
)
def test_what_a_general_recogniser_writes_is_put_into_words(written, spoken):
    assert said(written) == spoken


def test_a_peer_that_is_not_there_is_said(notes):
    done = run("--data", notes, "--peer", notes / "nothing")
    assert done.exit_code == 2
    assert "no Whisper model can be loaded" in done.output
