"""Where to set the dials before the first catch: a start, never proof that the rate is right."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np

from engine.calculations.advisor.drift import learnt
from engine.calculations.advisor.forecast import nearest
from engine.calculations.advisor.observations import CaughtRuns, Scale, catches, readings, usable
from engine.calculations.advisor.prior import Prior, with_exponent
from engine.calculations.advisor.response import Nominal
from engine.calculations.catalogue import formula
from engine.calculations.domain import number, positive
from engine.calculations.kinds import EveryRun, Length, Mass, PerRow, Rate, RowRate, Speed
from engine.calculations.meter import Meter, exponent_of
from engine.calculations.rate import is_per_area, rate_along_row
from engine.errors import OutOfDomain
from engine.quantities import magnitude, quantity
from engine.values import Dial, Setting

FAR = 1.6
"""A catch that is so many times more or less than the middle one of its run is left out of a start (own decision)."""

UNKNOWN_METER: Meter = "between"
"""Taken for a meter whose type is not told (own decision): half of what speed can do at most."""


@dataclass(frozen=True)
class EarlierRates:
    """This planter's own catches of earlier calibrations of the same product, along the row."""

    earlier_rates: EveryRun[RowRate] = ()
    """Product per length of row [g/100 m, oz/1000 ft]."""
    earlier_settings: EveryRun[Setting] = ()
    """Where the dials stood."""


@dataclass(frozen=True)
class EarlierDrive:
    """How fast earlier catches were driven, and what is planned."""

    earlier_speeds: EveryRun[Speed] | None = None
    """Speed at which each row was caught [mph, km/h]."""
    planting_speed: Speed | None = None
    """Planned speed [mph, km/h]."""
    meter: Meter | None = None
    """How the meter answers speed; learnt from the catches where it is not told."""


NO_RATES = EarlierRates()
DRIVE_UNTOLD = EarlierDrive()


@dataclass(frozen=True)
class RateChart:
    """The grower's chart, its lines numbered from 1."""

    chart_settings: PerRow[Setting]
    """The setting of each line."""
    chart_rates: PerRow[Rate]
    """The rate of each line [lb/acre, kg/ha, oz/1000 ft]."""
    chart_spacing: Length
    """Row spacing it was made for [in, cm]."""
    chart_speed: Speed | None = None
    """Speed it was made for [mph, km/h]."""


@dataclass(frozen=True)
class RecordStart:
    """A setting for each row and what it rests on: the row's own catches, or those of the planter as a whole.

    no_record = nothing was caught before, there are no settings.
    """

    outcome: Literal["from_record", "no_record"]
    settings: PerRow[Setting]
    basis: PerRow[Literal["row", "planter"]]


@dataclass(frozen=True)
class ChartStart:
    """The setting for every row; ``below_chart`` or ``above_chart`` = the rate lies past the end of the chart, and the
    setting is that of its end."""

    outcome: Literal["from_chart", "below_chart", "above_chart"]
    setting: Setting


@formula("start-by-record", sources=("RESPONSE", "BAYES", "SPEED-LAW"))
def start_by_record(
    rows: int,
    rate: Rate,
    spacing: Length,
    dial: Dial,
    earlier: EarlierRates = NO_RATES,
    driven: EarlierDrive = DRIVE_UNTOLD,
) -> RecordStart:
    """The notch of each row that this planter's own catches of earlier calibrations expect nearest to the rate.

    Output over the dial is that of ``advise`` given the earlier catches alone; the last of them weigh no more than the
    others. A row that was never caught starts where the planter as a whole would.
    ``rows`` in number, ``rate`` [lb/acre, oz/1000 ft] at ``spacing`` [in, cm]; ``earlier`` and ``driven``: units beside
    their fields. Valid: rate and spacing above zero.
    Errors: OutOfDomain; InputError for a catch without a setting. Sources: RESPONSE, BAYES, SPEED-LAW.
    """
    wanted = magnitude(_along(rate, spacing), "g/100 m")
    masses = tuple({row: quantity(_grams(one), "g") for row, one in run.items()} for run in earlier.earlier_rates)
    masses = tuple(_plain(run) for run in masses)
    runs = CaughtRuns(masses, earlier.earlier_settings, driven.earlier_speeds, driven.planting_speed)
    found = usable(catches(runs, earlier=True), wanted)
    if not found:
        return RecordStart("no_record", {}, {})
    nominal = Nominal(dial, float(np.median([one.position for one in found])))
    prior = Prior() if driven.meter is None else with_exponent(Prior(), exponent_of(driven.meter))
    posterior = learnt(prior, readings(found, wanted, nominal, Scale(prior.noise)))
    numbers = np.arange(1, rows + 1, dtype=np.int64)
    notches = nearest(posterior, nominal, numbers, 0.0)
    at = {int(row): dial.setting(dial.low + int(one) * dial.step) for row, one in zip(numbers, notches, strict=True)}
    caught = {one.row for one in found}
    return RecordStart("from_record", at, {row: "row" if row in caught else "planter" for row in at})


def _plain(run: PerRow[Mass]) -> dict[int, Mass]:
    """The catches of a run without those that lie far from the others: a row that bridged shows nothing of its dial."""
    usual = float(np.median([one.magnitude for one in run.values()])) if run else 0.0
    return {row: one for row, one in run.items() if usual / FAR <= one.magnitude <= usual * FAR}


def _grams(rate: RowRate) -> float:
    return magnitude(rate, "g/100 m")


def _along(rate: Rate, spacing: Length) -> RowRate:
    positive("rate", rate)
    return rate_along_row(rate, spacing) if is_per_area(rate) else rate


@formula("start-by-chart", sources=("HANDBOOK-RULE", "SPEED-LAW", "ROW-IDENTITIES"))
def start_by_chart(
    rate: Rate,
    spacing: Length,
    dial: Dial,
    chart: RateChart,
    speed: Speed | None = None,
    meter: Meter | None = None,
) -> ChartStart:
    """The notch that a chart gives for a rate: ln(rate along the row) is interpolated between the two nearest lines.

    A rate on the area R is R s along the row; at another ``speed`` v [mph, km/h] than that of the ``chart`` a meter
    gives (v0 / v)^n as much, n by the ``meter`` as in ``speed-change-by-meter``, one half where it is not told.
    ``rate`` [lb/acre, oz/1000 ft] at ``spacing`` [in, cm] is what is wanted.
    Valid: one line or more, the same numbers in both, rates above zero and rising with the setting. Errors:
    OutOfDomain. Sources: HANDBOOK-RULE, SPEED-LAW, ROW-IDENTITIES.
    """
    lines = _lines(chart.chart_settings, chart.chart_rates, chart.chart_spacing)
    wanted = math.log(_grams(_along(rate, spacing))) - _faster(speed, chart.chart_speed, meter)
    logs = [log for _, log in lines]
    position = float(np.interp(wanted, logs, [place for place, _ in lines]))
    outcome: Literal["from_chart", "below_chart", "above_chart"] = "from_chart"
    if wanted < logs[0] - 1e-9:
        outcome = "below_chart"
    elif wanted > logs[-1] + 1e-9:
        outcome = "above_chart"
    return ChartStart(outcome, dial.setting(position))


def _faster(speed: Speed | None, chart_speed: Speed | None, meter: Meter | None) -> float:
    """ln of what the meter gives at the speed against the speed of the chart."""
    if speed is None or chart_speed is None:
        return 0.0
    exponent = number(exponent_of(meter if meter is not None else UNKNOWN_METER))
    return -exponent * math.log(number(positive("speed", speed) / positive("chart_speed", chart_speed)))


def _lines(settings: PerRow[Setting], rates: PerRow[Rate], spacing: Length) -> Sequence[tuple[float, float]]:
    """Position and ln(rate along the row [g/100 m]) of each line, by position."""
    if not settings or set(settings) != set(rates):
        raise OutOfDomain("lines", len(rates), "each line of the chart needs a setting and a rate")
    lines = sorted((one.position, math.log(_grams(_along(rates[line], spacing)))) for line, one in settings.items())
    if any(next_[0] <= one[0] or next_[1] <= one[1] for one, next_ in pairwise(lines)):
        raise OutOfDomain("chart_rates", len(rates), "rates must rise from each setting to the next")
    return lines
