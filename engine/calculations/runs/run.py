"""The test run before it is driven: is the course long enough for the scale and short enough for the container."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist
from typing import Literal

from engine.calculations.catalogue import formula
from engine.calculations.domain import at_least_one, at_most, expressed, number, positive, share, tolerance_of, whole
from engine.calculations.kinds import Density, Length, Mass, Ratio, Volume
from engine.calculations.target import target_volume
from engine.errors import InputError
from engine.quantities import quantity

STEP_SHARE = quantity(1, "%")
"""A scale step up to this share of the catch is fine: a fifth of the 5 % tolerance. Our choice, no source."""

FULL = quantity(90, "%")
"""A container fuller than this spills on the way to the scale. Common practice, no source."""

COARSE_SHARE = quantity(5, "%")
"""A step up to this share of the catch can be worked with: half of it is half the usual tolerance. Our choice, no
source."""

MOST_PASSES = 10
"""More passes into one container than this nobody drives. Our choice, no source."""

CONFIDENCE = quantity(90, "%")


@dataclass(frozen=True)
class CourseAdvice:
    """Share of the catch that one scale step is, and the shortest course on which it is small enough."""

    outcome: Literal["long_enough", "too_short"]
    share: Ratio
    course: Length


@dataclass(frozen=True)
class ContainerCheck:
    """How full the catch makes the container, and the longest course it holds."""

    outcome: Literal["holds", "nearly_full", "overflows"]
    fill: Ratio
    course: Length


@dataclass(frozen=True)
class RunPlan:
    """The course to drive; what the scale step and the filling are on it.

    good = the planned course will do; longer or shorter = drive ``course`` instead; finer_scale = no course satisfies
    both, ``course`` is the longest that the container holds.
    """

    outcome: Literal["good", "longer", "shorter", "finer_scale"]
    course: Length
    share: Ratio
    fill: Ratio | None = None


@formula("scale-step", sources=("SCALE-TABLE",))
def scale_step_share(scale_step: Mass, catch: Mass) -> Ratio:
    """Share of a catch that one step of the scale is, q = step / m.

    ``scale_step`` [g, oz] the smallest difference it shows, ``catch`` m [g, oz]. Valid: both above zero.
    Errors: OutOfDomain. Source: SCALE-TABLE.
    """
    return expressed(positive("scale_step", scale_step) / positive("catch", catch), "1")


@formula("course-advice", sources=("SCALE-TABLE", "TRADE"))
def course_advice(catch: Mass, course: Length, scale_step: Mass, allowed: Ratio = STEP_SHARE) -> CourseAdvice:
    """Shortest course on which the scale step is at most ``allowed`` of the catch, L' = L x step / (m x allowed).

    ``catch`` m [g, oz] is the target over the planned ``course`` L [ft, m]; ``scale_step`` [g, oz]; ``allowed`` [%].
    Valid: all above zero, allowed below 100 %. Errors: OutOfDomain. Sources: SCALE-TABLE, TRADE.
    """
    step = scale_step_share(scale_step, catch)
    times = number(step) / tolerance_of(allowed, "allowed")
    outcome: Literal["long_enough", "too_short"] = "long_enough" if at_most(times, 1) else "too_short"
    return CourseAdvice(outcome, step, expressed(positive("course", course) * times, "m"))


@dataclass(frozen=True)
class PassesAdvice:
    """Share of a catch of one pass that a step is, and how many passes into one container make it small enough.

    enough = one pass will do; several = ``passes`` will; finer_scale = not even ten passes would do, ``passes`` is ten.
    """

    outcome: Literal["enough", "several", "finer_scale"]
    share: Ratio
    passes: int


@dataclass(frozen=True)
class PassesMade:
    """The passes over the course that go into one container."""

    outcome: Literal["one", "several"]
    passes: int


@formula("passes-advice", sources=("SCALE-TABLE", "TRADE"))
def passes_advice(
    catch: Mass,
    scale_step: Mass | None = None,
    tube_step: Volume | None = None,
    density: Density | None = None,
    allowed: Ratio = COARSE_SHARE,
) -> PassesAdvice:
    """Passes into one container that make a step at most ``allowed`` of the catch, n = step / (m x allowed) rounded up.

    ``catch`` m [g, oz] is the target of one pass; the step is that of the scale [g, oz], or of the tube [mL, fl oz] by
    the ``density`` [g/mL, lb/ft3] of what stands in it; ``allowed`` [%]. Exactly at it is enough.
    Valid: all above zero, allowed below 100 %. Errors: OutOfDomain; InputError with neither step.
    Sources: SCALE-TABLE, TRADE.
    """
    step = reading_step(scale_step, tube_step, density)
    if step is None:
        raise InputError("neither the step of a scale nor that of a tube is known")
    found = scale_step_share(step, catch)
    needed = whole(number(found) / tolerance_of(allowed, "allowed"))
    if needed == 1:
        return PassesAdvice("enough", found, 1)
    return PassesAdvice("several" if needed <= MOST_PASSES else "finer_scale", found, min(needed, MOST_PASSES))


def reading_step(scale_step: Mass | None, tube_step: Volume | None, density: Density | None) -> Mass | None:
    """The smallest difference of mass that a reading shows [g]: that of the scale, else of the tube; None if unknown.

    OutOfDomain unless what is given is above zero.
    """
    mark = None if tube_step is None else positive("tube_step", tube_step)
    dense = None if density is None else positive("density", density)
    if scale_step is not None:
        return positive("scale_step", scale_step)
    return None if mark is None or dense is None else expressed(mark * dense, "g")


@formula("passes-made", sources=("TRADE",))
def passes_made(passes: int | None = None) -> PassesMade:
    """How many passes go into one container; one where nothing was said of it.

    Valid: one or more. Errors: OutOfDomain. Source: TRADE.
    """
    made = 1 if passes is None else at_least_one("passes", passes)
    return PassesMade("one" if made == 1 else "several", made)


@formula("container-check", sources=("DENSITY-IDENTITY", "TRADE"))
def container_check(catch: Mass, density: Density, container: Volume, course: Length) -> ContainerCheck:
    """How full a catch makes its container, f = m / (d V), and the course that fills it to nine tenths, L x 0.9 / f.

    ``catch`` m [g, oz] over ``course`` L [ft, m], ``density`` d [g/mL, lb/ft3], ``container`` V [mL, fl oz].
    Exactly nine tenths still holds, exactly full is nearly full.
    Valid: all above zero. Errors: OutOfDomain. Sources: DENSITY-IDENTITY, TRADE.
    """
    fill = expressed(target_volume(catch, density) / positive("container", container), "1")
    longest = expressed(positive("course", course) * number(FULL) / number(fill), "m")
    if at_most(number(fill), number(FULL)):
        return ContainerCheck("holds", fill, longest)
    return ContainerCheck("nearly_full" if at_most(number(fill), 1) else "overflows", fill, longest)


@formula("run-plan", sources=("SCALE-TABLE", "DENSITY-IDENTITY", "TRADE"))
def run_plan(
    catch: Mass,
    course: Length,
    scale_step: Mass,
    *,
    container: Volume | None = None,
    density: Density | None = None,
    allowed: Ratio = STEP_SHARE,
) -> RunPlan:
    """The course that suits the scale and, where its volume and the density are known, the container.

    The shortest course of ``course-advice`` when the planned one is too short, the longest of ``container-check`` when
    it is too long; catches grow with the course. Arguments as there [g, ft, mL, g/mL, %].
    Valid: all above zero. Errors: OutOfDomain. Sources: SCALE-TABLE, DENSITY-IDENTITY, TRADE.
    """
    advice = course_advice(catch, course, scale_step, allowed)
    held = container_check(catch, density, container, course) if container is not None and density is not None else None
    needed = advice.course if advice.outcome == "too_short" else course
    if held is None or at_most(number(needed / held.course), 1):
        return _planned("longer" if advice.outcome == "too_short" else "good", needed, course, advice, held)
    enough = at_most(number(advice.course / held.course), 1)
    return _planned("shorter" if enough else "finer_scale", held.course, course, advice, held)


def _planned(
    outcome: Literal["good", "longer", "shorter", "finer_scale"],
    chosen: Length,
    course: Length,
    advice: CourseAdvice,
    held: ContainerCheck | None,
) -> RunPlan:
    times = number(chosen / course)
    return RunPlan(outcome, expressed(chosen, "m"), advice.share / times, held.fill * times if held else None)


@formula("catches-needed", sources=("NORMAL-MEAN",))
def catches_needed(noise: Ratio, tolerance: Ratio, confidence: Ratio = CONFIDENCE) -> int:
    """Catches whose mean lies within a tolerance of the truth, n = (z noise / tolerance)^2 rounded up, at least 1.

    ``noise`` [%] is the standard deviation of one catch, ``confidence`` [%] how often that shall hold, z its two-sided
    normal quantile. No published number of catches was found: this one follows from the risk that is chosen.
    Valid: noise above 0 and up to 100 %, tolerance and confidence above 0 and below 100 %. Errors: OutOfDomain.
    Source: NORMAL-MEAN.
    """
    quantile = NormalDist().inv_cdf((1 + tolerance_of(confidence, "confidence")) / 2)
    return whole((quantile * number(share("noise", noise)) / tolerance_of(tolerance)) ** 2)
