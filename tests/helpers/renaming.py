"""Copies of the dialogs in which slots, results and options are called otherwise."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Collection, Mapping
from pathlib import Path
from typing import Any

import yaml

from engine.data.definitions import LOADER, dialogs_directory
from engine.dialog.script_library import whole

Content = dict[str, Any]
DIALOGS = ("ready-check", "set-up", "test-run", "shift", "put-away")
FIXED = {"this", "run", "row", "tolerance", "rule"}
"""Names that the language of dialogs and the settings give."""
WORDS_OF_OTHERS = {"drive", "condition", "in_use", "meter", "plant_off_target"}
"""Slots whose options are words of a formula or of the activity that watches: those the loader holds fast."""


def contents() -> dict[str, Content]:
    """Every dialog of the package as plain data."""
    text = {name: whole(dialogs_directory() / f"{name}.yaml").source for name in DIALOGS}
    return {name: yaml.load(source, Loader=LOADER) for name, source in text.items()}


def names(content: Content) -> frozenset[str]:
    """What a dialog itself calls something: slots, results, and what its formulas give or it looks back at."""
    found = {
        *content.get("slots", {}),
        *content.get("results", {}),
        *content.get("stood", {}),
        *content.get("recalls", {}),
    }
    checks = [check for slot in content.get("slots", {}).values() for check in slot.get("checks", ())]
    found |= {name for one in (*content["steps"], *checks) for name in one.get("into", {}).values()}
    return frozenset(found - FIXED)


def renamed(content: Content, new: Mapping[str, str]) -> Content:
    """A dialog with other names for values, wherever they stand in it."""
    call = _caller(new)
    out = dict(content)
    for key in ("takes", "may_take", "same", "remembers", "carries"):
        if key in out:
            out[key] = [call(name) for name in out[key]]
    for key in ("stood", "recalls"):
        if key in out:
            out[key] = {call(name): call(source) for name, source in out[key].items()}
    if "rows" in out:
        out["rows"] = call(out["rows"])
    out["records"] = {role: {**one, "of": call(one["of"])} if isinstance(one, dict) else call(one)
                      for role, one in content["records"].items()}  # fmt: skip
    out["slots"] = {call(name): _slot(slot, call) for name, slot in content.get("slots", {}).items()}
    out["results"] = {call(name): _texts(one, call) for name, one in content.get("results", {}).items()}
    out["steps"] = [_step(step, call) for step in content["steps"]]
    return out


def options_renamed(content: Content, suffix: str) -> Content:
    """A dialog with other keys for the options of its choices."""
    free = {name: slot for name, slot in content.get("slots", {}).items() if name not in WORDS_OF_OTHERS}
    slots = {
        name: {**slot, "options": {f"{key}{suffix}": one for key, one in slot["options"].items()}}
        if name in free and "options" in slot else slot
        for name, slot in content.get("slots", {}).items()
    }  # fmt: skip
    steps = [
        {**step, "cases": {f"{key}{suffix}": to for key, to in step["cases"].items()}} if "branch" in step else step
        for step in content["steps"]
    ]
    records = {role: {**one, "is": f"{one['is']}{suffix}"} if isinstance(one, dict) else one
               for role, one in content["records"].items()}  # fmt: skip
    return {**content, "slots": slots, "steps": steps, "records": records}


def written(folder: Path, dialogs: Collection[Content]) -> Path:
    """A folder of dialogs with everything else that belongs to them."""
    shutil.copytree(dialogs_directory(), folder)
    for path in (*folder.glob("*.yaml"), *folder.glob("*/*.yaml")):
        if path.stem in DIALOGS:
            path.unlink()
    for number, content in enumerate(dialogs):
        (folder / f"dialog-{number}.yaml").write_text(
            yaml.safe_dump(content, allow_unicode=True, sort_keys=False), "utf-8"
        )
    return folder


def _caller(new: Mapping[str, str]) -> Callable[[str], str]:
    return lambda name: new.get(name, name)


def _slot(slot: Content, call: Callable[[str], str]) -> Content:
    out = _texts(slot, call)
    if "dial" in out:
        out["dial"] = call(out["dial"])
    if "around" in out:
        out["around"] = {key: call(one) if key in ("value", "plus") else one for key, one in out["around"].items()}
    if "checks" in out:
        out["checks"] = [_passed(check, call) for check in out["checks"]]
    return out


def _step(step: Content, call: Callable[[str], str]) -> Content:
    out = _passed(_texts(step, call, fixed={"rows"} if "list" in step else set()), call)
    for key in ("ask", "collect", "branch", "list", "offer"):
        if key in out:
            out[key] = call(out[key])
    if "also" in out:
        out["also"] = [call(name) for name in out["also"]]
    if "carry" in out:
        out["carry"] = {call(name): call(source) for name, source in out["carry"].items()}
    if "spares" in out:
        out["spares"] = {call(name): word for name, word in out["spares"].items()}
    return out


def _passed(one: Content, call: Callable[[str], str]) -> Content:
    return {
        key: {argument: call(name) for argument, name in given.items()} if key in ("with", "runs", "into") else given
        for key, given in one.items()
    }


def _texts(one: Any, call: Callable[[str], str], fixed: Collection[str] = ()) -> Any:
    """The same with other names in its placeholders."""
    if isinstance(one, dict):
        return {key: _texts(value, call, fixed) for key, value in one.items()}
    if isinstance(one, list):
        return [_texts(value, call, fixed) for value in one]
    return re.sub(r"\{(\w+)\}", lambda found: f"{{{found[1] if found[1] in fixed else call(found[1])}}}", one)
