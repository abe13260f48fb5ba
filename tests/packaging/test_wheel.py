"""The wheel: built, unpacked somewhere else, and used from there with nothing of the checkout in reach."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import sysconfig
import zipfile
from collections.abc import Callable
from email import message_from_bytes
from importlib import metadata
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from trove_classifiers import classifiers

ROOT = Path(__file__).parents[2]
LABORATORY = ("bot/bench/", "engine/simulation/", "speech/training/")
ISOLATED = "import sys; sys.path[:0] = [sys.argv.pop(1)]; sys.path.append(sys.argv.pop(1)); "
QUIET = {**os.environ, "NO_COLOR": "1", "COLUMNS": "120"}
PIP = [sys.executable, "-m", "pip", "--disable-pip-version-check", "--quiet"]


COMMAND = "sys.argv[0] = 'rowhand'; from bot.cli import main; main()"
NOTHING_MORE = """
from importlib.machinery import PathFinder
lacking = set(sys.argv.pop(1).split())
class Lacking:
    @staticmethod
    def find_spec(name, path=None, target=None):
        return None if name.partition(".")[0] in lacking else PathFinder.find_spec(name, path, target)
sys.meta_path[:] = [Lacking if finder is PathFinder else finder for finder in sys.meta_path]
"""


def run(*command: str, folder: Path = ROOT) -> str:
    done = finished(*command, folder=folder)
    assert done.returncode == 0, done.stderr
    return done.stdout


def finished(
    *command: str, folder: Path, said: str = "", database: str = ":memory:"
) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        command,
        cwd=folder,
        input=said,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
        env={**QUIET, "ROWHAND_DATABASE": database},
    )


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    run(*PIP, "wheel", "--no-deps", "--no-build-isolation", "--no-index", "--wheel-dir", str(folder), str(ROOT))
    return next(folder.glob("rowhand-*.whl"))


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("installed")
    run(*PIP, "install", "--no-deps", "--no-index", "--target", str(folder), str(wheel))
    return folder


def python(installed: Path, code: str, *arguments: str) -> str:
    """Run code that sees the installed wheel and its dependencies, and nothing of the checkout."""
    return run(*isolated(installed, code), *arguments, folder=installed)


def isolated(installed: Path, code: str) -> list[str]:
    return [sys.executable, "-I", "-S", "-c", ISOLATED + code, str(installed), sysconfig.get_path("purelib")]


@pytest.fixture(scope="module")
def text_only(installed: Path) -> Callable[..., subprocess.CompletedProcess[str]]:
    """Run a command of the wheel where only what it requires without extras can be imported."""
    lacking = " ".join(sorted(beyond(needed(metadata.Distribution.at(next(installed.glob("*.dist-info")))))))
    assert {"telegram", "vosk", "reportlab"} <= {*lacking.split()}

    def asked(*arguments: str, **given: str) -> subprocess.CompletedProcess[str]:
        return finished(*isolated(installed, NOTHING_MORE + COMMAND), lacking, *arguments, folder=installed, **given)

    return asked


def needed(one: metadata.Distribution) -> set[str]:
    """The names of all packages that this one brings when it is installed without an extra."""
    found: set[str] = set()
    waiting = [(one, "")]
    while waiting:
        held, extra = waiting.pop()
        for wanted in map(Requirement, held.requires or ()):
            if wanted.marker is None or wanted.marker.evaluate({"extra": extra}):
                name = canonicalize_name(wanted.name)
                if name not in found:
                    found.add(name)
                    there = metadata.distribution(name)
                    waiting += [(there, more) for more in ("", *wanted.extras)]
    return found


def beyond(names: set[str]) -> set[str]:
    """The modules of this environment that none of these packages brings."""
    brought = metadata.packages_distributions()
    return {module for module, by in brought.items() if not {*map(canonicalize_name, by)} & (names | {"rowhand"})}


def test_wheel_carries_every_tracked_file_of_the_rooms_but_the_laboratory(wheel: Path) -> None:
    rooms = ["bot", "speech", "engine", "dialogs"]
    tracked = subprocess.run(["git", "ls-files", *rooms], cwd=ROOT, capture_output=True, text=True, check=False)
    if tracked.returncode != 0:
        pytest.skip("not a git checkout: no list of tracked files")
    there = {name for name in tracked.stdout.splitlines() if (ROOT / name).exists()}
    laboratory = {name for name in there if name.startswith(LABORATORY)}
    assert all(any(name.startswith(part) for name in laboratory) for part in LABORATORY)
    carried = set(zipfile.ZipFile(wheel).namelist())
    assert len(there) > 300
    assert (there - laboratory) - carried == set()
    assert laboratory & carried == set()


def test_wheel_carries_no_tests_and_no_demo(wheel: Path) -> None:
    names = set(zipfile.ZipFile(wheel).namelist())
    assert {name.split("/")[0] for name in names if ".dist-info" not in name} == {
        "bot",
        "speech",
        "engine",
        "dialogs",
    }


def test_wheel_says_whose_it_is_and_carries_the_licences_of_what_is_not(wheel: Path) -> None:
    archive = zipfile.ZipFile(wheel)
    (name,) = [one for one in archive.namelist() if one.endswith(".dist-info/METADATA")]
    head = message_from_bytes(archive.read(name))
    assert (head["Author"], head["License-Expression"]) == ("the Rowhand contributors", "Apache-2.0")
    assert head.get_all("License-File") == ["LICENSE", "speech/models/LICENCE-CMUDICT.txt", "speech/models/LICENCE.md"]
    assert head["Keywords"] and set(head.get_all("Classifier", [])) <= classifiers
    assert head.get_all("Project-URL") is None, "there is no page yet to lead to"


def test_data_is_found_where_the_wheel_lies(installed: Path) -> None:
    code = (
        "import engine.quantities, engine.data.languages as languages; from pathlib import Path; "
        "print(engine.quantities.__file__); print(languages.dialogs_directory()); "
        "print(*sorted(p.name for p in languages.dialogs_directory().glob('e*/*.yaml')))"
    )
    module, directory, names = python(installed, code).splitlines()
    assert Path(module).is_relative_to(installed)
    assert Path(directory).is_relative_to(installed)
    assert {"vocabulary.yaml", "forms.yaml", "units.yaml"} <= set(names.split())


def test_the_command_line_works_from_the_wheel(installed: Path) -> None:
    code = COMMAND
    listed = python(installed, code, "--help")
    assert "The job" in listed and "Looking after it" in listed
    assert "Laboratory" not in listed and "bench" not in listed
    caught = python(
        installed,
        code,
        "calc",
        "target",
        "--rate",
        "8.712 lb/acre",
        "--spacing",
        "30 in",
        "--course",
        "300 ft",
        "--in",
        "g",
        "--json",
    )
    assert '"value": 68.04' in caught
    python(installed, code, "dialogs", "check")


@pytest.mark.parametrize("words", [["trial"], ["shift", "simulate", "--help"], ["bench", "voice"]])
def test_the_laboratory_asked_for_from_the_wheel_is_said_to_be_in_the_checkout(
    installed: Path, words: list[str]
) -> None:
    done = finished(*isolated(installed, COMMAND), *words, folder=installed)
    said = f"{words[0]} is of the laboratory, which comes with the checkout of Rowhand alone: run it there\n"
    assert (done.returncode, done.stdout, done.stderr) == (5, "", said)


@pytest.mark.campaign
def test_who_only_types_needs_no_extra(text_only: Callable[..., subprocess.CompletedProcess[str]]) -> None:
    talk = text_only("talk", said="set up\nhelp\nsummary\n")
    assert (talk.returncode, talk.stderr) == (0, "")
    assert talk.stdout.splitlines()[0] == "> set up" and len(talk.stdout.splitlines()) > 5
    for words in (["record", "rows"], ["record", "shifts", "--csv"], ["voice", "show"], ["calc", "--help"]):
        done = text_only(*words)
        assert (done.returncode, done.stderr) == (0, "")
    doctor = text_only("doctor", "--json")
    told = {one["subject"]: one for one in json.loads(doctor.stdout)["findings"]}
    assert told["speech"]["mark"] == told["chat"]["mark"] == "note"
    assert told["speech"]["todo"] == "pip install 'rowhand[speech]'"


@pytest.mark.parametrize(
    ("words", "extra"),
    [
        pytest.param(["hear", "a.wav"], "speech", marks=pytest.mark.campaign),
        (["say", "hello"], "speech"),
        pytest.param(["models", "list"], "speech", marks=pytest.mark.campaign),
        pytest.param(["voice", "learn"], "sound", marks=pytest.mark.campaign),
        pytest.param(["voice", "learn", "--recordings", "."], "speech", marks=pytest.mark.campaign),
        pytest.param(["handsfree"], "sound", marks=pytest.mark.campaign),
        (["telegram"], "chat"),
    ],
)
def test_what_lacks_an_extra_says_what_to_install(
    text_only: Callable[..., subprocess.CompletedProcess[str]], words: list[str], extra: str
) -> None:
    done = text_only(*words)
    assert (done.returncode, done.stdout) == (5, "")
    assert done.stderr.endswith(f"pip install 'rowhand[{extra}]'\n") and done.stderr.count("\n") == 1


def test_a_database_server_without_its_extra_says_what_to_install(
    text_only: Callable[..., subprocess.CompletedProcess[str]],
) -> None:
    done = text_only("invite", "Hill Farm", database="postgresql://nobody@localhost/none")
    assert (done.returncode, done.stdout) == (5, "")
    assert done.stderr.endswith("install Rowhand with its extra server: pip install 'rowhand[server]'\n")
