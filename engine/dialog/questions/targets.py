"""Questions about what is to be met: the target, how far off is still good, how fast to drive, how much it takes."""

from __future__ import annotations

from engine.calculations.course import SPEED_TOLERANCE
from engine.calculations.domain import number
from engine.calculations.formulas import formulas
from engine.dialog.questions.knowledge import known, measure_of, measures, product_needed, say_unknown, tolerance
from engine.dialog.reply.answer_texts import AnswerKey
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.schema.slot_roles import Role
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.errors import InputError
from engine.messages import System
from engine.quantities import Measure


def say_tolerance(builder: TurnBuilder) -> None:
    """How far off is still good, in what the row gives and in what the scale or the tube shows."""
    within = tolerance(builder)
    if within is None:
        say_unknown(builder, Role.TOLERANCE)
        return
    off = builder.wording.amount(within.to("%"), None)
    target = measure_of(builder, Role.TARGET)
    if target is None:
        builder.say(AnswerKey.TOLERANCE_ALONE, off=off)
        say_unknown(builder, Role.TARGET)
        return
    low, high = _ends(builder, target.to("g"), within)
    builder.say(AnswerKey.TOLERANCE, off=off, low=low, high=high)
    tare, tube = measure_of(builder, Role.TARE), measure_of(builder, Role.TUBE)
    if tube is not None and tube.value > 0:
        low, high = _ends(builder, tube.to("mL"), within)
        builder.say(AnswerKey.TOLERANCE_TUBE, low=low, high=high)
    elif tare is not None and tare.value > 0:
        low, high = _ends(builder, target.to("g"), within, tare.to("g").value)
        builder.say(AnswerKey.TOLERANCE_SCALE, low=low, high=high)


def _ends(builder: TurnBuilder, around: Measure, within: Measure, more: float = 0.0) -> tuple[str, str]:
    share = within.to("%").value / 100
    low, high = (around.model_copy(update={"value": around.value * (1 + one) + more}) for one in (-share, share))
    return builder.wording.amount(low, 1), builder.wording.amount(high, 1)


def say_speed(builder: TurnBuilder) -> None:
    """The speed to hold, and how many seconds of the course prove it."""
    speed = measure_of(builder, Role.SPEED)
    if speed is None:
        say_unknown(builder, Role.SPEED)
        return
    builder.say(AnswerKey.HOLD_SPEED, speed=builder.wording.amount(builder.wording.usual(speed), 1))
    course = measure_of(builder, Role.COURSE)
    if course is None:
        say_unknown(builder, Role.COURSE)
        return
    time = formulas()["course-time"].evaluate({"course": course, "speed": speed}).results["value"]
    if isinstance(time, Measure):
        share = number(SPEED_TOLERANCE)
        ends = (time.value / (1 + share), time.value / (1 - share))
        low, high = (builder.wording.amount(Measure(value=one, unit=time.unit).to("s"), 0) for one in ends)
        builder.say(
            AnswerKey.HOLD_SECONDS,
            course=builder.wording.amount(course),
            seconds=builder.wording.amount(time.to("s"), 1),
            low=low.partition(" ")[0],
            high=high,
        )


# ---------------------------------------------------------------- product


def say_target(builder: TurnBuilder) -> None:
    """What a row should give over the course, and the rate that it stands for."""
    found = measures(builder, Role.TARGET, Role.RATE)
    if found is None:
        return
    target, rate = found
    grams = builder.wording.amount(target.to("g"), 1)
    ounces = builder.wording.amount(target.to("oz"), 2)
    builder.say(SystemKey.TARGET, target=f"{grams} ({ounces})", rate=_rate(builder, rate))


def say_how_much(builder: TurnBuilder, area: Measure | None) -> None:
    """What an area takes of the product, in all and for each hopper."""
    if area is None:
        builder.say(SystemKey.WHICH_AREA)
        return
    found, rows = measures(builder, Role.RATE, Role.SPACING), known(builder, Role.ROWS)
    if found is None or not isinstance(rows, int):
        return
    try:
        needed = product_needed(found[0], found[1], area, rows)
    except InputError:
        builder.say(SystemKey.CANNOT_USE)
        return
    total, each = (builder.wording.amount(builder.wording.usual(one), 1) for one in needed)
    builder.say(SystemKey.HOW_MUCH, area=builder.wording.amount(area), total=total, each=each, rows=str(rows))


def say_run_out(builder: TurnBuilder) -> None:
    """What each hopper gives away on an acre."""
    found, rows = measures(builder, Role.RATE, Role.SPACING), known(builder, Role.ROWS)
    if found is None or not isinstance(rows, int):
        return
    rate, spacing = found
    _, each = product_needed(rate, spacing, Measure(value=1, unit="acre"), rows)
    small = each.to("oz" if builder.wording.system is System.US else "g")
    builder.say(SystemKey.RUN_OUT, rate=_rate(builder, rate), each=builder.wording.amount(small, 1))


def _rate(builder: TurnBuilder, rate: Measure) -> str:
    return builder.wording.amount(builder.wording.usual(rate), 2)
