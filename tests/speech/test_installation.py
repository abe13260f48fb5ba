"""A model comes onto the shelf whole and proved, or not at all, wherever the process is killed."""

from __future__ import annotations

import hashlib
import multiprocessing
import os
import random
import signal
import subprocess
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from demo.recording import FOLDER
from engine.data.forms import number_words
from speech import recognizer_choice
from speech.audio import decode
from speech.errors import FetchFailed, ModelBroken, ModelRefused, ShelfFailed
from speech.shelf import archive, download, installation
from speech.shelf.download import Partial
from speech.shelf.installation import install, language_of, use
from speech.shelf.model_probe import ProbeResult, _ended, prove
from speech.shelf.model_store import FRESH, SHIPPED, ModelChoice, Shelf
from speech.vosk import VoskRecognizer
from tests.helpers.file_server import serving
from tests.helpers.process import ROOT, python
from tests.helpers.speech_models import LOOKS, REAL, packed, standing, zipped

GRAMMAR = "#JSGF V1.0; grammar g; public <say> = done | scratch that | yes | no;"
PACKED = packed()
INSTALL = """
import sys
from pathlib import Path
from speech.recognizer_choice import shelf
from speech.shelf.installation import install
numbers = {"en": ["one", "two", "three"], "es": ["uno", "dos", "tres"]}
install(shelf(Path(sys.argv[1]), numbers), sys.argv[2])
"""
NUMBERS = number_words()
DIGEST = hashlib.sha256(PACKED).hexdigest()


@pytest.fixture
def shelf(tmp_path: Path) -> Shelf:
    return recognizer_choice.shelf(tmp_path / "models", NUMBERS)


@pytest.fixture
def proved(monkeypatch: pytest.MonkeyPatch) -> None:
    """The proof is tried by tests of its own; here it is quick and finds nothing wrong."""
    monkeypatch.setattr(installation, "prove", lambda folder, language, words: ProbeResult(100_000_000, speaks=True))


@pytest.fixture
def zip_file(tmp_path: Path) -> Path:
    path = tmp_path / "a-model-en.zip"
    path.write_bytes(PACKED)
    return path


def fresh(shelf: Shelf) -> list[str]:
    return [path.name for path in shelf.installed.glob(f"{FRESH}*")]


def nothing_changed(shelf: Shelf) -> bool:
    shipped = recognizer_choice.SHIPPED / "en"
    return recognizer_choice.model("en", shelf.folder) == shipped and list(shelf.installed.glob("*")) == []


def test_a_model_from_a_zip_file_without_a_lexicon_hears(shelf: Shelf, tmp_path: Path) -> None:
    source = tmp_path / "a-model.zip"
    source.write_bytes(packed("any-name", without="lexicon.txt"))
    digests: list[str] = []
    made = install(shelf, str(source), "en", checked=digests.append)
    assert digests == [made.sha256] == [hashlib.sha256(source.read_bytes()).hexdigest()]
    assert made.memory_bytes and 20e6 < made.memory_bytes < 2e9
    assert fresh(shelf) == []
    ears_ = recognizer_choice.choose("en", "vosk", shelf.folder)
    assert isinstance(ears_, VoskRecognizer)
    assert ears_.folder == made.path.resolve()
    assert ears_.transcribe(decode(FOLDER / "done.ogg"), "en", GRAMMAR).text == "done"


def test_broken_models_are_refused_by_loading_them(tmp_path: Path) -> None:
    with pytest.raises(ModelBroken, match=r"cannot be loaded: .+"):
        prove(standing(tmp_path / "looks"), "en", NUMBERS["en"])


@pytest.mark.parametrize(("code", "why"), [(-9, "may need more memory"), (-11, "signal 11"), (1, "code 1")])
def test_a_model_that_takes_its_process_along(code: int, why: str) -> None:
    assert why in _ended(code)


def test_a_model_cut_in_half(tmp_path: Path) -> None:
    cut = standing(tmp_path / "cut", {p.relative_to(REAL).as_posix(): p.read_bytes()[: p.stat().st_size // 2]
                                      for p in REAL.rglob("*") if p.is_file()})  # fmt: skip
    with pytest.raises(ModelBroken, match=r"cannot be loaded: .+"):
        prove(cut, "en", NUMBERS["en"])


def test_a_model_that_never_ends_loading() -> None:
    with pytest.raises(ModelBroken, match="did not load within 0 s"):
        prove(REAL, "en", NUMBERS["en"], longest_s=0.01)


def test_a_model_of_another_language_is_refused_and_its_download_kept(shelf: Shelf) -> None:
    with serving(PACKED) as web:
        with pytest.raises(ModelRefused, match="is it a model of another language"):
            install(shelf, web.url, "es")
        assert Partial(shelf.fetched, web.url).complete
        assert recognizer_choice.model("es", shelf.folder) == recognizer_choice.SHIPPED / "es"
    assert fresh(shelf) == []


@pytest.mark.usefixtures("proved")
def test_from_a_folder_from_a_file_and_from_the_web(shelf: Shelf, zip_file: Path) -> None:
    folder = install(shelf, str(REAL), "en")
    assert folder.sha256 == archive.sealed(folder.path) == archive.sealed(REAL)
    by_file = install(shelf, str(zip_file), sha256=DIGEST.upper())
    with serving(PACKED) as web:
        by_web = install(shelf, web.url, sha256=DIGEST)
    assert by_web == by_file
    assert by_file.name == f"en-a-model-en-{DIGEST[:8]}"
    assert recognizer_choice.model("en", shelf.folder) == by_file.path != folder.path
    assert folder.path.is_dir()
    assert list(shelf.fetched.iterdir()) == []


@pytest.mark.usefixtures("proved")
def test_a_wrong_checksum_installs_nothing_and_is_fetched_anew(shelf: Shelf, zip_file: Path) -> None:
    with pytest.raises(ModelRefused, match=f"its checksum is {DIGEST}"):
        install(shelf, str(zip_file), sha256="0" * 64)
    with pytest.raises(ModelRefused, match="64 characters"):
        install(shelf, str(zip_file), sha256=DIGEST[1:])
    with serving(PACKED) as web:
        with pytest.raises(ModelRefused, match="its checksum is"):
            install(shelf, web.url, sha256="0" * 64)
        assert not Partial(shelf.fetched, web.url).size
    assert zip_file.is_file()
    assert nothing_changed(shelf)


@pytest.mark.parametrize(
    ("files", "why"),
    [
        ({"a-en/am/final.mdl": b"x"}, "conf/mfcc.conf is missing"),
        ({f"a-en/{name}": content for name, content in LOOKS.items()}, "vosk cannot use it"),
        ({"a-en/readme": b"x"}, "no Vosk model"),
    ],
)
def test_what_is_no_model_is_refused_and_not_kept(shelf: Shelf, files: dict[str, bytes], why: str) -> None:
    with serving(zipped(files)) as web:
        with pytest.raises(ModelRefused, match=why) as failed:
            install(shelf, web.url)
        assert str(failed.value).startswith(web.url)
        assert not Partial(shelf.fetched, web.url).size
    assert nothing_changed(shelf)


def test_a_joined_file_that_is_damaged_is_fetched_anew(shelf: Shelf, proved: None) -> None:
    torn = bytearray(PACKED)
    torn[len(torn) // 2] ^= 0xFF
    with serving(bytes(torn)) as web:
        with pytest.raises(ModelRefused, match="damaged"):
            install(shelf, web.url)
        assert nothing_changed(shelf)
        web.content = PACKED
        assert install(shelf, web.url).sha256 == DIGEST


def test_models_too_large_for_this_computer(shelf: Shelf, zip_file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(installation, "computer_bytes", lambda: 1_000_000)
    with pytest.raises(ModelRefused, match=r"this computer has 0\.0 GB of memory"):
        install(shelf, str(zip_file))
    monkeypatch.setattr(installation, "SPARE_BYTES", 2**60)
    with pytest.raises(ShelfFailed, match="the disk has"):
        install(shelf, str(zip_file))
    assert nothing_changed(shelf)


@pytest.mark.parametrize("source", ["nowhere.zip", "ftp://farm.example/a-en.zip", "file:///etc/passwd", "http://", ""])
def test_sources_that_are_none(shelf: Shelf, source: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    with pytest.raises(ModelRefused):
        install(shelf, source, "en")
    assert nothing_changed(shelf)


@pytest.mark.parametrize(
    ("name", "language"),
    [("a-model-en-us-2", "en"), ("es", "es"), ("Model_ES.zip", "es"), ("tiny-en-es", None), ("pens", None), ("", None)],
)
def test_the_language_in_a_name(name: str, language: str | None) -> None:
    assert language_of(name, NUMBERS) == language


def test_a_name_without_a_language_asks_for_it(shelf: Shelf, tmp_path: Path) -> None:
    source = tmp_path / "model.zip"
    source.write_bytes(packed("model"))
    with pytest.raises(ModelRefused, match="give --language en or --language es"):
        install(shelf, str(source))
    assert nothing_changed(shelf)


def test_use_and_back(shelf: Shelf, tmp_path: Path, proved: None, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "stick-en").symlink_to(REAL)
    monkeypatch.chdir(tmp_path)
    use(shelf, "stick-en", "en")
    assert recognizer_choice.model("en", shelf.folder) == tmp_path / "stick-en"
    made = install(shelf, str(REAL), "en")
    use(shelf, SHIPPED, "en")
    assert recognizer_choice.model("en", shelf.folder) == recognizer_choice.SHIPPED / "en"
    assert use(shelf, made.name) == ModelChoice(f"installed/{made.name}", 100_000_000)
    assert recognizer_choice.model("en", shelf.folder) == made.path


@pytest.mark.parametrize("place", ["nowhere-en", "../en", "readme-en"])
def test_use_of_what_is_no_model_keeps_the_choice(shelf: Shelf, tmp_path: Path, place: str, proved: None) -> None:
    standing(tmp_path / "readme-en", {"readme": b"x"})
    use(shelf, str(REAL), "en")
    before = shelf.choice("en")
    with pytest.raises(ModelRefused, match="vosk cannot use it"):
        use(shelf, str(tmp_path / place), "en")
    with pytest.raises(ModelRefused, match="no model for 'fr'"):
        use(shelf, SHIPPED, "fr")
    assert shelf.choice("en") == before


STEPS: list[tuple[Any, str, int]] = [
    (archive, "_write", 1),
    (archive, "_write", 4),
    (installation, "prove", 1),
    (Shelf, "place", 1),
    (Shelf, "choose", 1),
]


def killed_before(owner: Any, name: str, nth: int, work: Callable[[], object]) -> int | None:
    """Do some work in a process that gets SIGKILL right before the ``nth`` call; its exit code."""

    def run() -> None:
        real, calls = getattr(owner, name), iter(range(1, nth))
        setattr(owner, name, lambda *given: real(*given) if next(calls, None) else os.kill(os.getpid(), signal.SIGKILL))
        work()

    process = multiprocessing.get_context("fork").Process(target=run)
    process.start()
    process.join(60)
    return process.exitcode


@pytest.mark.parametrize(("owner", "name", "nth"), STEPS)
def test_killed_at_any_step_leaves_the_old_model_in_use_and_no_half_one(
    shelf: Shelf, zip_file: Path, proved: None, owner: Any, name: str, nth: int
) -> None:
    assert killed_before(owner, name, nth, lambda: install(shelf, str(zip_file))) == -signal.SIGKILL
    assert recognizer_choice.model("en", shelf.folder) == recognizer_choice.SHIPPED / "en"
    assert all(archive.sealed(path) == archive.sealed(REAL) for path in shelf.installed.glob("en-*"))
    made = install(shelf, str(zip_file))
    assert fresh(shelf) == []
    assert [path.name for path in shelf.installed.iterdir()] == [made.name]
    assert recognizer_choice.model("en", shelf.folder) == made.path


def test_killed_in_the_middle_of_a_download_goes_on_there(shelf: Shelf, proved: None) -> None:
    stuffing = random.Random(3).randbytes(4_000_000)
    content = zipped({f"a-model-en/{p.relative_to(REAL)}": p.read_bytes() for p in REAL.rglob("*") if p.is_file()}
                     | {"a-model-en/stuffing": stuffing})  # fmt: skip
    with serving(content) as web:
        web.pause_s = 0.02
        partial = Partial(shelf.fetched, web.url)
        process = subprocess.Popen(python("-c", INSTALL, str(shelf.folder), web.url), cwd=ROOT)
        deadline = time.monotonic() + 60
        while partial.size < 1_000_000 and time.monotonic() < deadline:
            time.sleep(0.01)
        process.kill()
        assert process.wait() == -signal.SIGKILL
        kept, web.pause_s = partial.size, 0.0
        assert 1_000_000 <= kept < len(content)
        assert partial.path.read_bytes() == content[:kept]
        made = install(shelf, web.url)
        assert web.asked == [None, f"bytes={kept}-"]
    assert made.sha256 == hashlib.sha256(content).hexdigest()
    assert (made.path / "stuffing").read_bytes() == stuffing


def test_offline_keeps_what_is_there(shelf: Shelf, proved: None, monkeypatch: pytest.MonkeyPatch) -> None:
    with serving(PACKED) as web:
        web.cuts = [1_000]
        url = web.url
        monkeypatch.setattr(download, "PAUSES_S", ())
        with pytest.raises(FetchFailed):
            install(shelf, url)
    with pytest.raises(FetchFailed, match=r"^no connection: what was fetched is kept"):
        install(shelf, url)
    assert nothing_changed(shelf)
