"""Judging a test run from what was read on the scale or the tube, by the rule that the settings choose."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from typing import Literal, TypeVar

from engine.calculations.advisor.advice import advise
from engine.calculations.advisor.handbook import handbook_advice, overall
from engine.calculations.advisor.observations import CatchGoal, CatchPrecision, CaughtRuns, EarlierCatches
from engine.calculations.advisor.starting import NO_RATES, EarlierRates
from engine.calculations.advisor.verdict import PASSED, Advice, Move, NextCatch, Verdict
from engine.calculations.catalogue import formula
from engine.calculations.catch import net_catch, net_catches, poured_catches
from engine.calculations.domain import at_most, expressed, not_negative, number, positive, tolerance_of
from engine.calculations.kinds import Density, EveryRun, Length, Mass, PerRow, Ratio, RowRate, Speed, Volume
from engine.calculations.meter import Meter, exponent_of
from engine.calculations.runs.drive import drive_correction
from engine.calculations.runs.patterns import fault_pattern
from engine.calculations.runs.run import reading_step
from engine.calculations.target import over_passes
from engine.errors import InputError
from engine.quantities import quantity
from engine.values import Dial, Setting

T = TypeVar("T")
Rule = Literal["handbook", "advise"]
Drive = Literal["shared", "each"]
PATTERN_ROWS = 3
"""Fewer rows have no middle to be apart from."""


@dataclass(frozen=True)
class CatchCheck:
    """Whether a reading can be a catch, and the product in it."""

    outcome: Literal["fine", "lighter_than_container", "nothing"]
    net: Mass


@formula("catch-check", sources=("WEIGHING",))
def catch_check(gross: Mass, tare: Mass | None = None) -> CatchCheck:
    """Net mass of one reading, net = gross - tare, and whether it can be a catch; a tare not given is zero.

    ``gross``, ``tare`` [g, oz]. A reading equal to its container is a row that gave nothing.
    Valid: both zero or above. Errors: OutOfDomain. Source: WEIGHING.
    """
    found = net_catch(gross, tare if tare is not None else 0 * gross)
    empty = found.outcome == "fine" and found.net.magnitude == 0
    return CatchCheck("nothing" if empty else found.outcome, found.net)


@formula("caught-mass", sources=("WEIGHING", "DENSITY-IDENTITY"))
def caught_mass(
    gross: PerRow[Mass] | None = None,
    tare: Mass | None = None,
    volumes: PerRow[Volume] | None = None,
    density: Density | None = None,
) -> PerRow[Mass]:
    """Product caught in each row: gross - tare where it was weighed, volume x density where it was read in a tube.

    ``gross``, ``tare`` [g, oz]; ``volumes`` [mL, fl oz] with ``density`` [g/mL, lb/ft3]. Scale readings come first.
    Valid: as in net-catches and poured-catches. Errors: OutOfDomain; InputError with neither readings.
    Sources: WEIGHING, DENSITY-IDENTITY.
    """
    if gross:
        some = next(iter(gross.values()))
        return net_catches(gross, tare if tare is not None else 0 * some)
    if volumes and density is not None:
        return poured_catches(volumes, density)
    raise InputError("no row was caught")


@formula("next-move", sources=("TRADE",))
def next_move(verdicts: PerRow[Verdict]) -> Move:
    """What comes next for the planter: moving a dial before catching again, catching again before giving up.

    Valid: at least one row. Errors: InputError for none. Source: TRADE.
    """
    if not verdicts:
        raise InputError("there is no verdict to go by")
    return overall(tuple(Verdict(one) for one in verdicts.values()))


@formula("catches-spared", sources=("BAYES",))
def catches_spared(next_catch: PerRow[NextCatch]) -> Literal["some", "none"]:
    """Whether the next run can do without the catch of some row. Valid: any rows. Errors: none. Source: BAYES."""
    return "some" if NextCatch.SPARE in next_catch.values() else "none"


@dataclass(frozen=True)
class RunPattern:
    """What the rows of a run show together; ``few`` rows show nothing. ``row`` is the one farthest from the rest."""

    outcome: Literal["none", "one_row", "all_alike", "mixed", "few"]
    shift: Ratio
    row: int


@formula("run-pattern", sources=("FAULT-LOGIC", "GA-2020", "TRADE"))
def run_pattern(
    caught: PerRow[Mass], target: Mass, tolerance: Ratio, verdicts: PerRow[Verdict] | None = None
) -> RunPattern:
    """Fault pattern of a run as in fault-pattern; under three rows nothing is said of a pattern.

    With ``verdicts`` nothing is said against them: one row is off only if it did not pass, and rows that all pass send
    nobody to look for a common fault under half the tolerance.
    ``caught``, ``target`` [g, oz], ``tolerance`` [%]. Valid: as in fault-pattern. Errors: OutOfDomain.
    Sources: FAULT-LOGIC, GA-2020, TRADE.
    """
    if len(caught) < PATTERN_ROWS:
        return RunPattern("few", quantity(0, "1"), min(caught, default=1))
    found = fault_pattern(caught, target, tolerance)
    passed = {row for row, verdict in (verdicts or {}).items() if Verdict(verdict) in PASSED}
    small = at_most(2 * abs(number(found.shift)), tolerance_of(tolerance))
    quiet = found.row in passed if found.outcome == "one_row" else small
    return RunPattern("none" if quiet else found.outcome, found.shift, found.row)


@dataclass(frozen=True)
class DriveAdvice:
    """Whether the common drive is to be changed before any dial, and by what factor."""

    outcome: Literal["change_drive", "dials_only"]
    factor: Ratio
    common: Ratio


@formula("drive-advice", sources=("FAULT-LOGIC", "DRIVE"))
def drive_advice(caught: PerRow[Mass], target: Mass, tolerance: Ratio, drive: Drive) -> DriveAdvice:
    """Correction of the common drive as in drive-correction, for a planter that has one; dials only for the others.

    ``caught``, ``target`` [g, oz], ``tolerance`` [%]. Valid: as in drive-correction. Errors: OutOfDomain.
    Sources: FAULT-LOGIC, DRIVE.
    """
    if drive == "each" or not any(one.magnitude > 0 for one in caught.values()):
        return DriveAdvice("dials_only", quantity(1, "1"), quantity(0, "1"))
    found = drive_correction(caught, target, tolerance)
    return DriveAdvice(found.outcome, found.factor, found.common)


@formula("rates-along-row", sources=("ROW-IDENTITIES",))
def rates_along_row(caught: PerRow[Mass], course: Length, passes: int | None = None) -> PerRow[RowRate]:
    """Product per length of row, q = m / (n L) [g/100 m, oz/1000 ft]: what a notch gives whatever the course.

    ``caught`` m [g, oz] in ``passes`` n over the ``course`` L [ft, m], one where none is said. Valid: catches zero or
    above, course above zero, passes 1 or more. Errors: OutOfDomain. Source: ROW-IDENTITIES.
    """
    length = over_passes(positive("course", course), passes)
    return {row: expressed(not_negative("caught", one) / length, "g/100 m") for row, one in caught.items()}


@dataclass(frozen=True)
class JudgedRuns(CaughtRuns):
    """The runs, and whom each of them left out on purpose."""

    spared: EveryRun[NextCatch] = ()
    """Which rows the run after each one could do without."""


@dataclass(frozen=True)
class DrivenCourse:
    """What was driven for a catch."""

    course: Length | None = None
    """The course [ft, m]; without it earlier calibrations are not used."""
    passes: int | None = None
    """Passes over it into one container; one where none is said."""
    meter: Meter | None = None
    """How the meter answers speed; where it is not told, as the runs themselves show."""


@dataclass(frozen=True)
class ReadingSteps:
    """In what steps a catch was read: on the scale, or in a tube."""

    scale_step: Mass | None = None
    """Step of the scale [g, oz]."""
    tube_step: Volume | None = None
    """Between two marks of the tube [mL, fl oz]."""
    density: Density | None = None
    """Bulk density, to weigh the step of the tube [g/mL, lb/ft3]."""


STEPS_UNTOLD = ReadingSteps()
COURSE_UNTOLD = DrivenCourse()


@formula("judge-run", sources=("RESPONSE", "BAYES", "TRADE"))
def judge_run(
    rule: Rule,
    runs: JudgedRuns,
    goal: CatchGoal,
    dial: Dial,
    reading: ReadingSteps = STEPS_UNTOLD,
    driven: DrivenCourse = COURSE_UNTOLD,
    earlier: EarlierRates = NO_RATES,
) -> Advice:
    """Verdicts and next positions of a run by ``rule``: advise (estimation) or handbook (new = old x target / caught).

    Rows that were not caught in the last run are left out, but for those that the run before it spared.
    ``runs``, ``goal``, ``reading``, ``driven`` and ``earlier``: units beside their fields; else as in advise and
    handbook-advice. Errors: OutOfDomain as theirs; InputError when no row was caught. Sources: RESPONSE, BAYES, TRADE.
    """
    rows = _judged_rows(runs.caught, runs.spared)
    caught, settings = _only(rows, runs.caught), _only(rows, runs.settings)
    if rule == "handbook":
        return handbook_advice(caught, settings, goal.target, goal.tolerance, dial)
    found = advise(
        CaughtRuns(caught, settings, runs.speeds, runs.planting_speed),
        goal,
        dial,
        CatchPrecision(reading_step(reading.scale_step, reading.tube_step, reading.density)),
        _brought_over(driven, earlier),
        None if driven.meter is None else exponent_of(driven.meter),
    )
    return for_uncaught(found, caught, settings)


STAYING = frozenset({Verdict.ON_TARGET, Verdict.NOT_SURE})
"""Verdicts that a row may have in a run in which it was not caught."""


def for_uncaught(found: Advice, caught: EveryRun[Mass], settings: EveryRun[Setting]) -> Advice:
    """Rows that were spared in the last run stay on target, are not sure, or are caught again: none is moved unseen."""
    unsure = [row for row, one in found.verdicts.items() if row not in caught[-1] and one not in STAYING]
    if not unsure:
        return found
    verdicts = {**found.verdicts, **dict.fromkeys(unsure, Verdict.RUN_AGAIN)}
    return replace(
        found,
        outcome=overall(tuple(verdicts.values())),
        verdicts=verdicts,
        next_settings={**found.next_settings, **{row: settings[-1][row] for row in unsure}},
        next_catch={**found.next_catch, **dict.fromkeys(unsure, NextCatch.CATCH)},
    )


def _judged_rows(caught: EveryRun[Mass], spared: EveryRun[NextCatch]) -> Collection[int]:
    if not caught:
        return ()
    before = spared[len(caught) - 2] if 2 <= len(caught) <= len(spared) + 1 else {}
    return [*caught[-1], *(row for row, one in before.items() if one == NextCatch.SPARE and row not in caught[-1])]


@formula("speeds-of-rows", sources=("ROW-IDENTITIES",))
def speeds_of_rows(caught: PerRow[Mass], speed: Speed) -> PerRow[Speed]:
    """The speed at which each row of a run was caught: that of the planter, for the record of every run.

    ``caught`` [g, oz], ``speed`` [mph, km/h]. Valid: speed above zero. Errors: OutOfDomain. Source: ROW-IDENTITIES.
    """
    return dict.fromkeys(caught, positive("speed", speed))


def _brought_over(driven: DrivenCourse, earlier: EarlierRates) -> EarlierCatches:
    """What earlier rates along the row come to over the course of this run."""
    if driven.course is None or not earlier.earlier_rates:
        return EarlierCatches()
    length = over_passes(driven.course, driven.passes)
    masses = tuple({row: expressed(one * length, "g") for row, one in run.items()} for run in earlier.earlier_rates)
    return EarlierCatches(masses, earlier.earlier_settings)


def _only(rows: Collection[int], runs: EveryRun[T]) -> tuple[dict[int, T], ...]:
    return tuple({row: value for row, value in run.items() if row in rows} for run in runs)
