"""The foreman of the demo's farm: what comes to his phone, as the chat sends it."""

from __future__ import annotations

from bot.settings import CONVERSATION
from bot.telegram.services.report import alarms_of_shift
from bot.telegram.services.showing import Showing
from bot.telegram.texts import ChatTexts
from engine.crew.people import Member, People
from engine.database import Database
from engine.history.store.journal import Journal
from engine.messages import Language
from engine.queues.outbox_message import PictureMessage
from engine.reminders.local_time import zone_called


class DemoForeman:
    """Reads the record of the operator's conversation."""

    def __init__(self, database: Database, language: Language, zone: str) -> None:
        self._database, self._language = database, language
        self._texts = ChatTexts.load()
        self._showing = Showing(database, self._texts, zone_called(zone))

    def alarms(self) -> tuple[str, ...]:
        """What he is told at once of the newest turn in a shift."""
        turns = Journal(self._database).turns(CONVERSATION)
        return tuple(
            self._texts.say(one.key, self._language, rows=one.named, planter=self._showing.planter(self._operator))
            for one in alarms_of_shift(turns)
        )

    def summary(self) -> PictureMessage | None:
        """What he is told of the shift that was ended last, in words and as a drawing; None where none was."""
        last = Journal(self._database).last(CONVERSATION)
        told = self._showing.shift_ended(self._operator, CONVERSATION, self._language, last)
        return next((one for one in told if isinstance(one, PictureMessage)), None)

    @property
    def _operator(self) -> Member:
        found = People(self._database).member(CONVERSATION)
        if found is None:
            raise LookupError("the operator is on no farm")
        return found
