"""Sentences about values: what was kept, what is doubtful, what stands in a list of rows.

For the ear, values of rows that follow each other are read back in one breath, digit by digit, with one unit.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby

from engine.data.texts import Several, Text
from engine.dialog.facts.events import Left
from engine.dialog.facts.question import Question, QuestionKind, ValueReading
from engine.dialog.facts.state import DialogState
from engine.dialog.reply.answer_texts import AnswerKey
from engine.dialog.reply.speech_text import Unshown, Unspoken
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.reply.wording import Wording, described
from engine.dialog.schema.script import Script
from engine.dialog.schema.slot import Slot
from engine.entries.matching.numerals import LARGEST_SPELLED, spell_digits
from engine.expectation import SlotKind
from engine.messages import DoubtReason, Given
from engine.quantities import UNITS, Measure
from engine.values import Value

FEWEST = 3
"""From so many rows on they are told in one breath (own decision)."""


def title(script: Script, wording: Wording) -> str:
    """What a dialog is called: "Test run"."""
    name = script.opening(wording.language)
    return name[0].upper() + name[1:]


def as_left(script: Script, wording: Wording, left: Left) -> str:
    """What a dialog goes on with: "field North field, loaded 38 lb"; a value that differs between rows as a span."""
    single = [(name, [left.values[name]]) for name in script.slots if name in left.values]
    rows = [(name, [*left.rows[name].values()]) for name in script.slots if name in left.rows]
    rows = [(name, values) for name, values in rows if script.slots[name].kind is not SlotKind.CHOICE]
    parts = [f"{wording.name(script.slots[name]).lower()} {_span(script, wording, name, values)}"
             for name, values in single + rows]  # fmt: skip
    return ", ".join(parts)


def _span(script: Script, wording: Wording, name: str, values: Sequence[Value]) -> str:
    """One value, or the lowest and the highest; words of several kinds one by one."""
    measures = sorted((one for one in values if isinstance(one, Measure)), key=lambda one: one.to(one.unit).value)
    if not measures:
        return ", ".join(dict.fromkeys(wording.value(one, script.slots[name]) for one in values))
    texts = dict.fromkeys(wording.rough(one) for one in (measures[0], measures[-1]))
    return f" {wording.say(SystemKey.TO)} ".join(texts)


def places(script: Script, wording: Wording, givens: Sequence[Given]) -> str:
    """Where the values of one slot belong: "Rows 1-8", "Setting of rows 1-8", or the place of one."""
    rows = [given.row for given in givens if given.row is not None]
    if len(rows) < 2:
        return place(script, wording, givens[0].slot, givens[0].row)
    return row_places(script, wording, givens[0].slot, rows)


def row_places(script: Script, wording: Wording, slot: str, rows: Sequence[int]) -> str:
    """Where the values of several rows belong."""
    if _is_main(script, slot):
        return wording.row_place(rows)
    return Several(
        wording.say(SystemKey.ROWS_PLACE_NAMED, rows=wording.rows(rows), name=wording.name(script.slots[slot]))
    )


def place(script: Script, wording: Wording, slot: str, row: int | None) -> str:
    """Where a value belongs: "Row 3", "Setting of row 3" or "Row spacing"."""
    found = script.slots[slot]
    if row is None:
        return wording.name(found)
    if _is_main(script, slot):
        return wording.say(SystemKey.ROW_PLACE, row=str(row))
    return wording.say(SystemKey.ROW_PLACE_NAMED, row=str(row), name=wording.name(found))


def _is_main(script: Script, slot: str) -> bool:
    """Rows stand alone for catches, the values that are heard most; other per-row slots are named."""
    return not script.slots[slot].dial


_BARE = frozenset({"yes", "no", "sí"})
"""Answers that say nothing without what they answer."""


def _is_unnamed(slot: Slot, value: str) -> bool:
    """Whether a closed answer is read back alone: nobody calls the slot by a name, and the answer says it all."""
    return slot.kind is SlotKind.CHOICE and slot.called is None and value.lower() not in _BARE


def kept_rows(script: Script, wording: Wording, givens: Sequence[Given]) -> str:
    """One value read back for all its rows."""
    where, name, value = _rows_told(script, wording, givens)
    if _is_unnamed(script.slots[givens[0].slot], value):
        return wording.say(AnswerKey.KEPT_ROWS_ALONE, place=where, value=value.lower())
    return wording.say(SystemKey.KEPT_ROWS, place=where, name=name, value=value)


def corrected_rows(script: Script, wording: Wording, givens: Sequence[Given]) -> str:
    """One value read back for all rows where it replaced others."""
    where, name, value = _rows_told(script, wording, givens)
    return wording.say(SystemKey.CORRECTED_ROWS, place=where, name=name, value=value)


def _rows_told(script: Script, wording: Wording, givens: Sequence[Given]) -> tuple[str, str, str]:
    slot = script.slots[givens[0].slot]
    rows = [given.row for given in givens if given.row is not None]
    return wording.row_place(rows), wording.name(slot).lower(), wording.value(givens[0].value, slot)


def kept(script: Script, wording: Wording, given: Given) -> str:
    """The value read back after it was kept."""
    slot = script.slots[given.slot]
    value = wording.value(given.value, slot)
    name = wording.name(slot)
    if given.row is None and _is_unnamed(slot, value):
        return wording.say(AnswerKey.KEPT_ALONE, value=value)
    if given.row is None:
        return wording.say(SystemKey.KEPT, name=name, value=value)
    if _is_main(script, given.slot):
        return wording.say(SystemKey.KEPT_ROW, row=str(given.row), value=value)
    return wording.say(SystemKey.KEPT_ROW_NAMED, row=str(given.row), name=name.lower(), value=value)


def reading_texts(asked: Question, script: Script, wording: Wording) -> tuple[str, ...]:
    """Every reading of a question in words: "row 22, 50 g"; with its run where they are not of the same one."""
    if asked.about is QuestionKind.REPORT:
        return (_reports_text(asked),)
    texts = [_reading_text(reading, script, wording) for reading in asked.readings]
    if len({reading.run for reading in asked.readings}) < 2:
        return tuple(texts)
    pairs = zip(asked.readings, texts, strict=True)
    return tuple(wording.say(SystemKey.RUN_READING, run=str(reading.run), reading=text) for reading, text in pairs)


def _reports_text(asked: Question) -> str:
    """Reports as they were heard: "Row five stopped, rest good"."""
    said = ", ".join(one.said for one in asked.reports)
    return said[:1].upper() + said[1:]


def _reading_text(reading: ValueReading, script: Script, wording: Wording) -> str:
    same = groupby(reading.givens, key=lambda given: (given.slot, given.value))
    return ", ".join(_given_text(tuple(givens), script, wording) for _, givens in same)


def _given_text(givens: Sequence[Given], script: Script, wording: Wording) -> str:
    value = wording.value(givens[0].value, script.slots[givens[0].slot])
    where = places(script, wording, givens)
    return value if givens[0].row is None else f"{where[0].lower()}{where[1:]}, {value}"


def question(asked: Question, script: Script, wording: Wording, dialog: DialogState) -> str:
    """The question to settle a doubt."""
    if asked.key is not None:
        return wording.say(SystemKey(asked.key), **asked.figures)
    if asked.about is QuestionKind.STOP:
        return wording.say(SystemKey.STOP_SURE, rows=wording.row_names(asked.rows))
    if asked.about is QuestionKind.REPORT:
        return wording.say(SystemKey.REPORT_SURE, said=_reports_text(asked))
    if asked.about is QuestionKind.CHOICE:
        return wording.say(SystemKey.WHICH, choices=wording.join(reading_texts(asked, script, wording)))
    givens = asked.readings[0].givens
    given = givens[0]
    slot = script.slots[given.slot]
    where = places(script, wording, givens)
    value = wording.value(given.value, slot)
    if asked.about is QuestionKind.REPLACE and len(givens) > 1:
        return wording.say(SystemKey.REPLACE_ROWS, place=where, value=value)
    if asked.about is QuestionKind.REPLACE and asked.old is not None:
        return wording.say(SystemKey.REPLACE, place=where, old=wording.value(asked.old, slot), value=value)
    if asked.about is QuestionKind.CHECK and asked.check is not None and asked.outcome is not None:
        text = slot.checks[asked.check].confirm[asked.outcome]
        return fill(text, script, wording, {**dialog.values, **asked.shown, "this": given.value}, slot)
    if asked.reason in (DoubtReason.UNUSUAL, DoubtReason.INFERRED) and slot.kind is SlotKind.TEXT:
        return wording.say(SystemKey.SURE_NAME, place=where, value=value)
    if asked.reason is DoubtReason.ELSEWHERE:
        return wording.say(SystemKey.SURE_ELSEWHERE, place=where.lower(), value=value)
    key = SystemKey.SURE_UNUSUAL if asked.reason is DoubtReason.UNUSUAL else SystemKey.SURE
    return wording.say(key, place=where, value=value)


def ways_texts(asked: Question, wording: Wording) -> tuple[str, ...]:
    """The ways to take a report, as they stand on buttons."""
    return tuple(wording.say(SystemKey(f"way_{way.name}")) for way in asked.ways)


def fill(
    text: Text,
    script: Script,
    wording: Wording,
    values: Mapping[str, Value],
    this: Slot | None = None,
    **more: str,
) -> str:
    """A text of the dialog with its values written in."""
    written = {
        name: wording.value(values[name], this if name == "this" else described(script, name))
        for name in text.names
        if name not in more
    }
    return text.fill(wording.language, {**written, **more})


# ---------------------------------------------------------------- rows read back one after the other


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
