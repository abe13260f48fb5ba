"""Questions about what is to be met: how far off is still good, and how fast to drive."""

from __future__ import annotations

from engine.calculations.course import SPEED_TOLERANCE
from engine.calculations.domain import number
from engine.calculations.formulas import formulas
from engine.dialog.questions.knowledge import SPEED, measure_of, measures, say_unknown, shown, tolerance
from engine.dialog.reply.answer_texts import AnswerKey
from engine.dialog.schema.slot_roles import Role
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.quantities import Measure


def say_tolerance(walk: TurnBuilder) -> None:
    """How far off is still good, in what the row gives and in what the scale or the tube shows."""
    within = tolerance(walk)
    if within is None:
        say_unknown(walk, Role.TOLERANCE)
        return
    off = walk.wording.amount(within.to("%"), None)
    target = measure_of(walk, Role.TARGET)
    if target is None:
        walk.say(AnswerKey.TOLERANCE_ALONE, off=off)
        say_unknown(walk, Role.TARGET)
        return
    low, high = _ends(walk, target.to("g"), within)
    walk.say(AnswerKey.TOLERANCE, off=off, low=low, high=high)
    tare, tube = measure_of(walk, Role.TARE), measure_of(walk, Role.TUBE)
    if tube is not None and tube.value > 0:
        low, high = _ends(walk, tube.to("mL"), within)
        walk.say(AnswerKey.TOLERANCE_TUBE, low=low, high=high)
    elif tare is not None and tare.value > 0:
        low, high = _ends(walk, target.to("g"), within, tare.to("g").value)
        walk.say(AnswerKey.TOLERANCE_SCALE, low=low, high=high)


def _ends(walk: TurnBuilder, around: Measure, within: Measure, more: float = 0.0) -> tuple[str, str]:
    share = within.to("%").value / 100
    low, high = (around.model_copy(update={"value": around.value * (1 + one) + more}) for one in (-share, share))
    return walk.wording.amount(low, 1), walk.wording.amount(high, 1)


def say_speed(walk: TurnBuilder) -> None:
    """The speed to hold, and how many seconds of the course prove it."""
    found = measures(walk, Role.SPEED)
    if found is None:
        return
    speed = found[0]
    walk.say(AnswerKey.HOLD_SPEED, speed=shown(walk.wording, speed, SPEED, 1))
    course = measure_of(walk, Role.COURSE)
    if course is None:
        say_unknown(walk, Role.COURSE)
        return
    time = formulas()["course-time"].evaluate({"course": course, "speed": speed}).results["value"]
    if isinstance(time, Measure):
        share = number(SPEED_TOLERANCE)
        ends = (time.value / (1 + share), time.value / (1 - share))
        low, high = (walk.wording.amount(Measure(value=one, unit=time.unit).to("s"), 0) for one in ends)
        walk.say(
            AnswerKey.HOLD_SECONDS,
            course=walk.wording.amount(course),
            seconds=walk.wording.amount(time.to("s"), 1),
            low=low.partition(" ")[0],
            high=high,
        )
