"""``rowhand models`` as a person and a script see it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner, Result

from bot import cli, models
from speech.errors import FetchFailed, ModelRefused, ShelfFailed, SpeechError
from speech.recognizer_choice import SHIPPED, choose, model
from speech.shelf import download, installation
from speech.shelf.model_probe import ProbeResult
from tests.helpers.file_server import serving
from tests.helpers.process import python, run_lines
from tests.helpers.speech_models import REAL, packed, standing

HELD = 130_000_000


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("ROWHAND_MODELS", str(tmp_path / "models"))
    monkeypatch.setenv("ROWHAND_SETTINGS", str(tmp_path / "settings.toml"))
    monkeypatch.delenv("ROWHAND_RECOGNIZER", raising=False)
    monkeypatch.setattr(installation, "prove", lambda folder, language, words: ProbeResult(HELD, speaks=True))
    monkeypatch.setattr(installation, "computer_bytes", lambda: 8 * 2**30)
    monkeypatch.setattr(download, "PAUSES_S", ())
    return tmp_path / "models"


def said(*words: str) -> Result:
    return CliRunner().invoke(cli.app, ["models", *words])


def failed(*words: str) -> tuple[int, str]:
    """The exit code and sentence of a command that cannot be done."""
    error = said(*words).exception
    assert isinstance(error, SpeechError)
    return cli.exit_code(error), str(error)


def listed() -> dict[str, Any]:
    return dict(json.loads(said("list", "--json").output))


def test_what_came_along_and_what_to_do_without_any() -> None:
    found = listed()
    (shipped,) = found["en"]["models"]
    assert (found["en"]["engine"], found["en"]["advice"], found["es"]["engine"]) == ("panel", None, "panel")
    assert shipped == {
        "name": "shipped",
        "origin": "shipped",
        "path": str(SHIPPED / "en"),
        "in_use": True,
        "size_bytes": sum(path.stat().st_size for path in (SHIPPED / "en").rglob("*") if path.is_file()),
        "memory_bytes": None,
        "fault": None,
    }
    first, second, third, fourth = said("list").output.splitlines()
    both = "heard with two Vosk models, which are weighed together"
    assert (first, third) == (f"English: {both}", f"Spanish: {both}")
    for line in (second, fourth):
        assert line.startswith("  * shipped: ") and line.endswith(" MB, in use")


def test_install_use_and_back(folder: Path, tmp_path: Path) -> None:
    done = said("install", str(REAL), "--language", "en")
    assert done.exit_code == 0
    digest, told, held = done.output.splitlines()
    assert digest.startswith("sha256 ") and len(digest) == 7 + 64
    assert told.startswith(f"English: en-{REAL.name.removeprefix('en-')}-") and "is in use" in told
    assert held == "It was loaded and listens; hearing takes 130 MB of memory (little for this computer)"
    installed = listed()["en"]["models"][1]
    assert (installed["in_use"], installed["memory_bytes"], installed["origin"]) == (True, HELD, "installed")
    assert said("use", "shipped").exit_code == 0
    assert [one["in_use"] for one in listed()["en"]["models"]] == [True, False]
    assert said("use", installed["name"]).exit_code == 0
    assert model("en", folder) == Path(installed["path"])
    elsewhere = tmp_path / "stick" / "en"
    elsewhere.parent.mkdir()
    elsewhere.symlink_to(REAL)
    assert said("use", str(elsewhere)).exit_code == 0
    assert [one["origin"] for one in listed()["en"]["models"]] == ["shipped", "installed", "elsewhere"]
    assert "en: stands elsewhere, " in said("list").output


def test_a_download_tells_how_far_it_is_and_its_checksum(folder: Path) -> None:
    content = packed()
    with serving(content) as web:
        done = said("install", web.url)
    lines = done.output.splitlines()
    assert f"{len(content) / 1e6:.1f} of {len(content) / 1e6:.1f} MB" in lines
    assert 3 <= sum(" of " in line and line.endswith(" MB") for line in lines) <= 13
    assert model("en", folder) != SHIPPED / "en"


def test_offline_is_one_sentence_and_its_own_code(folder: Path) -> None:
    with serving(packed()) as web:
        web.cuts = [200_000]
        assert failed("install", web.url)[0] == 5
    code, sentence = failed("install", web.url)
    assert (code, sentence) == (5, "no connection: what was fetched is kept (0.2 MB); run it again")
    assert model("en", folder) == SHIPPED / "en"


def test_what_cannot_be_taken_is_one_sentence_and_code_2(tmp_path: Path) -> None:
    assert failed("install", "nowhere.zip") == (2, "nowhere.zip: there is no such folder or file")
    code, sentence = failed("use", str(standing(tmp_path / "x-en", {"readme": b"x"})))
    assert (code, sentence.split(": ", 1)[1]) == (2, "vosk cannot use it: there is no final.mdl in it")
    assert said("install", str(REAL), "--language", "fr").exit_code == 2
    assert said("use", "shipped", "--language", "xx").exit_code == 2


def test_a_whole_process_ends_with_that_code_and_no_trace() -> None:
    outcome = run_lines(python("-m", "bot.cli", "models", "install", "nowhere.zip"), [])
    assert (outcome.returncode, outcome.lines) == (2, ())
    assert outcome.errors == "nowhere.zip: there is no such folder or file\n"


def test_each_failure_has_its_exit_code() -> None:
    errors = (ModelRefused("a", "b"), FetchFailed("a", 1), ShelfFailed(Path("a"), "b"))
    assert [cli.exit_code(error) for error in errors] == [2, 5, 5]


def test_the_setting_decides_who_hears(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("ROWHAND_RECOGNIZER", "pocketsphinx")
    found = listed()
    assert (found["en"]["engine"], found["es"]["engine"]) == ("pocketsphinx", None)
    assert not any(one["in_use"] for one in found["en"]["models"])
    assert "English: heard with PocketSphinx" in said("list").output
    assert "rowhand models install SOURCE --language es" in found["es"]["advice"]
    assert "Spanish: typed only" in said("list").output


def test_a_model_that_is_torn_is_told(folder: Path) -> None:
    standing(folder / "installed" / "es-torn", {"am/final.mdl": b"x"})
    _, torn = listed()["es"]["models"]
    assert torn["fault"] == "conf/mfcc.conf is missing or empty"
    assert "es-torn: installed, 0 MB, cannot be used: conf/mfcc.conf" in said("list").output


@pytest.mark.parametrize(
    ("held", "told"),
    [
        (150e6, "hearing takes 150 MB of memory (little for this computer)"),
        (4e9, "hearing takes 4.0 GB of memory (not too much for this computer)"),
        (6e9, "hearing takes 6.0 GB of memory (much for this computer; close other programs)"),
    ],
)
def test_memory_is_told_for_this_computer(held: float, told: str) -> None:
    assert models._memory(int(held)) == told


def test_hearing_takes_the_installed_model(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    said("install", str(REAL), "--language", "en")
    heard = CliRunner().invoke(cli.app, ["hear", "--engine", "vosk", "--json", "demo/voice/done.ogg"])
    assert json.loads(heard.output)["engine"] == "vosk"
    chosen = choose("en", "vosk", folder)
    assert chosen.folder == model("en", folder)  # type: ignore[attr-defined]
