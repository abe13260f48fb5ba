"""Dialog files of earlier formats are brought up, so that a conversation can go on under its old script."""

from __future__ import annotations

import yaml

from engine.data.definitions import parse_definition
from engine.dialog.schema.script import Watch
from engine.dialog.schema.script_formats import brought_up
from engine.dialog.schema.slot_roles import ChosenOption, Phase, Role
from engine.dialog.script_library import parse_script
from tests.helpers.renaming import contents

ROLES = {
    "rows": "rows",
    "spacing": "spacing",
    "rate": "rate",
    "speed": "speed",
    "loaded": "loaded",
    "tube": "target_tube",
}


def first(dialog: str) -> str:
    """A dialog of the package as a file of format 1."""
    old = {key: one for key, one in contents()[dialog].items() if key not in ("phase", "records")}
    steps = [{**step, "watch": ROLES} if "watch" in step else step for step in old["steps"]]
    return yaml.safe_dump({**old, "format": "1", "steps": steps}, allow_unicode=True, sort_keys=False)


def test_a_shift_of_format_1_says_what_its_watch_said() -> None:
    script = parse_script(first("shift"), "old.yaml")
    assert script.format == "2"
    assert script.phase is Phase.SHIFT
    assert script.records[Role.TUBE] == "target_tube"
    assert [step.watch for step in script.steps if isinstance(step, Watch)] == ["shift"]


def test_options_that_meant_something_are_declared() -> None:
    script = parse_script(first("put-away"), "old.yaml")
    assert script.records[Role.OWN_CONTAINER] == ChosenOption.model_validate({"of": "container", "is": "own"})
    assert script.records[Role.GAP] == "gap"


def test_only_names_that_a_dialog_has_are_declared() -> None:
    script = parse_script(first("put-away").replace("gap", "difference_told"), "old.yaml")
    assert Role.GAP not in script.records


def test_the_old_text_stays_as_it_is() -> None:
    definition = parse_definition(first("shift"), "old.yaml")
    new = brought_up(definition)
    assert isinstance(definition.content, dict) and definition.content["format"] == "1"
    assert (new.source, new.lines) == (definition.source, definition.lines)
    assert brought_up(new) == new
