"""What a summary shows, in words and numbers, taken from the record as it stands there."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import tzinfo
from enum import StrEnum

from bot.telegram.texts import ChatTexts, Key
from engine.dialog.roles import Role
from engine.history.records import Calibration, Run
from engine.messages import Language, Message
from engine.quantities import Measure
from engine.values import Value


class Mark(StrEnum):
    """How a row stands: on target, off it, or not known."""

    WITHIN = "within"
    OFF = "off"
    UNKNOWN = "unknown"


class SheetRow(Message):
    """One row: how far off its target in percent, its catch, its setting, and what was decided."""

    row: int
    off: float | None
    catch: str
    setting: str
    verdict: str
    mark: Mark


class Sheet(Message):
    """One test run. ``tolerance`` is in percent of the target; ``words`` are what the drawing itself says."""

    title: str
    lines: tuple[str, ...]
    tolerance: float
    rows: tuple[SheetRow, ...]
    low: str
    high: str
    footer: str


WITHIN = ("on_target", "closest_notch")
VERDICTS = {
    "on_target": Key.VERDICT_ON_TARGET,
    "closest_notch": Key.VERDICT_CLOSEST,
    "adjust": Key.VERDICT_ADJUST,
    "run_again": Key.VERDICT_AGAIN,
    "cannot_tell": Key.VERDICT_CANNOT_TELL,
}


def sheet(
    record: Calibration, texts: ChatTexts, language: Language, zone: tzinfo, about: Sequence[str | None] = ()
) -> Sheet:
    """The last judged run of a calibration; ``about`` is what else is known of it: planter, product, who spoke."""
    run = judged(record)
    tolerance = record.values.get(Role.TOLERANCE)
    percent = tolerance.to("%").value if isinstance(tolerance, Measure) else 5.0
    when = run.when.astimezone(zone)
    target = texts.say(
        Key.SHEET_TARGET, language, target=shown(record.values.get(Role.TARGET)), tolerance=f"{percent:g}"
    )
    return Sheet(
        title=texts.say(Key.SHEET_TITLE, language, run=str(run.number)),
        lines=(target, " · ".join([f"{when:%Y-%m-%d %H:%M}", *filter(None, about)])),
        tolerance=percent,
        rows=tuple(_row(run, row, texts, language) for row in record.rows),
        low=texts.say(Key.SHEET_LOW, language),
        high=texts.say(Key.SHEET_HIGH, language),
        footer=texts.say(Key.SHEET_FOOTER, language),
    )


def judged(record: Calibration) -> Run:
    """The last run in which anything was weighed, else the last one."""
    return next((run for run in reversed(record.runs) if run.rows.get(Role.NET)), record.runs[-1])


def shown(value: object) -> str:
    return f"{value.value:.1f} {value.unit}" if isinstance(value, Measure) else "?"


def _row(run: Run, row: int, texts: ChatTexts, language: Language) -> SheetRow:
    values = run.of(row)
    error, verdict = values.get(Role.ERROR), str(values.get(Role.VERDICT, ""))
    off = error.to("%").value if isinstance(error, Measure) else None
    catch = shown(values.get(Role.NET)) if off is not None else texts.say(Key.SHEET_NO_CATCH, language)
    mark = Mark.UNKNOWN if off is None else Mark.WITHIN if verdict in WITHIN else Mark.OFF
    said = texts.say(VERDICTS[verdict], language) if verdict in VERDICTS and off is not None else ""
    return SheetRow(row=row, off=off, catch=catch, setting=_setting(values, texts, language), verdict=said, mark=mark)


def _setting(values: dict[str, Value], texts: ChatTexts, language: Language) -> str:
    now, then = _text(values.get(Role.SETTING)), _text(values.get(Role.NEXT_SETTING))
    if then is None or then == now:
        return texts.say(Key.SHEET_SETTING, language, setting=now or "?")
    return texts.say(Key.SHEET_MOVE, language, setting=now or "?", next=then)


def _text(value: object) -> str | None:
    return None if value is None else str(value)
