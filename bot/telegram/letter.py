"""What leaves next made ready on the thread of the record: its words as they stand now, its buttons, and whether it is
still wanted."""

from __future__ import annotations

from dataclasses import dataclass

from bot.telegram.access import ChatAccess
from bot.telegram.services.label_fetching import Labels
from bot.telegram.texts import ChatKey, ChatTexts
from bot.telegram.updates.intake import Reachability
from bot.telegram.worker import EngineWorker
from engine.queues.outbox import ANSWERED, PERHAPS, Arrival, Outbox, Outgoing, Setback, Waiting
from engine.queues.outbox_message import (
    ReminderMessage,
    ShownMessage,
    TextMessage,
    VoiceNoteMessage,
    WithdrawalMessage,
    words_of,
)
from engine.reminders.schedule import Schedule

RING, REPLY = "ring/", "reply:"


@dataclass(frozen=True)
class Letter:
    """A message with its words and buttons as they stand now, the turn that these answer, and whether it makes no
    sound."""

    shown: ShownMessage
    text: str
    seq: int
    silent: bool


Readied = Letter | WithdrawalMessage | Arrival | Setback | None
"""What is to be done with a message: an outcome where it is not sent, as nobody wants it or others get it; None where
its chat is lost."""


@dataclass(frozen=True)
class LetterDesk:
    """Makes messages ready."""

    outbox: Outbox
    schedule: Schedule
    engine: EngineWorker
    reach: Reachability
    crew: ChatAccess
    texts: ChatTexts

    def ready_now(self, waiting: Waiting) -> Readied:
        one = waiting.outgoing
        if self.reach.is_lost(one.conversation):
            return None
        if isinstance(one.message, WithdrawalMessage):
            return one.message
        if one.key.startswith(RING) and not self.schedule.asks(one.key):
            return Setback(one.key, None, ANSWERED)
        if is_voice(one) and self._overtaken(one):
            return Arrival(one.key)
        audience = self.crew.audience_now(one)
        if audience != (one.conversation,):
            self.outbox.pass_on(one, audience)
            return Arrival(one.key)
        shown = self._with_ways(one, one.message)
        return Letter(shown, self._text(waiting), self._seq(one, shown), self.crew.hushed_now(one))

    def _overtaken(self, one: Outgoing) -> bool:
        """Whether a newer voice note waits behind this one: only what was said last is worth hearing."""
        waiting = self.outbox.pending(one.conversation)
        return any(is_voice(other.outgoing) and other.outgoing.key != one.key for other in waiting)

    def _with_ways(self, one: Outgoing, shown: ShownMessage) -> ShownMessage:
        """A reply after which nothing is open has the ways on as buttons, unless more was said meanwhile; before them
        one that says whom to call has the label."""
        if not isinstance(shown, TextMessage) or not one.key.startswith(REPLY):
            return shown
        talk = self.crew.talk_now(one.conversation)
        newest = self.engine.seq_now(talk) == shown.seq
        ways = shown.buttons or (self.engine.ways_now(talk) if newest else ())
        label = Labels(self.engine, self.texts).offered_now(_utterance(one))
        return shown.model_copy(update={"buttons": (*label, *ways)})

    def _text(self, waiting: Waiting) -> str:
        """The words; those that perhaps arrived before say so."""
        text = words_of(waiting.outgoing.message)
        if waiting.why != PERHAPS:
            return text
        language = self.engine.language_now(waiting.outgoing.conversation)
        return f"{self.texts.say(ChatKey.PERHAPS_AGAIN, language)} {text}"

    def _seq(self, one: Outgoing, shown: ShownMessage) -> int:
        """The turn that the buttons of a message answer; by its key where it does not say, else the last one."""
        if not isinstance(shown, TextMessage | ReminderMessage):
            return 0
        if shown.seq is None and shown.buttons:
            return self.engine.seq_now(one.conversation, one.key.removeprefix(REPLY))
        return shown.seq or 0


def _utterance(one: Outgoing) -> str:
    """What a reply answers; that to others who take part has their chat behind it."""
    return one.key.removeprefix(REPLY).removesuffix(f":{one.conversation}")


def is_voice(one: Outgoing) -> bool:
    """Whether a message is a voice note, which may be lost but never holds up what comes after it."""
    return isinstance(one.message, VoiceNoteMessage)
