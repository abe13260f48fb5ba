"""What DEVELOPERS.md and the laboratory name is there, and what they must name is named."""

from __future__ import annotations

import ast
import importlib.util
import re

from typer.main import get_command

import engine.calculations.formulas  # noqa: F401
from bot import cli
from engine import errors
from engine.calculations.catalogue import formulas
from tests.docs.examples import LABORATORY, ROOT

GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
CODE = re.compile(r"^```.*?^```$", re.MULTILINE | re.DOTALL)
BOTH = CODE.sub("", GUIDE + LABORATORY.read_text(encoding="utf-8"))
NAMED = set(re.findall(r"`([^`\n]+)`", BOTH))
ROOMS = ("bot", "speech", "engine", "tests", "dialogs", "demo")


def paths() -> set[str]:
    return {name for name in NAMED if re.fullmatch(rf"(?:{'|'.join(ROOMS)})/[\w./-]*", name)}


def test_every_file_and_folder_named_is_there() -> None:
    assert len(paths()) > 50
    assert [name for name in sorted(paths()) if not (ROOT / name).exists()] == []


def test_every_room_of_the_map_is_there_and_every_room_is_on_the_map() -> None:
    drawn = re.search(r"### The map\n\n```text\n(.*?)```", GUIDE, re.DOTALL)
    assert drawn
    place, found = "", set()
    for indent, name in re.findall(r"^( *)(\w+)/", drawn[1], re.MULTILINE):
        place = f"{place.split('/', maxsplit=1)[0]}/{name}" if indent else name
        found.add(place)
    packages = {path.parent.relative_to(ROOT).as_posix() for path in ROOT.glob("engine/*/__init__.py")}
    assert {name for name in found if not (ROOT / name).is_dir()} == set()
    assert found >= packages | set(ROOMS)


def test_every_module_that_the_map_explains_is_in_its_room() -> None:
    drawn = re.search(r"### The map\n\n```text\n(.*?)```", GUIDE, re.DOTALL)
    assert drawn
    place, told, lost = "", 0, []
    for line in drawn[1].splitlines():
        if room := re.match(r"( *)(\w+)/", line):
            place = f"{place.split('/', maxsplit=1)[0]}/{room[2]}" if room[1] else room[2]
        for name in re.findall(r"(?:/ +|, |: |\(|^ +)(\w+) \(", line):
            told += 1
            if not (ROOT / place / f"{name}.py").exists():
                lost.append(f"{place}: {name}")
    assert told > 15
    assert lost == []


def test_the_map_names_every_module_that_stands_in_no_room() -> None:
    drawn = re.search(r"### The map\n\n```text\n.*?^engine/(.*?)^  data/", GUIDE, re.DOTALL | re.MULTILINE)
    assert drawn
    modules = {path.stem for path in (ROOT / "engine").glob("*.py")} - {"__init__"}
    assert modules - {*re.findall(r"\w+", drawn[1])} == set()
    underlined = set(re.findall(r"\w+_\w+", drawn[1]))
    assert underlined - modules == set(), "modules that are there no more"


NOT_IN_SHIFT = (
    "asyncio",
    "engine.assistant",
    "engine.database",
    "engine.history",
    "socket",
    "sqlalchemy",
    "sqlite3",
    "time",
)


def imported(room: str) -> set[str]:
    """The modules that the files of a room import."""
    found: set[str] = set()
    for path in (ROOT / room).rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                found |= {one.name for one in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module:
                found |= {node.module, *(f"{node.module}.{one.name}" for one in node.names)}
    return found


def below(modules: set[str], rooms: tuple[str, ...]) -> list[str]:
    return sorted(name for name in modules if any(name == room or name.startswith(f"{room}.") for room in rooms))


def test_the_arrows_of_the_shift_run_one_way() -> None:
    assert below(imported("engine/shift"), ("engine.dialog",))
    assert below(imported("engine/dialog"), ("engine.shift",)) == []
    assert below(imported("engine/shift"), NOT_IN_SHIFT) == []


def test_the_newcomer_reads_first_what_the_first_hour_needs() -> None:
    titles = re.findall(r"^##+ (.*)$", CODE.sub("", GUIDE), re.MULTILINE)
    assert titles[:4] == ["A newcomer's hour", "Run it", "The map", "One utterance"]
    assert titles[4].startswith("One recipe: ") and titles.index("Glossary") > titles.index("Recipes")


CHANNELS = ("telegram", "handsfree", "terminal", "page")


def test_no_channel_imports_another() -> None:
    for one in CHANNELS:
        others = tuple(f"bot.{name}" for name in CHANNELS if name != one)
        assert below(imported(f"bot/{one}"), others) == []


def test_every_benchmark_is_named() -> None:
    benches = {f"tests.{path.stem}" for path in (ROOT / "tests").glob("bench_*.py")}
    assert len(benches) > 5
    assert {name for name in benches if f"python -m {name}" not in BOTH} == set()


def test_every_rule_names_what_holds_it() -> None:
    rules = re.search(r"## Rules of the house\n(.*?)\n## ", GUIDE, re.DOTALL)
    assert rules
    rows = re.findall(r"^\| \*\*.*\| (.*?) \|$", rules[1], re.MULTILINE)
    assert len(rows) > 12
    assert [held for held in rows if not re.search(r"`(?:tests/[\w/]+\.py|lint-imports)`", held)] == []


def test_every_command_named_is_one() -> None:
    modules = {name for text in NAMED for name in re.findall(r"python -m ([\w.]+)", text)}
    assert len(modules) > 4
    assert [name for name in sorted(modules) if importlib.util.find_spec(name) is None] == []
    scripts = {name for text in NAMED for name in re.findall(r"(?:^|python )((?:\./|\.ci/|tests/)[\w/.]+)", text)}
    assert [name for name in sorted(scripts) if not (ROOT / name).exists()] == []
    commands = get_command(cli.app).commands  # type: ignore[attr-defined]
    said = {name for text in NAMED for name in re.findall(r"^rowhand (\w+)", text)}
    assert said and said <= set(commands)


def test_every_module_named_is_one() -> None:
    dotted = {name for name in NAMED if re.fullmatch(rf"(?:{'|'.join(ROOMS)})(?:\.\w+)+", name)}
    files = {name for name in dotted if name.rpartition(".")[2] in ("md", "py", "yaml")}
    assert dotted
    assert [name for name in sorted(dotted - files) if importlib.util.find_spec(name) is None] == []


def test_every_error_is_in_the_tree() -> None:
    tree = {one.__name__ for one in vars(errors).values() if isinstance(one, type) and issubclass(one, Exception)}
    chapter = GUIDE.partition("## Errors")[2].partition("\n## ")[0]
    assert {name for name in tree if not re.search(rf"[─\n] ?{name}\b", chapter)} == set()


def test_formulas_named_are_in_the_catalogue() -> None:
    dashed = {name for name in NAMED if re.fullmatch(r"[a-z]+(?:-[a-z]+)+", name)} - {"lint-imports"}
    assert dashed
    assert dashed <= set(formulas())


def test_the_glossary_is_whole() -> None:
    table = re.search(r"^\| name \| meaning \| unit \| Spanish \|\n\|[-|]+\n((?:\|.*\n)+)", GUIDE, re.MULTILINE)
    assert table
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in table[1].splitlines()]
    assert len(rows) > 20
    assert [row for row in rows if len(row) != 4 or not row[0] or not row[1] or not row[3]] == []
