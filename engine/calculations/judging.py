"""Judging a test run from what was read on the scale or the tube, by the rule that the settings choose."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal, TypeVar

from engine.calculations.advice import advise
from engine.calculations.catalogue import formula
from engine.calculations.catch import net_catch, net_catches, poured_catches
from engine.calculations.handbook import handbook_advice, overall
from engine.calculations.kinds import Density, EveryRun, Mass, PerRow, Rate, Ratio, Volume
from engine.calculations.verdict import Advice, Verdict
from engine.errors import InputError
from engine.values import Dial, Setting

T = TypeVar("T")
Rule = Literal["handbook", "advise"]


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


@dataclass(frozen=True)
class NextMove:
    """What the whole planter needs next."""

    outcome: Literal["settled", "adjust", "run_again", "cannot_tell"]


@formula("next-move", sources=("TRADE",))
def next_move(verdicts: PerRow[Verdict]) -> NextMove:
    """What comes next for the planter: moving a dial before catching again, catching again before giving up.

    Valid: at least one row. Errors: InputError for none. Source: TRADE.
    """
    if not verdicts:
        raise InputError("there is no verdict to go by")
    return NextMove(overall(tuple(Verdict(one) for one in verdicts.values())))


@formula("judge-run", sources=("RESPONSE", "BAYES", "TRADE"))
def judge_run(
    rule: Rule,
    caught: EveryRun[Mass],
    settings: EveryRun[Setting],
    target: Mass,
    tolerance: Ratio,
    dial: Dial,
    rate: Rate | None = None,
    scale_step: Mass | None = None,
) -> Advice:
    """Verdicts and next positions of a run by ``rule``: advise (estimation) or handbook (new = old x target / caught).

    Rows that were not caught in the last run are left out. Arguments and units as in advise and handbook-advice.
    Errors: OutOfDomain as theirs; InputError when no row was caught. Sources: RESPONSE, BAYES, TRADE.
    """
    rows = caught[-1].keys() if caught else ()
    caught, settings = _only(rows, caught), _only(rows, settings)
    if rule == "handbook":
        return handbook_advice(caught, settings, target, tolerance, dial)
    return advise(caught, settings, target, tolerance, dial, rate=rate, scale_step=scale_step)


def _only(rows: Collection[int], runs: EveryRun[T]) -> tuple[dict[int, T], ...]:
    return tuple({row: value for row, value in run.items() if row in rows} for run in runs)
