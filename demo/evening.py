"""The evening: what the operator says, line by line, from the first question to the last row on target.

What is weighed comes from the simulated planter; where the dials stand next, from the assistant's own advice. So the
lines are made, not written: ``demo/voice/evening.yaml`` holds them beside the notes that were spoken from it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import yaml

from demo.planter import DIAL, START, DemoField
from engine.assistant import Assistant
from engine.database import open_database
from engine.dialog.facts.state import DialogState
from engine.dialog.schema.slot_roles import Role, name_in
from engine.entries.matching.numerals import spell, spell_digits
from engine.expectation import Asking
from engine.messages import Language, Utterance
from engine.quantities import Measure
from engine.values import Rows, Setting, Value

FILE = Path(__file__).parent / "voice" / "evening.yaml"
HEAD = "# What the recorded operator says in the demo. Made by `python -m demo.recording`; do not edit.\n"
BEGAN = datetime(2026, 4, 20, 19, 30, tzinfo=UTC)
MOST_RUNS = 8
AT_ONCE = 2
"""Rows named in one breath."""
CRASH_RUN = 2
"""The process that holds the assistant is killed in this run, half the rows in."""
SLIP = 7
"""Grams by which the operator misreads the scale once."""

Keeps = dict[str, str]
"""What a line puts into the record: ``slot`` or ``slot row`` to the value as text."""


@dataclass(frozen=True)
class DemoLine:
    """One thing said, in both languages, and what it leaves in the record. ``crash``: the worker dies hearing it."""

    en: str
    es: str
    keeps: Keeps = field(default_factory=dict)
    crash: bool = False

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

OPEN = (DemoLine("set up", "preparar"), DemoLine("test run", "prueba"))
SET_UP: dict[str | None, DemoLine] = {
    Role.ROWS: DemoLine("eight", "ocho", {Role.ROWS: "8"}),
    Role.SPACING: DemoLine("thirty inches", "treinta pulgadas", {Role.SPACING: "30 in"}),
    Role.DIAL: DemoLine("zero to thirty by one", "cero a treinta de uno en uno", {Role.DIAL: str(DIAL)}),
    Role.DRIVE: DemoLine("no", "no", {Role.DRIVE: "each"}),
    Role.METER: DemoLine("pass", "salta"),
    Role.PRODUCT: DemoLine("pass", "salta"),
    Role.LABEL_LOW: DemoLine("five pounds an acre", "cinco libras por acre", {Role.LABEL_LOW: "5 lb/acre"}),
    Role.LABEL_HIGH: DemoLine("twelve pounds an acre", "doce libras por acre", {Role.LABEL_HIGH: "12 lb/acre"}),
    Role.RATE: DemoLine("eight ounces per thousand feet", "ocho onzas por mil pies", {Role.RATE: "8 oz/1000 ft"}),
    Role.SPEED: DemoLine("five miles an hour", "cinco millas por hora", {Role.SPEED: "5 mph"}),
    Role.COURSE: DemoLine("three hundred feet", "trescientos pies", {Role.COURSE: "300 ft"}),
    Role.CATCH_BY: DemoLine("scale", "báscula", {Role.CATCH_BY: "weigh"}),
    Role.TARE: DemoLine("zero", "cero", {Role.TARE: "0 g"}),
    Role.SCALE_STEP: DemoLine("one gram", "un gramo", {Role.SCALE_STEP: "1 g"}),
}
"""What the operator answers to each question of the set-up."""

ALL_DIALS = DemoLine(
    f"all {spell(START, 'en')}",
    f"todos en {spell(START, 'es')}",
    {f"{Role.SETTING} {row}": f"{START}" for row in DemoField().planter.rows},
)
STATUS = DemoLine("status", "estado")
ONCE_MORE = DemoLine("once more", "otra vuelta", {Role.AGAIN: "verify"})
ENOUGH = DemoLine("enough", "basta", {Role.AGAIN: "enough"})


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


def evening() -> tuple[DemoLine, ...]:
    """Play the operator's part against the assistant and the simulated planter, typed and in memory."""
    return tuple(_Author().lines())


class _Author:
    """Finds out what the operator says next from where the assistant stands."""

    def __init__(self) -> None:
        database = open_database(":memory:")
        self._assistant = Assistant(database)
        self._field = DemoField()
        self._count = 0

    def lines(self) -> Iterator[DemoLine]:
        yield from self._set_up()
        yield from self._said(ALL_DIALS)
        for number in range(1, MOST_RUNS + 1):
            yield from self._said(*self._run(number))
            settled = self._asked == Role.AGAIN
            if settled and self._verified:
                break
            yield from self._said(*([ONCE_MORE] if settled else []))
        yield from self._said(ENOUGH)

    def _set_up(self) -> Iterator[DemoLine]:
        yield from self._said(OPEN[0])
        while self._assistant.state("author").dialog is not None:
            yield from self._said(SET_UP[self._asked])
        yield from self._said(OPEN[1])

    def _run(self, number: int) -> tuple[DemoLine, ...]:
        dialog = self._dialog
        seconds = self._field.seconds(_number(dialog.of(Role.COURSE)) / _number(dialog.of(Role.SPEED)) * 15 / 22)
        target_g = _number(dialog.of(Role.TARGET))
        caught = self._field.catches(_settings(dialog), target_g)
        return (_time(seconds), *_catches(caught, number))

    @property
    def _dialog(self) -> DialogState:
        dialog = self._assistant.state("author").dialog
        if dialog is None:
            raise RuntimeError("the evening ended too early")
        return dialog

    @property
    def _verified(self) -> bool:
        """Whether the last run only repeated settings that were all passed before."""
        runs = self._dialog.every_run(name_in(self._dialog.records, Role.SETTING) or "")
        return len(runs) > 1 and runs[-1] == runs[-2]

    @property
    def _asked(self) -> str | None:
        return self._assistant.expectation("author").slots[0].role

    def _said(self, *lines: DemoLine) -> Iterator[DemoLine]:
        for line in lines:
            self._say(line.en)
            while self._assistant.expectation("author").asking is Asking.CONFIRM:
                self._say(ANSWERS["yes"].en)
            yield line

    def _say(self, text: str) -> None:
        self._count += 1
        self._assistant.hear(
            Utterance(id=f"author:{self._count}", conversation="author", text=text, language="en", said_at=BEGAN)
        )


def _number(value: Value | Rows | None) -> float:
    if not isinstance(value, Measure):
        raise TypeError(f"{value} is not a measure")
    return value.value


def _settings(dialog: DialogState) -> dict[int, Setting]:
    rows = dialog.of(Role.SETTING)
    return {row: one for row, one in rows.items() if isinstance(one, Setting)} if isinstance(rows, dict) else {}


def _time(seconds: int) -> DemoLine:
    en, es = spell(seconds, "en"), spell(seconds, "es")
    return DemoLine(f"{en} seconds", f"{es} segundos", {Role.RUN_TIME: f"{seconds} s"})


def _catches(caught: Mapping[int, int], run: int) -> Iterator[DemoLine]:
    """Two rows a breath; in the first run one slip of the tongue, in another the crash, each with what follows.

    The first are said as words, which sound alike ("sixty", "sixteen") and are asked; from then on digit by digit.
    """
    rows = list(caught.items())
    parts = [dict(rows[at : at + AT_ONCE]) for at in range(0, len(rows), AT_ONCE)]
    for at, part in enumerate(parts):
        if (run, at) == (1, 0):
            yield _weights(part, spell)
        elif (run, at) == (1, 1):
            yield from _slip(part)
        elif (run, at) == (CRASH_RUN, len(parts) // 2):
            yield replace(_weights(part), crash=True)
            yield STATUS
        else:
            yield _weights(part)


def _slip(part: Mapping[int, int]) -> Iterator[DemoLine]:
    row, grams = list(part.items())[-1]
    yield _weights({**part, row: grams - SLIP})
    yield DemoLine(
        f"row {spell(row, 'en')} was {spell_digits(grams, 'en')}",
        f"surco {spell(row, 'es')} era {spell_digits(grams, 'es')}",
        {place(Role.CATCH_MASS, row): f"{grams} g"},
    )


def _weights(part: Mapping[int, int], said: Callable[[float, Language], str] = spell_digits) -> DemoLine:
    return DemoLine(
        ", ".join(f"row {spell(row, 'en')} {said(grams, 'en')}" for row, grams in part.items()),
        ", ".join(f"surco {spell(row, 'es')} {said(grams, 'es')}" for row, grams in part.items()),
        {place(Role.CATCH_MASS, row): f"{grams} g" for row, grams in part.items()},
    )


def load(file: Path = FILE) -> tuple[DemoLine, ...]:
    """The lines as they were spoken."""
    return tuple(DemoLine(**line) for line in yaml.safe_load(file.read_text(encoding="utf-8")))


def save(lines: tuple[DemoLine, ...], file: Path = FILE) -> None:
    data = [_data(line) for line in lines]
    file.write_text(HEAD + yaml.safe_dump(data, sort_keys=False, allow_unicode=True, width=120), encoding="utf-8")


def _data(line: DemoLine) -> dict[str, Any]:
    every = {
        "en": line.en,
        "es": line.es,
        "keeps": {str(of): value for of, value in line.keeps.items()},
        "crash": line.crash,
    }
    return {name: value for name, value in every.items() if value}
