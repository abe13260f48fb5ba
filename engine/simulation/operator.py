"""The operator of a simulated night at the assistant itself: he types what he would say, and acts on the answers."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta

from engine.assistant import Assistant
from engine.conversation_defaults import ConversationDefaults
from engine.crew.people import People
from engine.crew.roles import PersonRole
from engine.database import Database
from engine.dialog.schema.slot_roles import Role as Meaning
from engine.errors import RowhandError
from engine.history.store.journal import StoredTurn
from engine.history.store.turn_facts import facts_of
from engine.messages import Utterance
from engine.quantities import Measure
from engine.queues.outbox import Outbox
from engine.queues.outbox_message import TextMessage
from engine.reminders.reminder import ClockNotice, Relief, Ring
from engine.reminders.schedule import Schedule
from engine.shift.record.shift_facts import Doubted, RateFound
from engine.simulation.night import SPACING_IN, Night
from engine.simulation.reminding import ReminderAsked, ReportOutcome

TALK, FOREMAN = "night", "foreman"
COURSE_FT = 300.0
LABEL = 5.0, 15.0
OPENINGS = ("set up", "test run", "shift")
MOST_ANSWERS = 60
LEASE = timedelta(minutes=1)
LATER = timedelta(hours=1)


class SimulatedOperator:
    """Sets the planter up as the night is, then reports what he sees; what is said and answered is all real.

    ``looks`` False: he never looks, whatever is asked, and only tells what he refills.
    """

    def __init__(self, night: Night, database: Database, *, looks: bool = True) -> None:
        self.night, self.looks = night, looks
        people = People(database)
        people.join(FOREMAN, people.invite("farm", PersonRole.FOREMAN, night.shift.start + LATER), night.shift.start)
        self.assistant = Assistant(database, ConversationDefaults(watch=night.shift.watch))
        self.schedule, self.outbox = Schedule(database), Outbox(database)
        self._turns = 0
        self._next: datetime | None = None
        self._prepare()

    # ---- what he reports

    def seen(self, hour: float, high: Sequence[int]) -> ReportOutcome:
        if not self.looks:
            return ReportOutcome()
        return self._say(hour, f"{_rows(high)} high, the rest is good" if high else "all good")

    def stopped(self, hour: float, row: int) -> ReportOutcome:
        return self._say(hour, f"row {row} stopped")

    def mended(self, hour: float, row: int) -> ReportOutcome:
        return self._say(hour, f"row {row} runs again")

    def refilled(self, hour: float, acres: float, poured: Sequence[float]) -> ReportOutcome:
        rows = ", ".join(f"row {row} filled up with {pounds:.1f} pounds" for row, pounds in enumerate(poured, 1))
        return self._say(hour, f"{acres:.1f} acres done, {rows}")

    # ---- when he is asked

    def due(self) -> float | None:
        self._next = self.schedule.next_due() if self.looks else None
        return None if self._next is None else self._hour(self._next)

    def ring(self, until: float) -> tuple[ReminderAsked, ...]:
        asked: list[ReminderAsked] = []
        moment, last = self._next, self.night.time(until)
        while moment is not None and moment <= last:
            asked += [
                ReminderAsked(ring.at, ring.audience, ring.loudness) for ring in self.schedule.tick(moment, _plain)
            ]
            if last - moment < self.schedule.policy.again:
                break
            self._deliver(moment)
            moment = self.schedule.next_due()
        return tuple(asked)

    def _deliver(self, moment: datetime) -> None:
        """The message leaves at once; where somebody answers before the next try, nothing hangs on that."""
        for message in self.outbox.claim("wire", moment, LEASE):
            self.outbox.drop(message.key)

    # ---- talking

    def _say(self, hour: float, text: str) -> ReportOutcome:
        turn = self._hear(text, self.night.time(hour))
        facts = facts_of(turn)
        rates = [fact for fact in facts if isinstance(fact, RateFound)]
        named = {row: fact.chances[row] for fact in rates for row in fact.odd}
        since = min((self._hour(fact.since) for fact in facts if isinstance(fact, Doubted)), default=None)
        return ReportOutcome(named, since, text, turn.reply.text)

    def _hear(self, text: str, at: datetime) -> StoredTurn:
        self._turns += 1
        said = Utterance(id=f"{TALK}:{self._turns}", conversation=TALK, text=text, language="en", said_at=at)
        return self.assistant.hear(said)

    def _hour(self, moment: datetime) -> float:
        return (moment - self.night.shift.start) / timedelta(hours=1)

    def _prepare(self) -> None:
        """From nothing to a planter that plants: whatever is asked is answered, in whatever order."""
        answers = self._answers()
        for opening in OPENINGS:
            self._hear(opening, self.night.shift.start)
            self._answer(answers)
        dialog = self.assistant.state(TALK).dialog
        if dialog is None or dialog.activity is None:
            raise RowhandError("the dialogs do not lead to a shift")

    def _answer(self, answers: Mapping[str | None, Callable[[], str]]) -> None:
        for _ in range(MOST_ANSWERS):
            slots = self.assistant.expectation(TALK).slots
            if not slots:
                return
            self._hear(answers.get(slots[0].role, _skip)(), self.night.shift.start)
        raise RowhandError(f"{slots[0].name} is asked again and again")

    def _answers(self) -> dict[str | None, Callable[[], str]]:
        night = self.night
        rows = range(1, night.shift.rows + 1)
        return {
            Meaning.ROWS: lambda: str(night.shift.rows),
            Meaning.SPACING: lambda: f"{SPACING_IN:g} inches",
            Meaning.DIAL: lambda: "zero to thirty by one",
            Meaning.DRIVE: lambda: "no",
            Meaning.LABEL_LOW: lambda: f"{LABEL[0]:g} pounds an acre",
            Meaning.LABEL_HIGH: lambda: f"{LABEL[1]:g} pounds an acre",
            Meaning.RATE: lambda: f"{night.rate} pounds an acre",
            Meaning.SPEED: lambda: f"{night.mph} miles an hour",
            Meaning.COURSE: lambda: f"{COURSE_FT:g} feet",
            Meaning.CATCH_BY: lambda: "scale",
            Meaning.TARE: lambda: "zero",
            Meaning.SCALE_STEP: lambda: "0.1 grams",
            Meaning.SETTING: lambda: "all at twelve",
            Meaning.RUN_TIME: lambda: f"{COURSE_FT / (night.mph * 5280 / 3600):.1f} seconds",
            Meaning.CATCH_MASS: lambda: ", ".join(f"row {row} {self._target():.1f} grams" for row in rows),
            Meaning.AGAIN: lambda: "enough",
            Meaning.IN_USE: lambda: "all on",
            Meaning.LOADED: lambda: f"all {night.hopper} pounds",
            Meaning.WILLING: lambda: "skip" if night.shift.accepted is None else f"{night.shift.accepted:g} acres",
        }

    def _target(self) -> float:
        dialog = self.assistant.state(TALK).dialog
        target = dialog.of(Meaning.TARGET) if dialog else None
        if not isinstance(target, Measure):
            raise RowhandError("the test run knows no target")
        return target.to("g").value


def _skip() -> str:
    return "skip"


def _rows(rows: Sequence[int]) -> str:
    """ "row 3 is" or "rows 3 and 5 are" """
    *head, last = map(str, rows)
    return f"rows {', '.join(head)} and {last} are" if head else f"row {last} is"


def _plain(ring: Ring | Relief | ClockNotice) -> TextMessage:
    return TextMessage(text=f"{len(ring.items) if isinstance(ring, Ring) else 0} due")
