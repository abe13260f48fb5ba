"""One turn of a shift in the making: what is noted, and what is answered to it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta

from engine.dialog.facts.question import Question, QuestionKind, ReportWay
from engine.dialog.reply.answer_texts import AnswerKey
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.messages import Report, Reported
from engine.quantities import Measure
from engine.shift.record.plan import Plan
from engine.shift.record.shift_facts import Noted
from engine.shift.record.shift_fold import advance
from engine.shift.record.shift_state import ShiftState
from engine.shift.record.timeline import Timeline
from engine.values import Value

_CLOCKED = frozenset({Report.PLANTED, Report.PAUSED, Report.WENT_ON, Report.ENDED, Report.SPEED})
"""Reports that change the timeline, and so what the areas told teach."""

BACK = timedelta(hours=1)
"""Words that come more than so long behind the last ones are asked about (own decision: a phone without coverage may
bring them, or a clock that went back)."""
SILENT = timedelta(hours=12)
"""Nobody plants so long without a word (own decision): the planter stood, or the clock jumped."""
JUMPS = frozenset({SystemKey.SHIFT_CLOCK_BACK.value, SystemKey.SHIFT_SILENT.value})
"""The questions after a jump."""


class ShiftTurn:
    """Notes reports of the shift that a turn is part of."""

    def __init__(self, builder: TurnBuilder, plan: Plan) -> None:
        self.builder = builder
        self.plan = plan
        self.named: set[int] = set()
        """Rows that this utterance found wrong."""
        self.spoken_of: set[int] = set()
        """Rows that it names."""
        self.past: datetime | None = None
        """The moment that was said with the report that is being taken."""
        self.set_ahead: timedelta | None = None
        """How far its time is ahead of the clock, where this turn has found that anew."""
        self._asked: dict[SystemKey, set[int]] = {}
        self._drawn: tuple[ShiftState, Timeline] | None = None

    @classmethod
    def of(cls, builder: TurnBuilder) -> ShiftTurn | None:
        """The turn of the shift that is under way; None where there is none."""
        dialog = builder.state.dialog
        plan = Plan.of(builder.script, dialog) if dialog else None
        return cls(builder, plan) if plan and dialog and isinstance(dialog.activity, ShiftState) else None

    @property
    def shift(self) -> ShiftState:
        shift = self.builder.dialog.activity
        if not isinstance(shift, ShiftState):
            raise ValueError("no shift is under way")
        return shift

    @property
    def timeline(self) -> Timeline:
        """The timeline as it is known now, drawn once for each state of the shift."""
        shift = self.shift
        if self._drawn is None or self._drawn[0] is not shift:
            self._drawn = shift, shift.timeline
        return self._drawn[1]

    @property
    def now(self) -> datetime:
        """When it was said; words that come late, as from a phone without coverage, count as said last, and so do those
        behind which the clock may have jumped."""
        said = self.own(self.builder.now)
        return self.shift.last if said is None or self.jumped is not None else max(said, self.shift.last)

    @property
    def ahead(self) -> timedelta:
        """How far the time of the shift is ahead of the clock, as far as that is known in this turn."""
        return timedelta(seconds=self.shift.ahead) if self.set_ahead is None else self.set_ahead

    def own(self, moment: datetime | None) -> datetime | None:
        """A moment on the wall in the time of the shift."""
        return None if moment is None else moment + self.ahead

    @property
    def jumped(self) -> timedelta | None:
        """How far the clock stands from the last word, where it may have jumped there and nobody has said yet."""
        answered = {one.key for one in self.builder.asked} & JUMPS - {one.key for one in self.builder.questions}
        gone = self.builder.now + self.ahead - self.shift.last
        silent = gone > (BACK if self.ahead else SILENT) and self.shift.runs
        return gone if not answered and (silent or gone < -BACK) else None

    @property
    def when(self) -> datetime:
        """When that happened which is told: now, or as it was said."""
        return self.past or self.now

    @property
    def planted(self) -> Measure:
        """Area planted by now [acre]."""
        return self.timeline.planted(self.now)

    @property
    def rate(self) -> Measure:
        return self.shift.wanted

    # ---- words

    def say(self, key: SystemKey | AnswerKey, **values: str) -> None:
        self.builder.say(key, **values)

    def rough(self, measure: Measure) -> str:
        return self.builder.wording.rough(measure)

    def clock(self, at: datetime, near: datetime | None = None) -> str:
        """What the clock showed, with its date where that is far from ``near``, or from now."""
        return self.builder.wording.clock(self.shift.wall(at), self.shift.wall(near or self.now))

    def place(self, rows: tuple[int, ...]) -> str:
        """ "Row 5" or "Rows 1-4 and 6", at the beginning of a sentence."""
        return self.builder.wording.row_place(rows)

    def refuse(self, moment: datetime, since: datetime) -> None:
        """Say between which moments it must have been."""
        self.say(SystemKey.SHIFT_TIME_OUTSIDE, time=self.clock(moment), since=self.clock(since))

    def refuses(self, since: datetime) -> bool:
        """Whether the moment said lies before one at which the opposite was so; says it."""
        if self.past is None or self.past >= since:
            return False
        self.refuse(self.past, since)
        return True

    # ---- rows

    def rows(self, told: Reported) -> tuple[int, ...]:
        """The rows a report is about: those said that are in use, or all, or the rest; says which are not in use."""
        if told.rest and not told.rows:
            others = self.spoken_of or self.shift.troubled.keys()
            return tuple(row for row in self.shift.rows if row not in others)
        idle = tuple(row for row in told.rows if row not in self.shift.proofs)
        if idle:
            self.say(SystemKey.SHIFT_NOT_IN_USE, place=self.place(idle))
        return tuple(row for row in told.rows if row not in idle) if told.rows else self.shift.rows

    # ---- keeping

    def note(
        self,
        told: Reported,
        rows: tuple[int, ...] = (),
        *,
        value: Value | None = None,
        until: datetime | None = None,
        proofs: Mapping[int, datetime] | None = None,
    ) -> None:
        """Keep a report with what was concluded from it."""
        changes = {"until": until, "proofs": dict(proofs or {})} | ({} if value is None else {"value": value})
        self.keep(self.noted(told, rows).model_copy(update=changes))

    def noted(self, told: Reported, rows: tuple[int, ...]) -> Noted:
        """A report as a fact, before anything is concluded from it."""
        return Noted(
            report=told.report,
            rows=rows,
            value=told.value,
            lot=told.lot,
            said=told.said,
            at=self.now,
            moment=self.past,
            size=told.area,
        )

    def keep(self, fact: Noted) -> None:
        """Keep a fact, with what the areas told teach of the field efficiency where it changes the timeline."""
        if fact.report in _CLOCKED:
            after = advance(self.shift, fact)
            learned = after.timeline.learned(after.believed)
            fact = fact if learned == after.efficiency else fact.model_copy(update={"efficiency": learned})
        self.builder.add(fact)

    # ---- asking back

    def ask(
        self,
        key: SystemKey,
        told: Reported,
        instead: tuple[Reported, ...] = (),
        rows: tuple[int, ...] = (),
        **figures: str,
    ) -> None:
        """Ask before a report is taken that can hardly be: a yes takes it as it was said, a no what stands instead.

        What is asked of several reports of one utterance is asked once, of all their ``rows``.
        """
        sure = told.model_copy(update={"confirmed": True})
        before, figures = self._asked_before(key), self._of_rows(key, rows, figures)
        if before is None:
            before = Question(about=QuestionKind.REPORT, key=key.value, at=self.builder.now)
        reports, others = (*before.reports, sure), (*before.instead, *instead)
        asked = before.model_copy(update={"reports": reports, "instead": others, "figures": figures})
        self._put(key, asked)

    def choose(self, key: SystemKey, ways: Mapping[str, Reported], rows: tuple[int, ...] = (), **figures: str) -> None:
        """Ask which of several ways a report is meant; of several reports of one utterance once."""
        before, figures = self._asked_before(key), self._of_rows(key, rows, figures)
        known = {way.name: way.reports for way in before.ways} if before else {}
        meant = tuple(ReportWay(name=name, reports=(*known.get(name, ()), told)) for name, told in ways.items())
        self._put(
            key, Question(about=QuestionKind.WAY, ways=meant, key=key.value, figures=figures, at=self.builder.now)
        )

    def _asked_before(self, key: SystemKey) -> Question | None:
        """The same question, where another report of this utterance has asked it."""
        return (
            next((one for one in self.builder.questions if one.key == key.value), None) if key in self._asked else None
        )

    def _of_rows(self, key: SystemKey, rows: tuple[int, ...], figures: dict[str, str]) -> dict[str, str]:
        every = self._asked.setdefault(key, set()) if rows or key in self._asked else set()
        every |= set(rows)
        return {**figures, "rows": self.place(tuple(sorted(every)))} if every else figures

    def _put(self, key: SystemKey, asked: Question) -> None:
        before = self._asked_before(key)
        self._asked.setdefault(key, set())
        if before is not None:
            self.builder.questions[self.builder.questions.index(before)] = asked
        else:
            self.builder.questions.append(asked)
