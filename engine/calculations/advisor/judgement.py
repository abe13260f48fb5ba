"""From the outlook of a row to its verdict: what may be claimed, what is worth a move, what is worth another catch."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from engine.calculations.advisor.forecast import Window
from engine.calculations.advisor.verdict import AGAIN, PASSED, NextCatch, Verdict

PASS = 0.8
"""A row passes when it is at least this probable that its true output is within tolerance (own decision)."""
WORTH = 0.2
"""A move or one more catch is worth a test run when it raises that probability by this much (own decision)."""
TOGETHER = 0.045
"""Share of the rows that a test run made for passing rows must be expected to bring within tolerance (own decision)."""
SPARE = 0.01
"""A row is moved for this much already when the planter must be run again anyway (own decision)."""
RETURN = 0.1
"""And for this much where it goes back to a notch at which it was caught (own decision): no dial goes to and fro for
little."""
STRAYS = 0.4
"""Share of strays among its catches that shows a row at fault (own decision)."""
ENOUGH = 4
"""Catches before a row whose own scatter hides the answer is given up (own decision)."""

STEP = 2.0
"""No row is on target by a scale whose step is more than this many tolerances: a reading on the target may then be
off by more than the tolerance (own decision)."""
PATIENCE = 3
"""Catches of a row from which a move or one more catch must promise more, in proportion to their number (own
decision)."""
LATE = 6
"""Catches of a row from which a small rise is no reason to move it any more, however unlikely it is to be within
tolerance (own decision)."""
CLAIM = 0.87
"""A row that passes less surely than this is not called on target (own decision)."""
CLEAN = 2
"""Catches that must fit after one that did not, before it is left at that; the row is not called on target any more
tonight (own decision)."""
SPARED = 0.985
"""A row that passes this surely need not be caught in the next run (own decision)."""


@dataclass(frozen=True)
class Prospect:
    """One row before its verdict; notches count from the low end of the dial.

    ``been``: the row was caught at its best notch; ``here``: catches at the present notch, ``all``: every catch that
    says something of the dial; ``stuck``: its output does not follow its dial; ``stopped``: its last catch gave hardly
    anything. ``strange``: its catches that do not fit the others; ``doubtful``: its last catch is one of them, or is
    too far off the target for a row that passes; ``clean``: catches since the last strange one. ``coarse``: a notch is
    coarser than the tolerance; ``blunt``: the step of the scale is. The rest is the row's part of ``Outlook``.
    """

    now: int
    best: int
    last: int
    been: bool
    here: int
    all: int
    stopped: bool
    stuck: bool
    strange: int
    doubtful: bool
    clean: int
    coarse: bool
    blunt: bool
    mean: float
    chance: float
    chance_now: float
    centred: float
    gain: float
    strays: float


def judged(rows: Mapping[int, Prospect], within: Window) -> dict[int, Verdict]:
    """The verdict of every row, by the rules that ``advise`` states."""
    alone = {row: _judge(one, within) for row, one in rows.items()}
    if not AGAIN & set(alone.values()):
        hopes = {row: _hope(one) for row, one in rows.items() if alone[row] in PASSED or one.chance_now >= PASS}
        if sum(hopes.values()) < TOGETHER * len(rows) * max(1.0, max(one.all for one in rows.values()) / PATIENCE):
            return alone
        alone[max(hopes, key=lambda row: hopes[row])] = Verdict.RUN_AGAIN
    return {row: Verdict.ADJUST if _spare_move(rows[row], verdict) else verdict for row, verdict in alone.items()}


def _hope(row: Prospect) -> float:
    """How much likelier the row may become to be within tolerance after one more test run."""
    return max(row.gain, row.chance - row.chance_now)


def _spare_move(row: Prospect, verdict: Verdict) -> bool:
    return (
        verdict in {*PASSED, Verdict.NOT_SURE, Verdict.RUN_AGAIN}
        and row.here > 0
        and row.best != row.now
        and row.chance >= row.chance_now + (RETURN if row.been else SPARE)
    )


def _judge(row: Prospect, within: Window) -> Verdict:
    if row.strange + (row.doubtful and row.clean > 0) > 1:
        return Verdict.INTERMITTENT
    if row.stopped or row.stuck or (row.all >= ENOUGH and row.strays >= STRAYS):
        return Verdict.CANNOT_TELL
    if row.doubtful:
        return Verdict.DOUBTFUL_CATCH
    if not row.here:
        return Verdict.RUN_AGAIN
    if row.chance_now >= PASS and not row.blunt:
        if row.strange:
            return Verdict.RUN_AGAIN if row.clean < CLEAN else Verdict.NOT_SURE
        return Verdict.ON_TARGET if row.chance_now >= CLAIM else Verdict.NOT_SURE
    if _worth_moving(row):
        return Verdict.ADJUST
    if row.gain >= _worth(row) or (row.all < ENOUGH and row.centred < PASS):
        return Verdict.RUN_AGAIN
    if row.centred < PASS or _past_the_end(row, within):
        return Verdict.CANNOT_TELL
    return Verdict.CLOSEST_NOTCH if row.coarse else Verdict.NOT_SURE


def next_catch(row: Prospect, verdict: Verdict) -> NextCatch:
    """Whether a row is to be caught again when the planter is run again for others."""
    sure = verdict is Verdict.ON_TARGET and row.chance_now >= SPARED
    return NextCatch.SPARE if sure else NextCatch.CATCH


def _worth(row: Prospect) -> float:
    return WORTH * max(1.0, row.all / PATIENCE)


def _worth_moving(row: Prospect) -> bool:
    rise = row.chance - row.chance_now
    lost = row.chance < 0.5 and row.all < LATE
    return row.best != row.now and (rise >= _worth(row) or (lost and rise >= SPARE))


def _past_the_end(row: Prospect, within: Window) -> bool:
    too_little, too_much = row.mean < within.low, row.mean > within.high
    return (row.best == row.last and too_little) or (row.best == 0 and too_much)
