"""What the tracked tree promises: its top level, the size of its parts, and what no file may name."""

from __future__ import annotations

import ast
import re
import subprocess
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import TypeAlias

import pytest

ROOT = Path(__file__).parents[2]
TOP = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "constraints.txt"}
ROOMS = {"bot", "speech", "engine", "tests", "dialogs", "demo"}
HOSTS = "|".join(
    ("pypi" + r"\.org", "pythonhosted" + r"\.org", "npmjs" + r"\.org", "deb" + r"\.debian", "/" + "simple/")
)
PLACES = "|".join(re.escape(f"/{folder}/") for folder in ("work", "root", "home", "tmp", "Users"))
LONGEST_MODULE, LONGEST_FUNCTION, MOST_ARGUMENTS = 300, 60, 7
COMMANDS = {
    "bot/bench/shift.py:simulate",
    "bot/bench/trial.py:trial",
    "bot/bench/voice.py:voice",
    "bot/calculator/calc.py:rate_command",
    "bot/calculator/calc.py:target_command",
}


Definition: TypeAlias = ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef


def tracked() -> list[Path]:
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode != 0:
        pytest.skip("not a git checkout: no list of tracked files")
    return [ROOT / name for name in listed.stdout.split("\0") if name and (ROOT / name).is_file()]


def texts() -> Iterator[tuple[str, str]]:
    for path in tracked():
        try:
            yield path.relative_to(ROOT).as_posix(), path.read_text(encoding="utf-8")
        except UnicodeDecodeError:
            continue


def modules() -> list[Path]:
    found = [path for path in tracked() if path.suffix == ".py"]
    assert len(found) > 50
    return found


@cache
def definitions() -> tuple[tuple[Path, Definition], ...]:
    """Every class and function with its file; reading all of them takes seconds."""
    return tuple((path, node) for path in modules() for node in defined_in(ast.parse(path.read_text(encoding="utf-8"))))


def defined_in(node: ast.AST) -> Iterator[Definition]:
    """The classes and functions in a piece of code, also those in statements; not in expressions, which hold none."""
    for part in ("body", "orelse", "finalbody", "handlers", "cases"):
        for one in getattr(node, part, ()) if not isinstance(node, ast.expr) else ():
            if isinstance(one, Definition):
                yield one
            yield from defined_in(one)


def places(pattern: str) -> list[str]:
    """Each line of a tracked text that matches, as file, number and line."""
    return [
        f"{name}:{number}: {line.strip()[:100]}"
        for name, text in texts()
        for number, line in enumerate(text.splitlines(), 1)
        if re.search(pattern, line)
    ]


def test_top_level_holds_the_rooms_and_the_named_files() -> None:
    names = {path.relative_to(ROOT).parts[0] for path in tracked()}
    visible = {name for name in names if not name.startswith(".")}
    assert visible <= TOP | ROOMS
    assert visible >= ROOMS


def test_no_file_names_a_package_index() -> None:
    assert places(HOSTS) == []


def test_no_file_names_a_place_of_one_machine() -> None:
    assert [place for place in places(PLACES) if not place.startswith("README.md")] == []


def test_models_and_recorded_voices_have_their_licence_beside_them() -> None:
    foreign = [path for path in tracked() if path.suffix in {".ogg", ".wav", ".flac", ".mdl", ".fst"}]
    assert len(foreign) > 20
    noticed = {path.parent for path in tracked() if path.name == "LICENCE.md"}
    assert [path for path in foreign if not noticed & {*path.parents}] == []


def test_dialogs_hold_no_python() -> None:
    assert [path for path in modules() if path.is_relative_to(ROOT / "dialogs")] == []


def test_modules_stay_short() -> None:
    sizes = {path.relative_to(ROOT): len(path.read_text(encoding="utf-8").splitlines()) for path in modules()}
    assert {path: size for path, size in sizes.items() if size > LONGEST_MODULE} == {}


def test_functions_stay_short() -> None:
    lengths = {
        f"{path.relative_to(ROOT)}:{node.name}": (node.end_lineno or node.lineno) - node.lineno + 1
        for path, node in definitions()
        if not isinstance(node, ast.ClassDef)
    }
    assert len(lengths) > 5000
    assert {name: length for name, length in lengths.items() if length > LONGEST_FUNCTION} == {}


def test_functions_have_few_arguments() -> None:
    """A command has as many as it has options; anything else has a type for them."""
    many = {
        f"{path.relative_to(ROOT)}:{node.name}"
        for path, node in definitions()
        if not path.is_relative_to(ROOT / "tests") and not isinstance(node, ast.ClassDef)
        if _arguments(node) > MOST_ARGUMENTS
    }
    assert many - COMMANDS == set()
    assert len(many) == len(COMMANDS), "a command that has few options needs no exception"


def _arguments(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    named = [one.arg for one in (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs)]
    return len([one for one in named if one not in ("self", "cls")])


def test_a_class_has_a_name_of_its_own() -> None:
    """Who searches for a name finds one thing; a name with a leading line is of its module alone."""
    named = Counter(
        node.name
        for path, node in definitions()
        if isinstance(node, ast.ClassDef) and not path.is_relative_to(ROOT / "tests") and not node.name.startswith("_")
    )
    assert len(named) > 500
    assert {name: often for name, often in named.items() if often > 1} == {}


def test_modules_are_named_after_what_they_are() -> None:
    vague = {"utils", "util", "helpers", "helper", "manager", "misc", "common"}
    rooms = [path for path in modules() if not path.is_relative_to(ROOT / "tests")]
    assert [path for path in rooms if vague & {*path.relative_to(ROOT).with_suffix("").parts}] == []
