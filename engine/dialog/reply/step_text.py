"""What a step says: its text, or a list of rows; a verdict of many rows cut short for the ear."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate

from engine.data.texts import Text
from engine.dialog.facts.state import DialogState
from engine.dialog.facts.waiting import rows_of
from engine.dialog.reply.sentences import fill
from engine.dialog.reply.speech_text import Unshown, Unspoken, aloud
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.reply.wording import Wording, described
from engine.dialog.schema.script import Finish, Listing, Refuse, Say, Script, Step
from engine.dialog.schema.slot import Result
from engine.dialog.schema.slot_roles import Phase, Role, name_in
from engine.values import Value

MOST_S = 7.0
"""Seconds of a verdict that are said aloud (own decision: with the line on all rows behind it, within eight)."""
LETTER_S, PAUSE_S = 0.064, 0.53
"""Seconds that espeak-ng takes at its usual pace for a letter or digit, and for a sentence or a part of it: fitted to
22 lines of verdicts in English and Spanish."""
_PAUSE = re.compile(r"[.,:;] ")


def step_texts(step: Step, script: Script, wording: Wording, dialog: DialogState) -> list[str]:
    """What a step says; with a verdict, and at the end of a calibration, of the rows that are not in it as well."""
    match step:
        case Finish(finish=text) if dialog.phase is Phase.CALIBRATION:
            said = fill(text, script, wording, dialog.values, run=str(dialog.run))
            return [said, *absent(script, dialog.as_judged or dialog, wording)]
        case Say(say=text) | Finish(finish=text) | Refuse(refuse=text):
            return [fill(text, script, wording, dialog.values, run=str(dialog.run))]
        case Listing():
            if step.list_ != name_in(script.records, Role.VERDICT):
                return listing(step, script, wording, dialog)
            beside = absent(script, dialog, wording)
            return abridged(step, script, wording, dialog, beside) + beside
        case _:
            return []


def absent(script: Script, dialog: DialogState, wording: Wording) -> list[str]:
    """The rows that a verdict says nothing of, and why."""
    verdicts = dialog.rows.get(name_in(script.records, Role.VERDICT) or "", {})
    missing = [row for row in rows_of(script, dialog) if row not in verdicts]
    found = [wording.say(SystemKey.NOT_CAUGHT, rows=wording.row_names(missing))] if missing else []
    out = wording.row_names(sorted(dialog.left_out)) if dialog.left_out else None
    return found + ([wording.say(SystemKey.ROWS_OUT, rows=out)] if out else [])


@dataclass(frozen=True)
class RowsLine:
    """One line of a list, and the rows that it tells of."""

    rows: tuple[int, ...]
    text: str


def listing(step: Listing, script: Script, wording: Wording, dialog: DialogState) -> list[str]:
    """The lines of a list step: rows of one case joined where the text speaks of ``{rows}``."""
    cases = listed_cases(step, script, wording, dialog)
    title = [fill(step.title, script, wording, dialog.values, run=str(dialog.run))] if step.title else []
    return [*title, *(line.text for lines in cases for line in lines)]


def listed_cases(step: Listing, script: Script, wording: Wording, dialog: DialogState) -> list[list[RowsLine]]:
    """The lines of each case that any row is in, in the order of the cases."""
    by_row, cases = dialog.rows.get(step.list_, {}), []
    for case, text in step.each.items():
        rows = sorted(row for row, word in by_row.items() if word == case)
        if rows and "rows" in text.names:
            cases.append(_joined_lines(text, script, wording, dialog, rows))
        elif rows:
            cases.append([RowsLine((row,), _row_line(text, script, wording, dialog, row)) for row in rows])
    return cases


def _joined_lines(
    text: Text, script: Script, wording: Wording, dialog: DialogState, rows: Sequence[int]
) -> list[RowsLine]:
    """One line for all rows that share the per-row values in a text, but for its signed results."""
    signed = {name: of for name in text.names if isinstance(of := described(script, name), Result) and of.signed}
    spans = {name: of for name, of in signed.items() if name in dialog.rows}
    shared = [name for name in sorted(text.names) if name in dialog.rows and name not in spans]
    together: dict[tuple[Value | None, ...], list[int]] = {}
    for row in rows:
        together.setdefault(tuple(dialog.rows[name].get(row) for name in shared), []).append(row)
    lines: list[RowsLine] = []
    for values, same in together.items():
        spanned = {name: wording.span([dialog.rows[name][row] for row in same], of) for name, of in spans.items()}
        told = {**spanned, "run": str(dialog.run)}
        known = {**dialog.values, **{name: one for name, one in zip(shared, values, strict=True) if one is not None}}
        line = fill(text, script, wording, known, None, rows=wording.row_names(same), **told)
        lines.append(RowsLine(tuple(same), line[0].upper() + line[1:]))
    return lines


def _row_line(text: Text, script: Script, wording: Wording, dialog: DialogState, row: int) -> str:
    per_row = {name: rows[row] for name, rows in dialog.rows.items() if row in rows}
    return fill(text, script, wording, {**dialog.values, **per_row}, row=str(row), run=str(dialog.run))


def abridged(step: Listing, script: Script, wording: Wording, dialog: DialogState, beside: Sequence[str]) -> list[str]:
    """The list as it is shown, and what is said of it, with what is said ``beside`` it, in the time there is to listen:
    whole lines, in the order of ``aloud``, at least the first. Of the rest is said how many rows, and the way to hear
    it."""
    shown = [Unspoken(line) for line in listing(step, script, wording, dialog)]
    spoken = step.model_copy(update={"each": step.aloud or step.each})
    lines = [line for lines in listed_cases(spoken, script, wording, dialog) for line in lines]
    last = _rest(spoken, script, wording, dialog)
    room = MOST_S - sum(_seconds(line, wording) for line in (*beside, *last))
    told = [line for line in lines if not last or line.rows != lines[-1].rows]
    within = _that_fit(told, room, wording)
    left = sum(len(line.rows) for line in told[within:])
    more = [wording.say(SystemKey.VERDICT_REST, count=str(left))] if left else []
    return [*shown, *map(Unshown, (*(line.text for line in told[:within]), *more, *last))]


def _rest(step: Listing, script: Script, wording: Wording, dialog: DialogState) -> list[str]:
    """The last case that any row is in without its rows, where others are told before it."""
    words = set(dialog.rows.get(step.list_, {}).values())
    cases = [case for case in step.each if case in words]
    if len(cases) < 2 or cases[-1] not in step.rest:
        return []
    return [fill(step.rest[cases[-1]], script, wording, dialog.values, run=str(dialog.run))]


def _that_fit(lines: Sequence[RowsLine], room: float, wording: Wording) -> int:
    """How many lines from the first can be said: all of them, or as many as leave time to say that there are more."""
    ends = list(accumulate(_seconds(line.text, wording) for line in lines))
    if not ends or ends[-1] <= room:
        return len(lines)
    more = _seconds(wording.say(SystemKey.VERDICT_REST, count=str(len(lines))), wording)
    return max(sum(end <= room - more for end in ends), 1)


def _seconds(line: str, wording: Wording) -> float:
    """About how long a line takes to be said."""
    said = aloud(line, wording.language)
    return LETTER_S * sum(map(str.isalnum, said)) + PAUSE_S * (len(_PAUSE.findall(said)) + 1)
