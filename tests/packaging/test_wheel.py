"""The wheel: built, unpacked somewhere else, and used from there with nothing of the checkout in reach."""

from __future__ import annotations

import subprocess
import sys
import sysconfig
import zipfile
from email import message_from_bytes
from pathlib import Path

import pytest
from trove_classifiers import classifiers

ROOT = Path(__file__).parents[2]
SCRIPTS = {"demo/run", "demo/venv.sh"}
ISOLATED = "import sys; sys.path[:0] = [sys.argv.pop(1)]; sys.path.append(sys.argv.pop(1)); "
PIP = [sys.executable, "-m", "pip", "--disable-pip-version-check", "--quiet"]


def run(*command: str, folder: Path = ROOT) -> str:
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


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
    packages = sysconfig.get_path("purelib")
    command = [sys.executable, "-I", "-S", "-c", ISOLATED + code, str(installed), packages, *arguments]
    return run(*command, folder=installed)


def test_wheel_carries_every_tracked_file_of_the_rooms(wheel: Path) -> None:
    rooms = ["bot", "speech", "engine", "dialogs", "demo"]
    tracked = subprocess.run(["git", "ls-files", *rooms], cwd=ROOT, capture_output=True, text=True, check=False)
    if tracked.returncode != 0:
        pytest.skip("not a git checkout: no list of tracked files")
    wanted = {name for name in tracked.stdout.splitlines() if (ROOT / name).exists()} - SCRIPTS
    assert len(wanted) > 50
    assert wanted - set(zipfile.ZipFile(wheel).namelist()) == set()


def test_wheel_carries_no_tests_and_no_scripts(wheel: Path) -> None:
    names = set(zipfile.ZipFile(wheel).namelist())
    assert {name.split("/")[0] for name in names if ".dist-info" not in name} == {
        "bot",
        "speech",
        "engine",
        "dialogs",
        "demo",
    }
    assert names & SCRIPTS == set()


def test_wheel_says_whose_it_is_and_carries_the_licences_of_what_is_not(wheel: Path) -> None:
    archive = zipfile.ZipFile(wheel)
    (name,) = [one for one in archive.namelist() if one.endswith(".dist-info/METADATA")]
    head = message_from_bytes(archive.read(name))
    assert (head["Author"], head["License-Expression"]) == ("the Rowhand contributors", "Apache-2.0")
    assert head.get_all("License-File") == ["LICENSE", "demo/voice/LICENCE.md", "speech/models/LICENCE.md"]
    assert head["Keywords"] and set(head.get_all("Classifier", [])) <= classifiers
    assert head.get_all("Project-URL") is None, "there is no page yet to lead to"


def test_data_is_found_where_the_wheel_lies(installed: Path) -> None:
    code = (
        "import engine.quantities, engine.languages as languages; from pathlib import Path; "
        "print(engine.quantities.__file__); print(languages.dialogs_directory()); "
        "print(*sorted(p.name for p in languages.dialogs_directory().glob('e*/*.yaml')))"
    )
    module, directory, names = python(installed, code).splitlines()
    assert Path(module).is_relative_to(installed)
    assert Path(directory).is_relative_to(installed)
    assert {"vocabulary.yaml", "forms.yaml", "units.yaml"} <= set(names.split())


def test_the_command_line_works_from_the_wheel(installed: Path) -> None:
    code = "sys.argv[0] = 'rowhand'; from bot.cli import main; main()"
    assert "calc" in python(installed, code, "--help")
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
