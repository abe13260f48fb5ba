"""The start scripts: what they install, what they reuse, and the one line they say when they cannot work."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests.helpers.checkout import Checkout, checkout


@pytest.fixture
def farm(tmp_path: Path) -> Checkout:
    return checkout(tmp_path)


def test_first_start_installs_hashed_sections_in_turn_then_rowhand_and_plays(farm: Checkout) -> None:
    done = farm.start("demo/run", "--text", "a b")
    assert (done.returncode, done.stdout) == (0, f"demo --text a b\n{farm.root}/.venv/models\n")
    venv, build, run, third, rowhand, model = farm.steps()
    assert venv == "venv"
    for step, section in ((build, "build"), (run, "run"), (third, "ears")):
        assert f"--require-hashes -r {farm.root}/.venv/{section}.txt" in step
    assert f"--no-deps --no-index --editable {farm.root}" in rowhand
    assert model == "rowhand models install ears"
    assert (farm.root / ".venv/run.txt").read_text().split() == ["#", "[run]", "two==2", "three==3"]


def test_second_start_reuses_what_is_there(farm: Checkout) -> None:
    farm.start("demo/run")
    before = farm.steps()
    again = farm.start("demo/run")
    assert (again.stdout, again.stderr) == (f"demo\n{farm.root}/.venv/models\n", "")
    assert farm.steps() == before


def test_tests_run_adds_the_test_section_and_the_demo_keeps_it(farm: Checkout) -> None:
    assert farm.start("tests/run", "-k", "laws").stdout == "pytest -k laws\n"
    assert farm.start("tests/run").stdout == "pytest -n 3 --dist worksteal\n"
    assert [step for step in farm.steps() if "test.txt" in step]
    before = farm.steps()
    farm.start("demo/run")
    assert farm.steps() == before


def test_changed_pins_are_installed_into_the_same_environment(farm: Checkout) -> None:
    farm.start("demo/run")
    with (farm.root / "constraints.txt").open("a", encoding="utf-8") as pins:
        pins.write("six==6\n")
    assert farm.start("demo/run").returncode == 0
    assert farm.steps().count("venv") == 1
    assert len(farm.steps()) == 10


def test_a_moved_checkout_makes_its_environment_anew(farm: Checkout, tmp_path: Path) -> None:
    farm.start("demo/run")
    moved = Checkout(farm.root.rename(tmp_path / "elsewhere"), farm.tools, farm.asked)
    assert moved.start("demo/run").returncode == 0
    assert moved.steps().count("venv") == 2


@pytest.mark.campaign
def test_an_interrupted_start_is_not_reused(farm: Checkout) -> None:
    stopped = farm.interrupt("demo/run")
    assert stopped.returncode == 130
    assert stopped.stderr.splitlines()[-1] == "rowhand: stopped; start again to go on"
    assert "failed" not in stopped.stderr
    assert farm.start("demo/run").returncode == 0
    assert farm.steps().count("venv") == 2


def test_a_script_reached_by_a_link_finds_its_checkout(farm: Checkout, tmp_path: Path) -> None:
    link = tmp_path / "play it"
    link.symlink_to(farm.root / "demo/run")
    assert farm.start(link).stdout.startswith("demo\n")


def test_without_the_third_opinion_the_demo_plays_and_asks_for_it_no_more(farm: Checkout) -> None:
    done = farm.start("demo/run", pip="deaf")
    assert (done.returncode, done.stdout) == (0, "demo\n")
    assert "could not be fetched" in done.stderr
    assert farm.start("demo/run").stdout == "demo\n"
    assert farm.steps().count("rowhand models install ears") == 1


def test_models_that_were_named_are_those_that_are_used(farm: Checkout) -> None:
    farm.start("demo/run")
    assert farm.start("demo/run", models="/mine").stdout == "demo\n/mine\n"


@pytest.mark.parametrize(
    ("python", "says"),
    [
        (None, "Python 3.11 or newer is needed; none was found"),
        (
            "#!/bin/sh\n[ $1 = -V ] && echo Python 3.9.2\nexit 11\n",
            "Python 3.11 or newer is needed; python3 is Python 3.9.2",
        ),
        ("#!/bin/sh\nexit 12\n", "python3 has no venv module; install it"),
    ],
    ids=["no python", "too old", "no venv"],
)
def test_a_missing_python_is_said_in_one_line(farm: Checkout, python: str | None, says: str) -> None:
    farm.python(python)
    done = farm.start("demo/run")
    assert done.returncode == 69
    assert done.stderr.startswith(f"rowhand: {says}")
    assert len(done.stderr.splitlines()) == 1
    assert not (farm.root / ".venv").exists()


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ("sys.version_info = (3, 10)", "Python 3.11 or newer is needed"),
        ("sys.modules['ensurepip'] = None", "no venv module"),
    ],
)
def test_the_check_of_a_python_reads_its_version_and_modules(farm: Checkout, change: str, says: str) -> None:
    farm.python(f'#!/bin/sh\nexec "{sys.executable}" -c "import sys; {change}; exec(sys.argv[2])" "$@"\n')
    assert says in farm.start("demo/run").stderr


@pytest.mark.parametrize(("pip", "code", "says"), [("offline", 69, "no network"), ("broken", 70, "no such thing")])
def test_a_failed_install_says_why_and_is_not_reused(farm: Checkout, pip: str, code: int, says: str) -> None:
    done = farm.start("demo/run", pip=pip)
    assert done.returncode == code
    assert says in done.stderr.splitlines()[-1]
    assert not list((farm.root / ".venv").glob("*.stamp"))
    assert farm.start("demo/run").returncode == 0
