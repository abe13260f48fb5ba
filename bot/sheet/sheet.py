"""What a summary shows, in words and numbers, taken from the record as it stands there.

What is drawn of a row is what was judged: the estimate from all its catches with its interval, its last catch beside
it. Where there is no estimate, or it is of the setting that the dial is to be moved to, the last catch is drawn.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from bot.sheet.texts import SheetKey
from bot.sheet.words import SheetWords
from engine.calculations.advisor.verdict import Verdict
from engine.dialog.schema.slot_roles import Role
from engine.history.records import Calibration, TestRun
from engine.messages import Message
from engine.quantities import Measure
from engine.values import Value


class RowMark(StrEnum):
    """How a row stands, one shape for each."""

    ON_TARGET = "on_target"
    CLOSEST = "closest"
    NOT_SURE = "not_sure"
    AGAIN = "again"
    MOVE = "move"
    FAULT = "fault"
    NO_CATCH = "no_catch"
    LEFT_OUT = "left_out"


MARKS: Mapping[Verdict, RowMark] = {
    Verdict.ON_TARGET: RowMark.ON_TARGET,
    Verdict.CLOSEST_NOTCH: RowMark.CLOSEST,
    Verdict.NOT_SURE: RowMark.NOT_SURE,
    Verdict.RUN_AGAIN: RowMark.AGAIN,
    Verdict.ADJUST: RowMark.MOVE,
    Verdict.DOUBTFUL_CATCH: RowMark.FAULT,
    Verdict.INTERMITTENT: RowMark.FAULT,
    Verdict.CANNOT_TELL: RowMark.FAULT,
}


class SheetRow(Message):
    """One row: in percent of the target ``off`` is what its mark shows, from ``low`` to ``high`` where that is an
    estimate, ``catch_off`` its last catch. In words ``catch`` has the estimate beside it, ``last`` is it alone."""

    row: int
    mark: RowMark
    off: float | None = None
    low: float | None = None
    high: float | None = None
    catch_off: float | None = None
    catch: str
    last: str
    setting: str
    verdict: str


class RunSheet(Message):
    """One test run, rows that are off first. ``tolerance`` is in percent of the target, ``lines`` and ``summary`` stand
    above the rows; ``legend`` says what the marks mean, ``page_of`` has {page} and {pages} in it, ``others`` {count},
    and so ``others_good`` for rows that are all on target. ``author`` is who ran it, ``when`` its last value came."""

    title: str
    summary: str
    lines: tuple[str, ...]
    tolerance: float
    rows: tuple[SheetRow, ...]
    low: str
    high: str
    legend: dict[RowMark, str]
    catch_legend: str
    others: str
    others_good: str = "{count}"
    page_of: str
    when: datetime
    author: str = ""


@dataclass(frozen=True)
class SheetHeader:
    """What is known of a test run beside its record: planter, product, field, lot, and who spoke."""

    planter: str | None = None
    product: str | None = None
    field: str | None = None
    lot: str | None = None
    who: str | None = None


def sheet(record: Calibration, words: SheetWords, about: SheetHeader | None = None) -> RunSheet:
    """The last judged run of a calibration."""
    run, about = judged(record), about or SheetHeader()
    tolerance = record.values.get(Role.TOLERANCE)
    percent = tolerance.to("%").value if isinstance(tolerance, Measure) else 5.0
    rows = sorted((_row(record, run, row, words) for row in record.rows), key=lambda one: (rank(one.mark), one.row))
    marks = dict.fromkeys(row.mark for row in rows)
    return RunSheet(
        title=words.title(run.number, about.planter),
        summary=words.standing([(one.row, one.mark) for one in rows]),
        lines=words.head(record, run, about, percent),
        tolerance=percent,
        rows=tuple(rows),
        low=words.say(SheetKey.LOW),
        high=words.say(SheetKey.HIGH),
        legend={mark: words.mark(mark) for mark in RowMark if mark in marks},
        catch_legend=words.say(SheetKey.LAST_CATCH) if any(one.catch_off is not None for one in rows) else "",
        others=words.say(SheetKey.OTHERS, count="{count}"),
        others_good=words.say(SheetKey.OTHERS_GOOD, count="{count}"),
        page_of=words.say(SheetKey.PAGE, page="{page}", pages="{pages}"),
        when=run.when.astimezone(words.zone),
        author=about.who or "",
    )


def rank(mark: RowMark) -> int:
    """Rows that are off stand first."""
    return {RowMark.ON_TARGET: 2, RowMark.CLOSEST: 1, RowMark.NOT_SURE: 1}.get(mark, 0)


def judged(record: Calibration) -> TestRun:
    """The last run in which anything was weighed, else the last one."""
    return next((run for run in reversed(record.runs) if run.rows.get(Role.NET)), record.runs[-1])


def last_catch(record: Calibration, run: TestRun, row: int) -> TestRun | None:
    """The last run up to this one in which a row was caught: one may have been spared since."""
    before = [one for one in record.runs if one.number <= run.number]
    return next((one for one in reversed(before) if Role.NET in one.of(row)), None)


def verdict_of(run: TestRun, row: int) -> Verdict | None:
    word = run.of(row).get(Role.VERDICT)
    return Verdict(str(word)) if word is not None and str(word) in set(Verdict) else None


def _row(record: Calibration, run: TestRun, row: int, words: SheetWords) -> SheetRow:
    caught, verdict = last_catch(record, run, row), verdict_of(run, row)
    if row in record.left_out:
        return _blank(row, RowMark.LEFT_OUT, words)
    if caught is None or verdict is None:
        return _blank(row, RowMark.NO_CATCH, words)
    values, net = run.of(row), caught.of(row)[Role.NET]
    catch_off = _off(net, record.values.get(Role.TARGET))
    low, middle, high = _estimate(values, record, verdict)
    return SheetRow(
        row=row,
        mark=MARKS[verdict],
        off=catch_off if middle is None else middle,
        low=low,
        high=high,
        catch_off=catch_off,
        catch=words.caught(net, catch_off, middle, record),
        last=words.caught(net, catch_off, None, record),
        setting=words.setting(values),
        verdict=words.verdict(verdict, values),
    )


def _blank(row: int, mark: RowMark, words: SheetWords) -> SheetRow:
    return SheetRow(row=row, mark=mark, catch=words.mark(mark), last=words.mark(mark), setting="", verdict="")


def _off(net: Value, target: Value | None) -> float | None:
    if not isinstance(net, Measure) or not isinstance(target, Measure):
        return None
    return round((net.to("g").value / target.to("g").value - 1) * 100, 1)


def _estimate(
    values: Mapping[str, Value], record: Calibration, verdict: Verdict
) -> tuple[float | None, float | None, float | None]:
    """Low, middle and high of the expected output in percent of the target; of the setting that the dial is at."""
    wanted = record.values.get(Role.RATE)
    found = [values.get(role) for role in (Role.EXPECTED_LOW, Role.EXPECTED_RATE, Role.EXPECTED_HIGH)]
    if verdict is Verdict.ADJUST or not isinstance(wanted, Measure):
        return None, None, None
    low, middle, high = (
        round((one.to(wanted.unit).value / wanted.value - 1) * 100, 1) if isinstance(one, Measure) else None
        for one in found
    )
    return low, middle, high
