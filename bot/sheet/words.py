"""The words of a drawn test run in one language, with the digits that scale and catch carry."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo
from typing import TYPE_CHECKING

from bot.calculator.figures import rounded
from bot.sheet.texts import SheetKey, SheetTexts
from engine.calculations.advisor.verdict import Verdict
from engine.data.units import System
from engine.dialog.facts.role_values import as_word
from engine.dialog.reply.wording import Wording
from engine.dialog.schema.slot_roles import Role
from engine.history.records import Calibration, TestRun
from engine.messages import Language
from engine.quantities import UNITS, Measure
from engine.values import Value

if TYPE_CHECKING:
    from bot.sheet.sheet import RowMark, SheetHeader

VERDICTS: Mapping[Verdict, SheetKey] = {
    Verdict.ON_TARGET: SheetKey.VERDICT_ON_TARGET,
    Verdict.CLOSEST_NOTCH: SheetKey.VERDICT_CLOSEST,
    Verdict.ADJUST: SheetKey.VERDICT_ADJUST,
    Verdict.RUN_AGAIN: SheetKey.VERDICT_AGAIN,
    Verdict.CANNOT_TELL: SheetKey.VERDICT_CANNOT_TELL,
    Verdict.NOT_SURE: SheetKey.VERDICT_NOT_SURE,
    Verdict.DOUBTFUL_CATCH: SheetKey.VERDICT_DOUBTFUL,
    Verdict.INTERMITTENT: SheetKey.VERDICT_INTERMITTENT,
}
READ = Role.NET, Role.CATCH_MASS, Role.CATCH_VOLUME
"""What tells that a row was caught; what was read off also of a run that came to no verdict."""
SEPARATOR = " · "
DIGITS = 3
"""Significant digits of a figure that a scale with an unknown step gave (own decision)."""


@dataclass(frozen=True)
class SheetWords:
    """Says what stands on a sheet; ``zone`` is where the clock on the wall hangs."""

    texts: SheetTexts
    language: Language
    zone: tzinfo

    def say(self, key: SheetKey, **values: str) -> str:
        return self.texts.say(key, self.language, **values)

    @property
    def wording(self) -> Wording:
        return Wording(self.language, System.US)

    def moment(self, when: datetime, system: System) -> str:
        """Day and hour on the wall, as the farm writes them."""
        local = when.astimezone(self.zone)
        clock = self.wording.forms.clock.shown(local.hour, local.minute, system)
        return f"{self.wording.day(local.date())}, {clock}"

    def title(self, run: int, planter: str | None) -> str:
        title = self.say(SheetKey.TITLE, run=str(run))
        return f"{planter}{SEPARATOR}{title}" if planter else title

    def standing(self, rows: Sequence[tuple[int, RowMark]]) -> str:
        """How many rows are on target, and which are not."""
        off = sorted(row for row, mark in rows if mark != "on_target")
        said = self.say(SheetKey.COUNT, good=str(len(rows) - len(off)), rows=str(len(rows)))
        return said if not off else self.say(SheetKey.COUNT_OFF, count=said, off=spans(off))

    def head(self, record: Calibration, run: TestRun, about: SheetHeader, percent: float) -> tuple[str, ...]:
        """What was planted where, at what rate, and when by whom; what is not known is left out."""
        values = record.values
        rate, low, high = (self.figure(values.get(role)) for role in (Role.RATE, Role.LABEL_LOW, Role.LABEL_HIGH))
        label = self.say(SheetKey.LABEL_RANGE, low=low, high=high) if low and high else None
        lot = self.say(SheetKey.LOT, lot=about.lot) if about.lot else None
        course = self.figure(values.get(Role.COURSE))
        who = self.say(SheetKey.SPEAKER, name=about.who) if about.who else None
        target = self.say(SheetKey.TARGET, target=self.mass(values.get(Role.TARGET), record), tolerance=f"{percent:g}")
        pace = values.get(Role.SPEED) or self._usual(run.machine.get(Role.TRUE_SPEED), values)
        told = (
            (about.product, about.field, lot),
            (rate, label, self.figure(pace)),
            (
                target,
                course,
                self.figure(values.get(Role.SPACING)),
                self._scale(as_word(values.get(Role.SCALE)), self.figure(values.get(Role.SCALE_STEP))),
            ),
            (self.moment(run.when, record.system), who),
        )
        return tuple(line for parts in told if (line := SEPARATOR.join(filter(None, parts))))

    def _scale(self, name: str | None, step: str | None) -> str | None:
        """The scale in one breath: its name, its step, or both."""
        if name and step:
            return self.say(SheetKey.SCALE_AND_STEP, name=name, step=step)
        if name:
            return self.say(SheetKey.SCALE, name=name)
        return self.say(SheetKey.STEP, step=step) if step else None

    def mark(self, mark: RowMark) -> str:
        return self.say(SheetKey(f"mark_{mark}"))

    def caught(self, net: Value, off: float | None, estimate: float | None, record: Calibration) -> str:
        """The last catch, and what all catches come to where they say something else."""
        last = self.mass(net, record)
        if off is None:
            return last
        if estimate is None or abs(estimate - off) < 1:
            return f"{last}, {signed(off)} %"
        return self.say(SheetKey.BOTH, catch=last, off=signed(off), estimate=signed(estimate))

    def setting(self, values: Mapping[str, Value]) -> str:
        now, then = values.get(Role.SETTING), values.get(Role.NEXT_SETTING)
        if then is None or str(then) == str(now):
            return self.say(SheetKey.SETTING, setting=str(now) if now is not None else "?")
        return self.say(SheetKey.MOVE, setting=str(now), next=str(then))

    def verdict(self, verdict: Verdict, values: Mapping[str, Value]) -> str:
        """The verdict, and of a catch that does not fit what was to be expected."""
        said = self.say(VERDICTS[verdict])
        gave, before = values.get(Role.GAVE), values.get(Role.GAVE_BEFORE)
        if isinstance(gave, Measure) and isinstance(before, Measure):
            return self.say(SheetKey.GAVE, verdict=said, gave=self._grams(gave), before=self._grams(before))
        return said

    def runs(self, runs: Sequence[Mapping[str, Value]], most: int | None = None) -> str:
        """What each run of a row gave and at which setting, the last ones where there are more than ``most``; those
        that were not weighed are left out."""
        weighed = [run for run in runs if any(isinstance(run.get(role), Measure) for role in READ)]
        return ", ".join(self._run(run) for run in weighed[-(most or len(weighed)) :])

    def _run(self, run: Mapping[str, Value]) -> str:
        error, net, setting = run.get(Role.ERROR), run.get(Role.NET), str(run.get(Role.SETTING, "?"))
        if net is None:
            read = next(one for role in READ if isinstance(one := run.get(role), Measure))
            return self.say(SheetKey.ROW_READ, setting=setting, read=self.wording.amount(read))
        off = f" ({error.to('%').value:+.1f} %)" if isinstance(error, Measure) else ""
        gave = self.wording.amount(net, 1) if isinstance(net, Measure) else "?"
        return self.say(SheetKey.ROW_GAVE, setting=setting, net=gave, off=off)

    def mass(self, value: Value | None, record: Calibration) -> str:
        """A weight with as many decimals as the scale shows."""
        if not isinstance(value, Measure):
            return "?"
        return self.wording.amount(value, self._decimals(value, record))

    def _decimals(self, value: Measure, record: Calibration) -> int:
        step = record.values.get(Role.SCALE_STEP)
        if not isinstance(step, Measure):
            return 1
        size = step.to(value.unit).value
        return 0 if size >= 1 else 1 if size >= 0.1 else 2

    def _usual(self, speed: Value | None, values: Mapping[str, Value]) -> Value | None:
        """A speed that was worked out, in the units of those who said how long the course is or how rows stand."""
        if not isinstance(speed, Measure):
            return speed
        said = [one for role in (Role.COURSE, Role.SPACING) if isinstance(one := values.get(role), Measure)]
        systems = [system for one in said if (system := UNITS[one.unit].system) is not None]
        return speed.to("km/h" if systems[:1] == [System.METRIC] else "mph")

    def figure(self, value: Value | None) -> str | None:
        """A quantity of the machine with three digits; None where it is not known."""
        if not isinstance(value, Measure):
            return None
        return self.wording.amount(value.model_copy(update={"value": rounded(value.value, DIGITS)}))

    def _grams(self, value: Measure) -> str:
        return self.wording.amount(value.to("g"), 0)


def signed(percent: float) -> str:
    """A percentage with its sign, the minus as long as the plus."""
    return f"{percent:+.1f}".replace("-", "−")


def spans(rows: Sequence[int]) -> str:
    """Row numbers with runs of three or more as spans: "3, 7-9"."""
    found: list[list[int]] = []
    for row in rows:
        if found and row == found[-1][-1] + 1:
            found[-1].append(row)
        else:
            found.append([row])
    return ", ".join(f"{one[0]}-{one[-1]}" if len(one) > 2 else ", ".join(map(str, one)) for one in found)


def sheet_words(language: Language, zone: tzinfo) -> SheetWords:
    """The words of the package in one language."""
    return SheetWords(SheetTexts.load(), language, zone)
