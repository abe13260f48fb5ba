"""The page of all keys of a dialog file, made of the schema: ``python -m tests.docs.schema`` writes it.

Keys, their types and their sentences are read from the classes of ``script.py`` and ``slot.py`` in
``engine/dialog/schema``; phases, roles,
activities and units from the tables that the loader uses. ``tests/docs/test_references.py`` compares.
"""

from __future__ import annotations

import ast
import inspect
import textwrap
from pathlib import Path
from typing import get_args

from pydantic import BaseModel
from pydantic_core import PydanticUndefined

import engine.shift.record.plan  # noqa: F401
from engine.dialog.schema import script, slot
from engine.dialog.schema.slot_roles import ACTIVITIES, NEEDED, Phase, Role
from engine.expectation import SlotKind
from engine.quantities import UNITS, Dimension

PAGE = Path(__file__).parents[2] / "dialogs" / "SCHEMA.md"
HEAD = """\
# The keys of a dialog file

Written by `python -m tests.docs.schema` from the schema that the loader uses; a test compares. What the keys are for is
told in [DEVELOPERS.md](../DEVELOPERS.md#a-dialog-file); `set-up.yaml` and `test-run.yaml` are examples. After a change,
`rowhand dialogs check` names what does not fit, with file, line and mend.

A file is read as text: nothing is guessed, numbers and yes or no included. A **name** has small letters, digits and
`_`, and begins with a letter. A **text** or **words** stand as `~` here, and at the same place in the file of the same
name in the folder of every language; texts may have names of values in braces. A key without a default must be given.
"""
TYPE_WORDS = {
    "Name": "name",
    "Target": "id of a step",
    "Text": "text",
    "Words": "words",
    "str": "word",
    "bool": "true or false",
    "int": "whole number",
    "float": "number",
    "Range": "`[lowest, highest]`",
    "Shown": "a [shown](#shown)",
    "Around": "an [around](#around)",
    "Renaming": "a [renaming](#renaming)",
    "SlotKind": " or ".join(f"`{kind}`" for kind in SlotKind),
    "Phase": "a [phase](#phases)",
    "Records": "name for each [role](#roles)",
    "tuple[Name, ...]": "list of names",
    "tuple[str, ...]": "list of words",
    "tuple[Dimension, ...]": "[dimension](#dimensions-and-units), or a list of them",
    "tuple[Preset, ...]": "list of " + " or ".join(f"`{preset}`" for preset in script.Preset),
    "tuple[Check, ...]": "list of [checks](#check)",
    "tuple[AnyStep, ...]": "list of [steps](#steps)",
    "dict[Name, Name]": "name for each name",
    "dict[str, Name]": "name for each word",
    "dict[str, str]": "name for each word",
    "dict[str, Target]": "id of a step for each word",
    "dict[str, Text]": "text for each word",
    "dict[Name, str]": "word for one name",
    "dict[Name, Slot]": "[slot](#slots) for each name",
    "dict[Name, Result]": "[result](#result) for each name",
    "dict[Name, SlotOption]": "[option](#slotoption) for each name",
}
"""How each type of the schema is told; a type that is not here stops the command."""
VALUES = {
    SlotKind.MEASURE: ("a number with a unit", "`dimension`, `units`, `default`"),
    SlotKind.COUNT: ("a whole number", ""),
    SlotKind.CHOICE: ("the key of an option", "`options`, each with a label and words"),
    SlotKind.TEXT: ("words as they were said", ""),
    SlotKind.SETTING: ("a position of a dial", "`dial`"),
    SlotKind.DIAL: ("a numbered range with its notch, or marks in order", ""),
}
THEN = "The step where it goes on."


def schema_page() -> str:
    """The whole page."""
    parts = [HEAD, _titled("The file", script.Script), _slots(), _steps(), _phases(), _roles(), _activities(), _units()]
    return "\n".join(parts)


def step_kinds() -> dict[str, type[BaseModel]]:
    """The class of every kind of step by the key that it is known by."""
    return {get_args(one)[1].tag: get_args(one)[0] for one in get_args(get_args(script.AnyStep)[0])}


def sentences(model: type[BaseModel]) -> dict[str, tuple[str, str]]:
    """The type and the sentence of every field that stands in a class itself, as written there."""
    body = ast.parse(textwrap.dedent(inspect.getsource(model))).body[0]
    assert isinstance(body, ast.ClassDef)
    found = {}
    for field, after in zip(body.body, [*body.body[1:], None], strict=True):
        if isinstance(field, ast.AnnAssign) and isinstance(field.target, ast.Name):
            told = after.value if isinstance(after, ast.Expr) else None
            text = str(told.value) if isinstance(told, ast.Constant) else THEN if field.target.id == "then" else ""
            found[field.target.id] = (ast.unparse(field.annotation), _prose(text))
    return found


def _keys(model: type[BaseModel]) -> str:
    rows = []
    for name, (type_, told) in sentences(model).items():
        field = model.model_fields[name]
        default = "" if field.is_required() else _default(field.get_default(call_default_factory=True))
        assert told, f"{model.__name__}.{name} says nothing of itself"
        rows.append((f"`{field.alias or name}`", _type(type_), default, told))
    return _table(("key", "value", "default", "meaning"), rows)


def _type(annotation: str) -> str:
    plain = annotation.removesuffix(" | None")
    if plain.startswith("Annotated[str"):
        return "word in small letters, digits and `-`"
    return f'`"{ast.literal_eval(plain[8:-1])}"`' if plain.startswith("Literal[") else TYPE_WORDS[plain]


def _default(value: object) -> str:
    if value is PydanticUndefined or value is None or value in ((), {}):
        return "none"
    return {True: "false", False: "false"}.get(value, str(value)) if isinstance(value, bool) else f"{value}"


def _titled(title: str, model: type[BaseModel], level: str = "##") -> str:
    return f"{level} {title}\n\n{_prose(inspect.getdoc(model) or '')}\n\n{_keys(model)}"


def _slots() -> str:
    kinds = [(f"`{kind}`", *VALUES[kind]) for kind in SlotKind]
    below = (slot.Shown, slot.SlotOption, slot.Around, slot.Check, slot.Renaming, slot.Result)
    return "\n".join(
        [
            _titled("Slots", slot.Slot),
            _table(("kind", "value", "needs"), kinds),
            *(_titled(model.__name__, model, "###") for model in below),
        ]
    )


def _steps() -> str:
    text = f"## Steps\n\nA step is known by the key of its kind. {_prose(inspect.getdoc(script.Step) or '')}\n\n"
    text += _keys(script.Step)
    return "\n".join([text, *(_titled(kind, model, "###") for kind, model in step_kinds().items())])


def _phases() -> str:
    rows = [(f"`{phase}`", ", ".join(f"`{role}`" for role in sorted(NEEDED.get(phase, ())))) for phase in Phase]
    return "## Phases\n\nA dialog of a phase is refused without the roles that its record needs.\n\n" + _table(
        ("phase", "roles that it needs"), rows
    )


def _roles() -> str:
    rows = [(f"`{role}`", str(role.held)) for role in Role]
    return (
        "## Roles\n\nWhat a value means to those who read a record, whatever the dialog calls it, and what must be "
        "held under its name.\n\n" + _table(("role", "value"), rows)
    )


def _activities() -> str:
    parts = ["## Activities\n\nWhat a `watch` step may name, and what each asks of the dialog."]
    for name, asked in ACTIVITIES.items():
        rows = [(f"`{role}`", "needed", _words(asked.words.get(role))) for role in sorted(asked.needed)]
        rows += [
            (f"`{role}`", "used where it is there", _words(asked.words.get(role))) for role in sorted(asked.welcome)
        ]
        parts.append(f"### Activity {name}\n\n" + _table(("role", "", "options it must have"), rows))
    return "\n\n".join(parts)


def _words(words: frozenset[str] | None) -> str:
    return ", ".join(f"`{word}`" for word in sorted(words or ()))


def _units() -> str:
    rows = [
        (f"`{one}`", ", ".join(f"`{symbol}`" for symbol, unit in UNITS.items() if unit.dimension is one))
        for one in Dimension
    ]
    return "## Dimensions and units\n\nFrom `units.yaml`.\n\n" + _table(("dimension", "units"), rows)


def _prose(text: str) -> str:
    return " ".join(text.replace("``", "`").split())


def _table(heads: tuple[str, ...], rows: list[tuple[str, ...]]) -> str:
    lines = [heads, ("---",) * len(heads), *rows]
    return "".join("| " + " | ".join(cell.replace("|", "\\|") for cell in line) + " |\n" for line in lines)


def main() -> None:
    PAGE.write_text(schema_page(), encoding="utf-8")


if __name__ == "__main__":
    main()
