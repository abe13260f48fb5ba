"""No Python asks for a value, an option or a dialog by the name that a dialog file gives it."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import engine
from engine.library import load_library

ROOT = Path(engine.__file__).parent.parent
EXEMPT = {
    "engine/dialog/schema/slot_roles.py": "the roles themselves",
    "engine/dialog/schema/script_formats.py": "what the first release called things, to read its records and scripts",
    "demo/calibration_script.py": "the recorded answers, with the options they choose",
    "demo/night_script.py": "the same of the shift",
}
OWN_NAMES = ("engine/calculations/", "engine/shift/")
"""Rooms with names of their own: arguments of formulas, and what a report changes for the rest of a shift."""
LOOKED_UP = {"get", "of", "value", "is_open", "every_run"}


def names() -> frozenset[str]:
    """Everything that the dialogs call by a name of their own."""
    scripts = load_library().scripts
    slots = [slot for script in scripts.values() for slot in script.slots.items()]
    found = {name for script in scripts.values() for name in (script.dialog, *script.slots, *script.results)}
    found |= {str(name) for script in scripts.values() for name in (*script.stood, *script.recalls)}
    return frozenset(found | {key for _, slot in slots for key in slot.options})


def modules() -> Iterator[tuple[str, ast.Module]]:
    for room in ("engine", "bot", "demo"):
        for path in sorted((ROOT / room).rglob("*.py")):
            name = path.relative_to(ROOT).as_posix()
            if name not in EXEMPT and not name.startswith(OWN_NAMES):
                yield name, ast.parse(path.read_text(encoding="utf-8"))


def texts(node: ast.AST | None) -> Iterator[str]:
    """The plain texts of an expression, those of a tuple or a set in it too."""
    match node:
        case ast.Constant(value=str(text)):
            yield text
        case ast.Tuple(elts=parts) | ast.Set(elts=parts) | ast.List(elts=parts):
            for part in parts:
                yield from texts(part)


def looked_up(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """The texts by which something is looked up, compared or matched."""
    for node in ast.walk(tree):
        match node:
            case ast.Subscript(slice=key):
                found = [key]
            case ast.Call(func=ast.Attribute(attr=attr), args=[key, *_]) if attr in LOOKED_UP:
                found = [key]
            case ast.Compare(left=left, comparators=others):
                found = [left, *others]
            case ast.MatchValue(value=key):
                found = [key]
            case _:
                continue
        yield from ((node.lineno, text) for key in found for text in texts(key))


def constants(tree: ast.Module) -> Iterator[tuple[int, str]]:
    """Names with a mark in them that stand anywhere: nobody writes those by chance."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and ("_" in node.value or "-" in node.value):
            yield node.lineno, node.value


ARGUMENTS = {
    ("bot/telegram/services/report.py", "label_low"),
    ("bot/telegram/services/report.py", "label_high"),
    ("demo/turn_results.py", "target"),
}
"""Names of arguments of a formula, which are Python's own."""
OTHERS: dict[tuple[str, str], str] = {
    ("bot/bench/voice_runs.py", "seconds"): "what is told as a quantile",
    ("bot/hear.py", "seconds"): "how long a clip is",
    ("bot/models.py", "in_use"): "whether a speech model is",
    ("bot/record/ledger.py", "planter"): "a column",
    ("bot/record/texts.py", "put_back"): "a text of the record",
    ("bot/record/texts.py", "locked_by"): "a text of the record",
    ("bot/settings.py", "restricted"): "a value of a setting",
    ("engine/history/shift_export.py", "locked_by"): "a column",
    ("bot/telegram/services/commands.py", "on"): "a switch in the chat",
    ("bot/telegram/services/commands.py", "off"): "a switch in the chat",
    ("engine/database.py", "locked"): "what SQLite says",
    ("engine/history/copies/backup.py", "locked"): "what SQLite says",
    ("engine/data/definitions.py", "error"): "what pydantic says",
    ("engine/dialog/schema/symbol_table.py", "dial"): "a kind of slot",
    ("engine/dialog/reply/step_text.py", "rows"): "the placeholder that joins rows",
    ("engine/entries/matching/piece.py", "rows"): "a part of a phrase",
    ("engine/entries/matching/reporting.py", "each"): "a part of a phrase",
    ("engine/entries/matching/reporting.py", "lot"): "a part of a phrase",
    ("engine/entries/matching/reporting.py", "rows"): "a part of a phrase",
    ("engine/entries/matching/report_parser.py", "rows"): "a part of a phrase",
    ("bot/calculator/formula.py", "dial"): "a kind of value",
    ("engine/history/shift_export.py", "put_back"): "a column",
    ("bot/bench/judging.py", "rows"): "a field of what is wanted",
    ("engine/understanding/weighing/classifier.py", "scale"): "a part of what was learned",
    ("engine/understanding/clause_reader.py", "open"): "a kind of meaning",
    ("engine/understanding/extraction/reports.py", "each"): "a field of a report",
    ("engine/understanding/extraction/reports.py", "lot"): "a part of a phrase",
}
"""The same word for something else, and what that is."""


def test_no_python_looks_a_name_of_a_dialog_up() -> None:
    known = names()
    found = {
        (name, text): line
        for name, tree in modules()
        for line, text in (*looked_up(tree), *constants(tree))
        if text in known
    }
    assert {key: line for key, line in found.items() if key not in ARGUMENTS | OTHERS.keys()} == {}
    assert ARGUMENTS | OTHERS.keys() <= found.keys(), "an exception that is no longer needed"


def test_a_look_up_is_found() -> None:
    found = [text for _, text in looked_up(ast.parse("a['gap'], b.get('net', 1), c == 'own', d in ('rows', 'x')"))]
    assert sorted(found) == ["gap", "net", "own", "rows", "x"]
