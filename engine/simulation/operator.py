"""The operator of a simulated night at the assistant itself: he types what he would say, and acts on the answers."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta
from functools import cache

from engine.assistant import Assistant, Rules
from engine.database import Database
from engine.dialog.events import read_fact
from engine.dialog.house import House, load_house
from engine.dialog.library import Library, load_library
from engine.dialog.shift.fact import Doubted, RateFound
from engine.errors import RowhandError
from engine.history.journal import StoredTurn
from engine.messages import Utterance
from engine.outbox import Outbox
from engine.people import People
from engine.quantities import Measure
from engine.reminders.inspection import DEFAULT
from engine.reminders.reminder import ClockNotice, Relief, Ring
from engine.reminders.schedule import Schedule
from engine.roles import Role
from engine.simulation.night import SPACING_IN, Night
from engine.simulation.plans import promised
from engine.simulation.reminding import Answer, Asked

TALK, FOREMAN = "night", "foreman"
COURSE_FT = 300.0
LABEL = 5.0, 15.0
OPENINGS = ("set up", "test run", "shift")
MOST_ANSWERS = 60
LEASE = timedelta(minutes=1)
LATER = timedelta(hours=1)


class Operator:
    """Sets the planter up as the night is, then reports what he sees; what is said and answered is all real.

    ``looks`` False: he never looks, whatever is asked, and only tells what he refills.
    """

    def __init__(self, night: Night, database: Database, *, looks: bool = True) -> None:
        self.night, self.looks = night, looks
        people = People(database)
        people.join(FOREMAN, people.invite("farm", Role.FOREMAN, night.shift.start + LATER), night.shift.start)
        self.assistant = Assistant(database, Rules(), *_texts())
        self.schedule, self.outbox = Schedule(database), Outbox(database)
        self._turns = 0
        self._next: datetime | None = None
        self._prepare()

    # ---- what he reports

    def seen(self, hour: float, high: Sequence[int]) -> Answer:
        if not self.looks:
            return Answer()
        return self._say(hour, f"{_rows(high)} high, the rest is good" if high else "all good")

    def stopped(self, hour: float, row: int) -> Answer:
        return self._say(hour, f"row {row} stopped")

    def mended(self, hour: float, row: int) -> Answer:
        return self._say(hour, f"row {row} runs again")

    def refilled(self, hour: float, acres: float, poured: Sequence[float]) -> Answer:
        rows = ", ".join(f"row {row} refilled {pounds:.1f} pounds" for row, pounds in enumerate(poured, 1))
        return self._say(hour, f"{acres:.1f} acres done, {rows}")

    # ---- when he is asked

    def due(self) -> float | None:
        self._next = self.schedule.next_due() if self.looks else None
        return None if self._next is None else self._hour(self._next)

    def ring(self, until: float) -> tuple[Asked, ...]:
        asked: list[Asked] = []
        moment, last = self._next, self.night.time(until)
        while moment is not None and moment <= last:
            asked += [Asked(ring.at, ring.audience, ring.loudness) for ring in self.schedule.tick(moment, _plain)]
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

    def _say(self, hour: float, text: str) -> Answer:
        turn = self._hear(text, self.night.time(hour))
        facts = [read_fact(fact) for fact in turn.facts]
        rates = [fact for fact in facts if isinstance(fact, RateFound)]
        named = {row: fact.chances[row] for fact in rates for row in fact.odd}
        since = min((self._hour(fact.since) for fact in facts if isinstance(fact, Doubted)), default=None)
        return Answer(named, since, text, turn.reply.text)

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
        if dialog is None or dialog.shift is None:
            raise RowhandError("the dialogs do not lead to a shift")

    def _answer(self, answers: Mapping[str, Callable[[], str]]) -> None:
        for _ in range(MOST_ANSWERS):
            slots = self.assistant.expectation(TALK).slots
            if not slots:
                return
            self._hear(answers.get(slots[0].name, _skip)(), self.night.shift.start)
        raise RowhandError(f"{slots[0].name} is asked again and again")

    def _answers(self) -> dict[str, Callable[[], str]]:
        night = self.night
        rows = range(1, night.shift.rows + 1)
        return {
            "rows": lambda: str(night.shift.rows),
            "spacing": lambda: f"{SPACING_IN:g} inches",
            "dial": lambda: "zero to thirty by one",
            "drive": lambda: "no",
            "label_low": lambda: f"{LABEL[0]:g} pounds an acre",
            "label_high": lambda: f"{LABEL[1]:g} pounds an acre",
            "rate": lambda: f"{night.rate} pounds an acre",
            "speed": lambda: f"{night.mph} miles an hour",
            "course": lambda: f"{COURSE_FT:g} feet",
            "catch_by": lambda: "scale",
            "tare": lambda: "zero",
            "scale_step": lambda: "0.1 grams",
            "dial_setting": lambda: "all at twelve",
            "course_time": lambda: f"{COURSE_FT / (night.mph * 5280 / 3600):.1f} seconds",
            "catch_mass": lambda: ", ".join(f"row {row} {self._target():.1f} grams" for row in rows),
            "again": lambda: "enough",
            "in_use": lambda: "all on",
            "loaded": lambda: f"all {night.hopper} pounds",
            "willing": lambda: f"{night.shift.accepted or promised(DEFAULT, night):.1f} acres",
        }

    def _target(self) -> float:
        dialog = self.assistant.state(TALK).dialog
        target = dialog.values.get("target") if dialog else None
        if not isinstance(target, Measure):
            raise RowhandError("the test run knows no target")
        return target.to("g").value


def _skip() -> str:
    return "skip"


def _rows(rows: Sequence[int]) -> str:
    """ "row 3 is" or "rows 3 and 5 are" """
    *head, last = map(str, rows)
    return f"rows {', '.join(head)} and {last} are" if head else f"row {last} is"


@cache
def _texts() -> tuple[Library, House]:
    return load_library(), load_house()


def _plain(ring: Ring | Relief | ClockNotice) -> dict[str, object]:
    return {"items": len(ring.items) if isinstance(ring, Ring) else 0}
