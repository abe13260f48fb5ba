"""What is said in the demo: lines in both languages, what each leaves in the record, and the file that holds them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, fields
from enum import StrEnum
from pathlib import Path
from typing import Any

import yaml

from engine.dialog.facts.events import Fact, Kept
from engine.dialog.facts.state import DialogState
from engine.dialog.schema.slot_roles import role_of
from engine.messages import Given, Language, Report
from engine.quantities import Measure
from engine.shift.record.shift_facts import Noted
from engine.values import Setting, Value

FILE = Path(__file__).parent / "voice" / "evening.yaml"
HEAD = "# What the recorded operator says in the demo. Made by `python -m demo.recording`; do not edit.\n"

Keeps = dict[str, str]
"""What a line puts into the record: ``slot``, ``slot row``, ``report`` or ``report row`` to the value as text."""


class DemoPart(StrEnum):
    """The parts of the demo, in the order in which they are played."""

    CALIBRATE = "calibrate"
    NIGHT = "night"
    SUMMARY = "summary"


@dataclass(frozen=True)
class DemoLine:
    """One thing said ``at`` so many seconds of the evening, in both languages, and what it leaves in the record.

    ``crash``: the worker dies hearing it. ``typed``: a name, which nobody can say before it was typed once. ``brief``:
    an answer to a plain question, which the screen shows on one line.
    """

    en: str
    es: str
    keeps: Keeps = field(default_factory=dict)
    crash: bool = False
    typed: bool = False
    brief: bool = False
    part: DemoPart = DemoPart.CALIBRATE
    at: int = 0

    def text(self, language: Language) -> str:
        return self.en if language == "en" else self.es

    @property
    def note(self) -> str:
        """The name of its voice note, without ending."""
        return re.sub(r"[^a-z]+", "-", self.en)


ANSWERS: dict[str, DemoLine] = {
    "yes": DemoLine("yes", "sí"),
    "no": DemoLine("no", "no"),
    "1": DemoLine("the first", "la primera"),
    "2": DemoLine("the second", "la segunda"),
    "3": DemoLine("the third", "la tercera"),
}
"""What the operator answers when asked about something he said."""


def notes(lines: Iterable[DemoLine]) -> dict[str, str]:
    """The words of every voice note by its name: of these lines, as far as they are spoken, and of the answers."""
    return {line.note: line.en for line in (*lines, *ANSWERS.values()) if not line.typed}


def shown(value: Value) -> str:
    """A value as ``Keeps`` writes it."""
    match value:
        case Measure():
            return f"{value.value:g} {value.unit}"
        case Setting():
            return value.label
        case _:
            return str(value)


def place(slot: str, row: int | None) -> str:
    return slot if row is None else f"{slot} {row}"


def place_in(dialog: DialogState | None, given: Kept | Given) -> str:
    """Where a value belongs, by what the dialog says it means."""
    role = role_of(dialog.records, given.slot) if dialog else None
    return place(role or given.slot, given.row)


def reported(report: Report, rows: Iterable[int], value: Value | None) -> Keeps:
    """A report as ``Keeps`` writes it: of the planter, and of each row that it names."""
    text = "" if value is None else shown(value)
    return {str(report): text, **{place(str(report), row): text for row in rows}}


def kept(facts: Iterable[Fact], dialog: DialogState | None) -> Keeps:
    """What the facts of a turn put into the record, where ``dialog`` was open before it."""
    found: Keeps = {}
    for fact in facts:
        match fact:
            case Kept():
                found[place_in(dialog, fact)] = shown(fact.value)
            case Noted():
                found |= reported(fact.report, fact.rows, fact.value)
    return found


def load(file: Path = FILE) -> tuple[DemoLine, ...]:
    """The lines as they were spoken."""
    data = yaml.safe_load(file.read_text(encoding="utf-8"))
    return tuple(DemoLine(**line, part=DemoPart(part)) for part, lines in data.items() for line in lines)


def save(lines: Iterable[DemoLine], file: Path = FILE) -> None:
    data: dict[str, list[dict[str, Any]]] = {}
    for line in lines:
        data.setdefault(line.part.value, []).append(dict(_data(line)))
    file.write_text(HEAD + yaml.safe_dump(data, sort_keys=False, allow_unicode=True, width=120), encoding="utf-8")


def _data(line: DemoLine) -> Iterator[tuple[str, Any]]:
    for one in fields(line):
        value = getattr(line, one.name)
        if value and one.name != "part":
            yield one.name, {str(of): told for of, told in value.items()} if one.name == "keeps" else value
