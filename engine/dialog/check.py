"""What the schema of a dialog file cannot see: whether the parts of the dialogs fit each other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from engine.definitions import Definition
from engine.dialog.script import Script
from engine.errors import DefinitionError


@dataclass(frozen=True)
class Draft:
    """A script that fits the schema, with the file it came from."""

    definition: Definition
    script: Script


def check(drafts: Sequence[Draft], broken: frozenset[str] = frozenset()) -> tuple[DefinitionError, ...]:
    """Every problem of these dialogs, in their order; ``broken`` are dialogs whose own file could not be read."""
    return tuple(_shared_names(drafts))


def _shared_names(drafts: Sequence[Draft]) -> Iterator[DefinitionError]:
    seen: dict[str, str] = {}
    for draft in drafts:
        first = seen.setdefault(draft.script.dialog, draft.definition.file)
        if first != draft.definition.file:
            wrong = f"the dialog {draft.script.dialog} also stands in {first}"
            yield draft.definition.error(("dialog",), wrong, "give one of them another name")
