"""The years of a row: what each calibration left it at, its repairs, and whether it wears against the others."""

from __future__ import annotations

from collections.abc import Iterator

from engine.calculations.hoppers.wear import Drift, Wear
from engine.dialog.facts.yearbook import Repair, RowYear, Yearbook
from engine.dialog.reply.answer_texts import AnswerKey
from engine.dialog.reply.speech_text import Unshown, Unspoken
from engine.dialog.reply.wording import Wording
from engine.dialog.schema.slot_roles import Role
from engine.dialog.taking.verdicts import OFF
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.quantities import Measure, Quantity, measure
from engine.reminders.local_time import zone_called
from engine.values import Dial

MOST_SHOWN, MOST_SAID = 5, 3
"""So many calibrations of a row are shown at once, and so many said: the newest (own decision)."""
DATE = "%Y-%m-%d"


def yearbook(builder: TurnBuilder) -> Yearbook:
    """The years that the conversation looks back on."""
    return Yearbook(builder.state.book.past, builder.state.book.repairs, zone_called(builder.zone))


def say_years(builder: TurnBuilder, row: int) -> None:
    """The last calibrations of a row, newest first, and how it wears; that there is none where none is."""
    book = yearbook(builder)
    years, repairs = book.of(row), book.repairs_of(row)
    if not years and not repairs:
        builder.say(AnswerKey.NO_YEARS, row=str(row))
        return
    written: list[RowYear | Repair] = [*years[:MOST_SHOWN], *repairs]
    builder.lines.append(
        Unspoken(_line(builder, row, [_written(builder, one) for one in _in_order(written)], len(years)))
    )
    heard = [*_last_of_seasons(book, years)][:MOST_SAID]
    said = [_said(builder, book, one) for one in _in_order([*heard, *repairs[:1]])]
    builder.lines.append(Unshown(_line(builder, row, said, len(years), len(heard))))
    found = book.wear()
    builder.lines += wear_told(builder.wording, book, found, row) if found else []


def say_wear(builder: TurnBuilder) -> None:
    """The rows that wear, or need less each season, a line each; nothing where no year shows any."""
    book = yearbook(builder)
    found = book.wear()
    for row, drift in found.drifts.items() if found else ():
        if drift in (Drift.RISING, Drift.FALLING):
            builder.lines += wear_told(builder.wording, book, found, row) if found else []


def wear_told(wording: Wording, book: Yearbook, found: Wear, row: int) -> list[str]:
    """How a row wears, in a sentence; that the years do not tell is only shown."""
    drift, seasons = found.drifts.get(row), str(found.seasons.get(row, 0))
    match drift:
        case Drift.RISING | Drift.FALLING:
            return [_drifting(wording, book, found, row, seasons)]
        case Drift.STEADY:
            return [wording.say(AnswerKey.WEAR_STEADY, row=str(row), seasons=seasons)]
        case _:
            return [Unspoken(wording.say(AnswerKey.WEAR_TOO_LITTLE))]


def _drifting(wording: Wording, book: Yearbook, found: Wear, row: int, seasons: str) -> str:
    rising = found.drifts[row] is Drift.RISING
    if is_marked(book):
        return wording.say(
            AnswerKey.WEAR_RISING_MARKS if rising else AnswerKey.WEAR_FALLING_MARKS, row=str(row), seasons=seasons
        )
    low, high = (
        _percent(wording, one[row]) for one in ((found.low, found.high) if rising else (found.high, found.low))
    )
    return wording.say(
        AnswerKey.WEAR_RISING if rising else AnswerKey.WEAR_FALLING,
        row=str(row),
        change=_percent(wording, found.change[row]),
        low=low,
        high=high,
        seasons=seasons,
    )


def is_marked(book: Yearbook) -> bool:
    """Whether the dial has marks, of which nobody knows by how much output grows from one to the next."""
    dial = book.counting()[-1].values.get(Role.DIAL)
    return isinstance(dial, Dial) and bool(dial.marks)


def _percent(wording: Wording, change: Quantity) -> str:
    """The size of a change: whole percents, nobody acts on less; below one with a digit more."""
    size = abs(measure(change, "%").value)
    return wording.amount(Measure(value=size, unit="%"), 0 if size >= 1 else 1)


def _line(builder: TurnBuilder, row: int, told: list[str], all_: int, of: int = MOST_SHOWN) -> str:
    years, more = "; ".join(told), all_ - min(of, all_)
    if more:
        return builder.wording.say(AnswerKey.YEARS_MORE, row=str(row), years=years, count=str(more))
    return builder.wording.say(AnswerKey.YEARS, row=str(row), years=years)


def _in_order(found: list[RowYear | Repair]) -> list[RowYear | Repair]:
    return sorted(found, key=lambda one: one.at, reverse=True)


def _last_of_seasons(book: Yearbook, years: tuple[RowYear, ...]) -> Iterator[RowYear]:
    """Of each season the calibration that was planted with, newest first."""
    told: set[int] = set()
    for one in years:
        if book.season(one.at) not in told:
            told.add(book.season(one.at))
            yield one


def _written(builder: TurnBuilder, one: RowYear | Repair) -> str:
    day, wording = f"{one.at.astimezone(zone_called(builder.zone)):{DATE}}", builder.wording
    if isinstance(one, Repair):
        return wording.say(AnswerKey.YEAR_REPAIRED, date=day, said=one.said)
    with_ = ", ".join(around(wording, one))
    return (
        wording.say(AnswerKey.YEAR_WITH, date=day, how=how(wording, one), with_=with_)
        if with_
        else wording.say(AnswerKey.YEAR, date=day, how=how(wording, one))
    )


def around(wording: Wording, one: RowYear) -> list[str]:
    """The setting, rate, speed and product of a calibration, as far as they are known."""
    setting = [wording.say(AnswerKey.YEAR_SETTING, setting=one.setting.label)] if one.setting else []
    figures = [wording.rough(figure) for figure in (one.rate, one.speed) if figure]
    return [*setting, *figures, *([one.product] if one.product else [])]


def how(wording: Wording, one: RowYear) -> str:
    """How far off a row was, or why that is not known."""
    if one.left_out:
        return wording.say(AnswerKey.YEAR_LEFT_OUT)
    if one.off is None:
        return wording.say(AnswerKey.YEAR_NOT_CAUGHT)
    even = abs(one.off.to("%").value) < 10**-OFF.decimals / 2
    told = wording.say(AnswerKey.YEAR_ON_TARGET) if even else wording.shown(one.off, OFF)
    return told if one.passed else wording.say(AnswerKey.YEAR_NOT_GOOD, how=told)


def _said(builder: TurnBuilder, book: Yearbook, one: RowYear | Repair) -> str:
    ago, wording = max(book.season(builder.now) - book.season(one.at), 0), builder.wording
    when = (
        wording.say((AnswerKey.THIS_YEAR, AnswerKey.LAST_YEAR)[ago])
        if ago < 2
        else wording.say(AnswerKey.YEARS_AGO, count=str(ago))
    )
    if isinstance(one, Repair):
        return wording.say(AnswerKey.YEAR_REPAIRED_ALOUD, date=when)
    return wording.say(AnswerKey.YEAR, date=when, how=how(wording, one))
