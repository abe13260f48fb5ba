"""Values read back for the ear: those of rows that follow each other in one breath, digit by digit, with one unit."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from engine.dialog.reply.speech_text import Unshown, Unspoken
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.reply.wording import Wording
from engine.entries.matching.numerals import LARGEST_SPELLED, spell_digits
from engine.quantities import UNITS, Measure

FEWEST = 3
"""From so many rows on they are told in one breath (own decision)."""


class RowKept(str):
    """The line that reads one row's measure back."""

    row: int
    value: Measure

    def __new__(cls, line: str, row: int, value: Measure) -> RowKept:
        made = super().__new__(cls, line)
        made.row, made.value = row, value
        return made


def in_turn(lines: Iterable[str], wording: Wording) -> list[str]:
    """The lines of a reply; rows that were read back one after the other are shown line by line and said in one."""
    told: list[str] = []
    for group in _followed(lines):
        rows = [line for line in group if isinstance(line, RowKept)]
        if len(rows) < FEWEST:
            told += group
        else:
            told += [*map(Unspoken, rows), Unshown(_told(rows, wording))]
    return told


def _followed(lines: Iterable[str]) -> Iterator[list[str]]:
    """Lines one by one, but those of rows that follow each other in one unit together."""
    group: list[str] = []
    for line in lines:
        if group and not _follows(group[-1], line):
            yield group
            group = []
        group.append(line)
    if group:
        yield group


def _follows(one: str, other: str) -> bool:
    return (
        isinstance(one, RowKept)
        and isinstance(other, RowKept)
        and other.row == one.row + 1
        and other.value.unit == one.value.unit
    )


def _told(rows: Sequence[RowKept], wording: Wording) -> str:
    unit = UNITS[rows[0].value.unit].said.of(wording.language)
    values = ", ".join(spell_digits(line.value.value, wording.language) for line in rows)
    return wording.say(
        SystemKey.KEPT_IN_TURN, place=wording.row_place([line.row for line in rows]), values=f"{values} {unit}"
    )


def row_kept(line: str, row: int | None, value: object) -> str:
    """The line, told with others where it reads back a measure that can be said digit by digit."""
    if row is None or not isinstance(value, Measure) or value.value > LARGEST_SPELLED:
        return line
    return RowKept(line, row, value)
