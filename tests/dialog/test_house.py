"""Every text of the house is said somewhere, and everywhere with the values that stand in it."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from bot.settings import load_settings
from bot.wiring import rules
from engine.dialog.house import Key, load_house

ROOT = Path(__file__).parents[2]
FILES = [
    path
    for room in ("engine", "bot")
    for path in sorted((ROOT / room).rglob("*.py"))
    if re.search(r"from engine\.dialog\.house import .*\bKey\b(?! as )", path.read_text(encoding="utf-8"))
]


@dataclass(frozen=True)
class Saying:
    """One call that says a text: ``values`` are the names passed, ``spread`` whether more come from a mapping."""

    key: Key
    values: frozenset[str]
    spread: bool
    place: str


def keys_in(node: ast.AST) -> set[Key]:
    """Keys named in an expression; those with a prefix where the name is put together."""
    found = set()
    for part in ast.walk(node):
        if isinstance(part, ast.Attribute) and isinstance(part.value, ast.Name) and part.value.id == "Key":
            found.add(Key[part.attr])
    return found


def prefixed(node: ast.AST, cases: ast.AST) -> set[Key]:
    """The keys that ``Key(f"prefix_{reason}")`` can make, by the reasons that its match case lists."""
    for part in ast.walk(node):
        if isinstance(part, ast.JoinedStr) and isinstance(part.values[0], ast.Constant):
            names = {name.attr.lower() for name in ast.walk(cases) if isinstance(name, ast.Attribute)}
            return {Key(f"{part.values[0].value}{name}") for name in names}
    return set()


def sayings(path: Path) -> Iterator[Saying]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for function in (node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)):
        for call in (node for node in ast.walk(function) if isinstance(node, ast.Call)):
            if isinstance(call.func, ast.Attribute) and call.func.attr == "say" and call.args:
                values = frozenset(keyword.arg for keyword in call.keywords if keyword.arg)
                spread = any(keyword.arg is None for keyword in call.keywords)
                for key in said_keys(tree, function, call):
                    yield Saying(key, values, spread, f"{path.name}:{call.lineno}")


def said_keys(tree: ast.Module, function: ast.FunctionDef, call: ast.Call) -> set[Key]:
    first = call.args[0]
    if not isinstance(first, ast.Name):
        return keys_in(first) | made_in_case(function, call)
    assigned = [node.value for node in ast.walk(function) if isinstance(node, ast.Assign) and names(node, first.id)]
    if assigned:
        return set().union(*(keys_in(value) for value in assigned))
    position = [argument.arg for argument in function.args.args].index(first.id)
    passed = [node for node in ast.walk(tree) if isinstance(node, ast.Call) and calls(node, function.name)]
    return set().union(*(keys_in(node.args[position]) for node in passed if len(node.args) > position))


def made_in_case(function: ast.FunctionDef, call: ast.Call) -> set[Key]:
    for case in (node for node in ast.walk(function) if isinstance(node, ast.match_case)):
        if any(part is call for part in ast.walk(case)):
            return prefixed(call.args[0], case.pattern)
    return set()


def names(assignment: ast.Assign, name: str) -> bool:
    return any(isinstance(target, ast.Name) and target.id == name for target in assignment.targets)


def calls(call: ast.Call, name: str) -> bool:
    return isinstance(call.func, ast.Name) and call.func.id == name


ALL = sorted((saying for path in FILES for saying in sayings(path)), key=lambda one: (one.place, one.key))


def test_the_sayings_were_found() -> None:
    assert len(ALL) > 60


@pytest.mark.parametrize("saying", ALL, ids=lambda saying: f"{saying.key}@{saying.place}")
def test_a_text_is_said_with_exactly_its_values(saying: Saying) -> None:
    wanted = load_house().texts[saying.key].names
    passed = saying.values | (rules(load_settings()).numbers.keys() if saying.spread else set())
    assert passed == wanted


def test_no_text_is_never_said() -> None:
    assert set(Key) - {saying.key for saying in ALL} == set()
