"""The correction by estimation: one verdict and next position per row, from every catch so far."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from engine.calculations.advisor.drift import learnt
from engine.calculations.advisor.forecast import Outlook, Window, outlook, window
from engine.calculations.advisor.handbook import overall
from engine.calculations.advisor.judgement import PASS, STEP, Prospect, judged, next_catch
from engine.calculations.advisor.observations import (
    Catch,
    CatchGoal,
    CatchPrecision,
    CaughtRuns,
    EarlierCatches,
    Scale,
    catches,
    readings,
    usable,
)
from engine.calculations.advisor.posterior import Posterior
from engine.calculations.advisor.prior import Prior, with_exponent
from engine.calculations.advisor.residual import Fit, fits
from engine.calculations.advisor.response import Nominal
from engine.calculations.advisor.stuck import steepness, stuck_rows
from engine.calculations.advisor.verdict import Advice, Verdict
from engine.calculations.catalogue import formula
from engine.calculations.distribution import student_value
from engine.calculations.domain import not_negative, number, positive, share, tolerance_of
from engine.calculations.kinds import EveryRun, Mass, PerRow, Rate, Ratio
from engine.errors import InputError
from engine.quantities import Quantity, magnitude, quantity
from engine.values import Dial, Setting

INTERVAL = 0.9
"""Probability of the interval of the expected rate."""


@dataclass(frozen=True)
class _Scene:
    """What is known beside the catches; ``target`` in grams."""

    target: float
    prior: Prior
    scale: Scale


@dataclass(frozen=True)
class _Case:
    """What the catches come to: grams at notches, and the response given them."""

    dial: Dial
    target: float
    found: Sequence[Catch]
    good: Sequence[Catch]
    stuck: frozenset[int]
    present: Mapping[int, Setting]
    nominal: Nominal
    posterior: Posterior
    fits: Mapping[int, Sequence[Fit]]
    step: float


EXACT = CatchPrecision()
FIRST_YEAR = EarlierCatches()


@formula("advise", sources=("RESPONSE", "BAYES", "NE-1982", "TRADE"))
def advise(
    runs: CaughtRuns,
    goal: CatchGoal,
    dial: Dial,
    precision: CatchPrecision = EXACT,
    earlier: EarlierCatches = FIRST_YEAR,
    speed_exponent: Ratio | None = None,
) -> Advice:
    """Verdict and next position per row from all catches: P = P(|output / target - 1| <= tolerance | catches).

    The output of a row over its dial is the Gaussian process of ``advisor.response``; the catches condition
    it as ``advisor.posterior`` says. A row passes when P at its notch is 80 % or more, and is called on
    target from 87 % on, else not sure. It is moved to the notch expected nearest to the target when that raises P by 20
    % (by 1 % when the planter must be run again anyway, by 10 % then to a notch where it was caught before), and run
    again when one more catch is expected to raise P by 20 %. Otherwise it is at its closest notch where the dial is
    what limits P, and cannot be told where its own scatter does, where it gave hardly anything (under 30 % of the other
    rows), where its output does not follow its dial, or where the target lies past the end of the dial. Rows that all
    pass are run again together when that is expected to bring 4.5 % of them within tolerance. Nothing is claimed at a
    notch where the row was never caught: it is run again. A catch that the others do not explain is doubted and caught
    again; after two that fit, the row is left as not sure, and a second such catch makes it intermittent. No row is on
    target whose last catch lies farther off than the tolerance and three times the noise. From a row's fourth catch on
    a move or another catch must promise more. P is that of the next run: an error that a run has as a whole and a drift
    from run to run are learnt as ``engine.calculations.advisor.drift`` says.

    ``runs``, ``goal``, ``precision`` and ``earlier``: units beside their fields; the more of ``earlier``, the less must
    be learnt anew. Catches at another speed than the planned one count by output ~ speed^-n with ``speed_exponent`` n,
    0 positive roll to 1 gravity. Catches of a turned wheel or a known area count like any other once they are over the
    same course (``catches-over-course``).
    Valid: target above zero, catches zero or above, tolerance above 0 and below 100 %. Errors: OutOfDomain; InputError
    for a catch of a row without a setting or when no row has one. Sources: RESPONSE, BAYES, NE-1982, TRADE.
    """
    within = window(tolerance_of(goal.tolerance))
    prior = _prior(precision.noise, speed_exponent)
    steps = (_share(step, goal.target) for step in (precision.scale_step, precision.container_step))
    scene = _Scene(magnitude(positive("target", goal.target), "g"), prior, Scale(prior.noise, *steps))
    past = catches(CaughtRuns(earlier.earlier_caught, earlier.earlier_settings), earlier=True)
    return _advice(_case(catches(runs), past, runs.settings, dial, scene), within, goal.rate)


def _prior(noise: Ratio | None, exponent: Ratio | None) -> Prior:
    prior = Prior()
    if noise is not None:
        prior = replace(prior, noise=number(share("noise", noise)))
    if exponent is not None:
        prior = with_exponent(prior, exponent)
    return prior


def _share(step: Mass | None, target: Mass) -> float:
    return 0.0 if step is None else number(not_negative("scale_step", step) / positive("target", target))


def _case(
    found: Sequence[Catch],
    past: Sequence[Catch],
    settings: EveryRun[Setting],
    dial: Dial,
    scene: _Scene,
) -> _Case:
    present = {row: setting for run in settings for row, setting in run.items()}
    if not present:
        raise InputError("advise needs the setting of at least one row")
    present = dict(sorted(present.items()))
    good = usable(found, scene.target)
    first = [one.position for one in good] or [one.position for one in present.values()]
    nominal = Nominal(dial, float(np.median(first[: len(present)])))
    stuck = stuck_rows(good, nominal, scene.prior.noise)
    nominal = replace(nominal, steepness=steepness([one for one in good if one.row not in stuck], nominal))
    past = usable(past, scene.target)
    believed = [one for one in [*good, *past] if one.row not in stuck]
    posterior = learnt(scene.prior, readings(believed, scene.target, nominal, scene.scale))
    return _Case(
        dial=dial,
        target=scene.target,
        found=found,
        good=good,
        stuck=stuck,
        present=present,
        nominal=nominal,
        posterior=posterior,
        fits=fits(believed, posterior),
        step=scene.scale.step,
    )


def _advice(case: _Case, within: Window, rate: Rate | None) -> Advice:
    rows = np.array(list(case.present), dtype=np.int64)
    now = np.array([_notch(case.dial, setting) for setting in case.present.values()], dtype=np.int64)
    view = outlook(case.posterior, case.nominal, rows, now, within)
    prospects = {
        int(row): _prospect(case, view, index, int(row), int(now[index]), within) for index, row in enumerate(rows)
    }
    verdicts = judged(prospects, within)
    moved = {row: verdict is Verdict.ADJUST for row, verdict in verdicts.items()}
    logs = [_expected(view, index, moves) for index, moves in enumerate(moved.values())]
    chances = (view.chance if moves else view.chance_now for moves in moved.values())
    doubted = [row for row, verdict in verdicts.items() if verdict in _DOUBTED and row in case.fits]
    reach = student_value(case.posterior.freedom, (1 + INTERVAL) / 2)
    return Advice(
        outcome=overall(verdicts.values()),
        verdicts=verdicts,
        next_settings={
            row: case.dial.setting(case.dial.low + prospects[row].best * case.dial.step) if moves else case.present[row]
            for row, moves in moved.items()
        },
        errors=_errors(case),
        probabilities={
            row: quantity(float(chance[index]), "1")
            for index, (row, chance) in enumerate(zip(moved, chances, strict=True))
        },
        expected=_rates(moved, [mean for mean, _ in logs], rate),
        expected_low=_rates(moved, [mean - reach * deviation for mean, deviation in logs], rate),
        expected_high=_rates(moved, [mean + reach * deviation for mean, deviation in logs], rate),
        gave={row: quantity(case.fits[row][-1].grams, "g") for row in doubted},
        before={row: quantity(_before(case, row), "g") for row in doubted},
        next_catch={row: next_catch(prospects[row], verdict) for row, verdict in verdicts.items()},
    )


_DOUBTED = frozenset({Verdict.DOUBTFUL_CATCH, Verdict.INTERMITTENT})


def _before(case: _Case, row: int) -> float:
    """What the row gave at this setting before its last catch, or what it was expected to give [g]."""
    *others, last = case.fits[row]
    same = [one.grams for one in others if one.position == last.position and not one.strange]
    return same[-1] if same else case.target * math.exp(last.expected)


def _notch(dial: Dial, setting: Setting) -> int:
    return min(max(round((setting.position - dial.low) / dial.step), 0), dial.notches - 1)


def _prospect(case: _Case, view: Outlook, index: int, row: int, now: int, within: Window) -> Prospect:
    mine = [one for one in case.good if one.row == row]
    every = [one for one in case.found if one.row == row]
    stood = [_notch(case.dial, Setting(position=one.position, label="")) for one in mine]
    fitted = case.fits.get(row, [])
    strange = [fit.strange for fit in fitted]
    last = fitted[-1] if fitted else None
    return Prospect(
        now=now,
        best=int(view.best[index]),
        last=case.dial.notches - 1,
        been=int(view.best[index]) in stood,
        here=stood.count(now),
        all=len(mine),
        stuck=row in case.stuck,
        stopped=bool(every) and every[-1] not in mine,
        strange=sum(strange),
        doubtful=last is not None and bool(last.strange or (view.chance_now[index] >= PASS and last.too_far(within))),
        clean=[*reversed(strange), True].index(True),
        coarse=float(view.notch[index]) > within.high - within.low,
        blunt=case.step > STEP * (math.exp(within.high) - 1),
        mean=float(view.mean[index]),
        chance=float(view.chance[index]),
        chance_now=float(view.chance_now[index]),
        centred=float(view.centred[index]),
        gain=float(view.gain[index]),
        strays=float(view.strays[index]),
    )


def _expected(view: Outlook, index: int, moves: bool) -> tuple[float, float]:
    if moves:
        return float(view.mean[index]), float(view.deviation[index])
    return float(view.mean_now[index]), float(view.deviation_now[index])


def _rates(rows: Mapping[int, bool], logs: Sequence[float], rate: Rate | None) -> PerRow[Rate] | None:
    if rate is None:
        return None
    wanted = positive("rate", rate)
    return {row: wanted * float(np.exp(log)) for row, log in zip(rows, logs, strict=True)}


def _errors(case: _Case) -> dict[int, Quantity]:
    last = max((one.run for one in case.found), default=0)
    return {one.row: quantity(one.grams / case.target - 1, "1") for one in case.found if one.run == last}
