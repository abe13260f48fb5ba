"""The calibration: what the operator says from the first question until every row is on target.

What is weighed comes from the simulated planter; where the dials stand next, from the assistant's own advice. So the
lines are made, not written: ``demo/voice/evening.yaml`` holds them beside the notes that were spoken from it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from demo.author import Author
from demo.planter import DIAL, START, DemoField
from demo.script_lines import DemoLine, DemoPart, place
from engine.dialog.facts.state import DialogState
from engine.dialog.schema.slot_roles import Role
from engine.entries.matching.numerals import spell, spell_digits
from engine.messages import Language
from engine.quantities import Measure
from engine.values import Rows, Setting, Value

MOST_RUNS = 8
AT_ONCE = 2
"""Rows named in one breath."""
CRASH_RUN = 2
"""The process that holds the assistant is killed in this run, half the rows in."""
SLIP = 7
"""Grams by which the operator misreads the scale once."""

OPEN = (DemoLine("set up", "preparar"), DemoLine("test run", "prueba"))
SET_UP: dict[str | None, DemoLine] = {
    Role.ROWS: DemoLine("eight", "ocho", {Role.ROWS: "8"}, brief=True),
    Role.SPACING: DemoLine("thirty inches", "treinta pulgadas", {Role.SPACING: "30 in"}, brief=True),
    Role.DIAL: DemoLine("zero to thirty by one", "cero a treinta de uno en uno", {Role.DIAL: str(DIAL)}, brief=True),
    Role.DRIVE: DemoLine("no", "no", {Role.DRIVE: "each"}, brief=True),
    Role.METER: DemoLine("pass", "salta", brief=True),
    Role.PRODUCT: DemoLine("Product A", "Product A", {Role.PRODUCT: "Product A"}, typed=True, brief=True),
    Role.LABEL_LOW: DemoLine("five pounds an acre", "cinco libras por acre", {Role.LABEL_LOW: "5 lb/acre"}, brief=True),
    Role.LABEL_HIGH: DemoLine(
        "twelve pounds an acre", "doce libras por acre", {Role.LABEL_HIGH: "12 lb/acre"}, brief=True
    ),
    Role.RATE: DemoLine(
        "eight ounces per thousand feet", "ocho onzas por mil pies", {Role.RATE: "8 oz/1000 ft"}, brief=True
    ),
    Role.SPEED: DemoLine("five miles an hour", "cinco millas por hora", {Role.SPEED: "5 mph"}, brief=True),
    Role.COURSE: DemoLine("three hundred feet", "trescientos pies", {Role.COURSE: "300 ft"}, brief=True),
    Role.CATCH_BY: DemoLine("scale", "báscula", {Role.CATCH_BY: "weigh"}, brief=True),
    Role.TARE: DemoLine("zero", "cero", {Role.TARE: "0 g"}, brief=True),
    Role.SCALE_STEP: DemoLine("one gram", "un gramo", {Role.SCALE_STEP: "1 g"}),
}
"""What the operator answers to each question of the set-up."""

ALL_DIALS = DemoLine(
    f"all {spell(START, 'en')}",
    f"todos en {spell(START, 'es')}",
    {f"{Role.SETTING} {row}": f"{START}" for row in DemoField().planter.rows},
)
STATUS = DemoLine("status", "estado")
ENOUGH = DemoLine("enough", "basta", {Role.AGAIN: "enough"})


@dataclass(frozen=True)
class CalibrationScript:
    """The operator at the course, with scale and stopwatch."""

    author: Author
    field: DemoField = field(default_factory=DemoField)

    def lines(self) -> Iterator[DemoLine]:
        yield from self._set_up()
        yield from self._said(ALL_DIALS)
        for number in range(1, MOST_RUNS + 1):
            yield from self._said(*self._run(number))
            if self.author.asked == Role.AGAIN:
                break
        yield from self._said(ENOUGH)

    def _set_up(self) -> Iterator[DemoLine]:
        yield from self._said(OPEN[0])
        while self.author.dialog is not None:
            yield from self._said(SET_UP[self.author.asked])
        yield from self._said(OPEN[1])

    def _said(self, *lines: DemoLine) -> Iterator[DemoLine]:
        yield from self.author.said(*lines, part=DemoPart.CALIBRATE)

    def _run(self, number: int) -> tuple[DemoLine, ...]:
        dialog = self.author.open_dialog
        seconds = self.field.seconds(_number(dialog.of(Role.COURSE)) / _number(dialog.of(Role.SPEED)) * 15 / 22)
        caught = self.field.catches(settings(dialog), _number(dialog.of(Role.TARGET)))
        return (_time(seconds), *_catches(caught, number))


def settings(dialog: DialogState) -> dict[int, Setting]:
    """Where the dial of each row stands."""
    rows = dialog.of(Role.SETTING)
    return {row: one for row, one in rows.items() if isinstance(one, Setting)} if isinstance(rows, dict) else {}


def _number(value: Value | Rows | None) -> float:
    if not isinstance(value, Measure):
        raise TypeError(f"{value} is not a measure")
    return value.value


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
