"""``rowhand hear`` on real files: words, entries and decision, or one sentence for a file that cannot be read."""

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile
import typer
from typer.testing import CliRunner

from bot.hear import hear
from demo.recording import FOLDER

app = typer.Typer()
app.command()(hear)
KEYS = {"file", "words", "text", "entries", "decision", "reason", "engine", "seconds"}


def run(*arguments: str | Path, code: int = 0) -> list[dict]:
    result = CliRunner().invoke(app, [*map(str, arguments), "--engine", "pocketsphinx", "--json"])
    assert result.exit_code == code, result.output
    return [json.loads(line) for line in result.stdout.splitlines()]


def note(name: str) -> Path:
    return FOLDER / f"{name}.ogg"


def values(heard: dict) -> list[tuple[object, ...]]:
    return [(entry.get("row"), entry["value"], entry["unit"]) for entry in heard["entries"]]


def test_a_catch_for_a_row_is_heard_and_its_sound_alike_asked() -> None:
    (heard,) = run(note("row-three"), "--rows", "8", "--target", "49.5 g")
    assert heard.keys() == KEYS
    assert heard["text"] == "row three forty nine point five"
    assert [word["text"] for word in heard["words"]] == heard["text"].split()
    assert values(heard) == [(3, 49.5, "g")]
    assert (heard["decision"], heard["reason"], heard["engine"]) == ("ask", "sound_alike", "pocketsphinx")
    assert {"value": 45.5, "unit": "g"} in heard["entries"][0]["rivals"]
    assert 0 < heard["seconds"] < 30


def test_a_catch_without_sound_alikes_near_the_target_is_kept() -> None:
    (heard,) = run(note("over-a-hundred"), "--target", "104 g")
    assert (heard["decision"], heard["reason"]) == ("keep", None)
    assert values(heard) == [(None, 104.0, "g")]


def test_two_rows_in_one_breath() -> None:
    (heard,) = run(note("two-rows"), "--rows", "8", "--target", "50 g")
    assert heard["text"] == "row one forty nine row two fifty one"
    first, second = heard["entries"][0]["readings"][0] if "readings" in heard["entries"][0] else heard["entries"]
    assert (first["row"], first["value"], second["row"], second["value"]) == (1, 49.0, 2, 51.0)


def test_a_bare_catch_in_other_units() -> None:
    half, ounces = run(note("a-half"), note("ounces"))
    assert values(half) == [(None, 49.5, "g")]
    assert values(ounces) == [(None, 1.75, "oz")]


def test_a_bare_catch_is_for_the_row_that_is_next_and_for_none_where_that_is_not_known() -> None:
    (known,) = run(note("over-a-hundred"), "--rows", "8", "--next", "4", "--target", "104 g")
    assert values(known) == [(4, 104.0, "g")]
    (single,) = run(note("over-a-hundred"), "--rows", "1", "--target", "104 g")
    assert values(single) == [(1, 104.0, "g")]
    (unknown,) = run(note("over-a-hundred"), "--rows", "8", "--target", "104 g")
    assert (unknown["decision"], unknown["reason"]) == ("unclear", "which_row")
    assert unknown["text"] == known["text"]


def test_far_from_the_target_is_asked() -> None:
    (heard,) = run(note("row-three"), "--rows", "8", "--target", "10 g")
    assert (heard["decision"], heard["reason"]) == ("ask", "unusual")
    assert values(heard) == [(3, 49.5, "g")]


def test_bad_files_get_a_sentence_each_and_the_rest_is_heard(tmp_path: Path) -> None:
    (tmp_path / "empty.ogg").write_bytes(b"")
    (tmp_path / "cut.ogg").write_bytes(note("row-three").read_bytes()[:-900])
    (tmp_path / "text.ogg").write_text("row three forty nine point five")
    noise = 0.1 * np.random.default_rng(3).standard_normal(600 * 16_000)
    soundfile.write(tmp_path / "noise.wav", noise, 16_000)
    bad = ["empty.ogg", "cut.ogg", "text.ogg", "noise.wav", "missing.ogg"]
    heard = run(*(tmp_path / name for name in bad), note("row-three"), "--rows", "8", code=3)
    reasons = ["empty", "cut", "not_audio", "too_long", "unreadable"]
    assert [one["reason"] for one in heard[:5]] == reasons
    assert all(one["decision"] == "unclear" and one["error"] and not one["entries"] for one in heard[:5])
    assert values(heard[5]) == [(3, 49.5, "g")]


@pytest.mark.parametrize(("loudness", "reason"), [(0.0, "silence"), (0.2, "too_noisy")])
def test_sound_without_words_is_unclear_with_what_is_wrong(tmp_path: Path, loudness: float, reason: str) -> None:
    soundfile.write(tmp_path / "a.wav", loudness * np.random.default_rng(5).standard_normal(32_000), 16_000)
    (heard,) = run(tmp_path / "a.wav", "--rows", "8", "--target", "49.5 g")
    assert (heard["decision"], heard["reason"]) == ("unclear", reason)


@pytest.mark.parametrize(
    "options",
    [
        ["--target", "49.5 mph"],
        ["--target", "many"],
        ["--language", "fr"],
        ["--engine", "best"],
        ["--rows", "0"],
        ["--rows", "8", "--next", "9"],
    ],
)
def test_options_that_cannot_be_used_end_with_two(options: list[str]) -> None:
    result = CliRunner().invoke(app, [str(note("yes")), *options])
    assert result.exit_code == 2
    assert "Traceback" not in result.output


def test_for_a_person_it_is_a_few_lines() -> None:
    told = (
        CliRunner()
        .invoke(app, [str(note("row-three")), "--rows", "8", "--target", "49.5 g", "--engine", "pocketsphinx"])
        .stdout
    )
    assert "ask (sound alike)" in told
    assert "row 3: 49.5 g" in told
