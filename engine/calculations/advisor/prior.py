"""What is believed of a planter before its first catch, as standard deviations of the natural logarithm of its output.

A planter's own earlier catches narrow these beliefs: see ``engine.calculations.advisor.observations``.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from engine.calculations.domain import finite, number
from engine.calculations.kinds import Ratio

KNOWN_EXPONENT = 0.05
"""Standard deviation of a speed exponent that is known from the meter or its two-speed test (own judgement)."""


@dataclass(frozen=True)
class Prior:
    """Beliefs about the response of a new planter: standard deviations in log output, unless a line says otherwise.

    ``level``: the output of the whole planter at its present setting, about the target (own judgement: wide).
    ``slope``: how far the true slope is from the nominal one of ``advisor.response``, as a ratio: a zero
    offset of a third of the reading is a ratio of 1.5 or 0.75 (own judgement).
    ``bend``: change of that ratio after log output has grown by 1 (own judgement; lets a curve bend or kink).
    ``rough``: steps and flats of the curve that no bend follows, after log output has grown by 1 (own judgement).
    ``row``: factor of one row against the others. A survey found a mean CV of 4.7 % among boxes (NE-1982); wider, as
    the rows of a worn planter are.
    ``row_slope``: how far the slope of one row is from the planter's, as a ratio (own judgement).
    ``reset``: what returning a dial to the same mark does not repeat, and what the curve of one row has of its own.
    ``noise``: one catch, 2-3 % (common practice, no source); ``noise_catches``: the catches that this belief is worth.
    ``tails``: degrees of freedom of Student's t for one catch; the fewer, the less a stray catch pulls.
    ``exponent`` with ``exponent_sd``: n in output over a course ~ speed^-n; 0 positive roll, 1 gravity.
    ``common``: error of a run that all its rows share, which is the reading's and not the planter's; ``walk`` and
    ``trend``: change of the planter's level from one run to the next, each time another one and always the same one.
    All three are learnt from the catches: see ``engine.calculations.advisor.drift``.
    ``season``, ``season_run``, ``season_row``: change of level since the earlier catches, between their runs,
    and of one row's factor since then (own judgement: last year's setting is little evidence for this year).
    """

    level: float = 0.6
    slope: float = 0.4
    bend: float = 0.4
    rough: float = 0.045
    row: float = 0.1
    row_slope: float = 0.05
    reset: float = 0.002
    noise: float = 0.025
    noise_catches: float = 12.0
    tails: float = 6.0
    exponent: float = 0.5
    exponent_sd: float = 0.35
    common: float = 0.0
    walk: float = 0.0
    trend: float = 0.0
    season: float = 0.3
    season_run: float = 0.05
    season_row: float = 0.04


def with_exponent(prior: Prior, exponent: Ratio) -> Prior:
    """The same beliefs with the speed exponent known."""
    return replace(prior, exponent=number(finite("speed_exponent", exponent)), exponent_sd=KNOWN_EXPONENT)
