"""Reminders beside the delivery: the watch steps on the thread of the mind; what follows a call that was sent."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable
from datetime import UTC, datetime

from bot.bell.texts import BellTexts, ReminderKey
from bot.telegram.updates.backoff import Backoff
from bot.telegram.updates.update import PREFIX
from bot.telegram.worker import EngineWorker
from engine.data.languages import LANGUAGES
from engine.database import Database
from engine.errors import WorldError
from engine.queues.outbox import Outbox, Outgoing
from engine.queues.outbox_message import ReminderMessage, VoiceNoteMessage, WithdrawalMessage
from engine.reminders.reminder import Audience, Stage
from engine.reminders.schedule import Schedule
from engine.reminders.watch import ReminderWatch

log = logging.getLogger("rowhand.telegram")


class Bell:
    """Rings for ever; ``rung`` is called when something waits in the outbox."""

    def __init__(self, watch: ReminderWatch, engine: EngineWorker, outbox: Outbox, rung: Callable[[], None]) -> None:
        self._watch, self._engine, self._outbox, self._rung = watch, engine, outbox, rung

    async def run(self) -> None:
        patience = Backoff()
        while True:
            try:
                waits, seconds = await self._engine.alone(self._step)
                patience.reset()
                if waits:
                    self._rung()
            except WorldError as error:
                log.warning("bell failed error=%s", type(error).__name__)
                seconds = patience.next()
            except Exception as error:
                log.error("bell broke error=%s", type(error).__name__)
                seconds = patience.next()
            await asyncio.sleep(seconds)

    def _step(self) -> tuple[bool, float]:
        """Ring what is due; whether anything waits to be sent, and how many seconds to sleep."""
        rings, due = self._watch.step(), self._outbox.next_due(PREFIX)
        seconds = 0.0 if rings else self._watch.pause().total_seconds()
        return due is not None and due <= datetime.now(UTC), seconds


def follow_up(call: Outgoing, now: datetime) -> tuple[Outgoing, ...]:
    """What is due once a call was sent: the calls that asked the same before go, and a louder one is said as well.

    Both have lines of their own in the outbox, written when the call is marked as sent, so that a kill loses neither.
    """
    message, chat = call.message, call.conversation
    if not isinstance(message, ReminderMessage) or message.audience is not Audience.OPERATOR:
        return ()
    ring = call.key.removesuffix(f":{chat}")
    found: list[Outgoing] = []
    if message.instead_of:
        keys = tuple(name for key in message.instead_of for name in (key, f"{key}:{chat}", _voice(key, chat)))
        found.append(Outgoing(f"{ring}/instead:{chat}", chat, WithdrawalMessage(keys=keys), now))
    if message.aloud_too:
        note = VoiceNoteMessage(said=message.speech, language=message.language, silent=False)
        found.append(Outgoing(_voice(ring, chat), chat, note, now))
    return tuple(found)


def _voice(ring: str, chat: str) -> str:
    return f"{ring}/voice:{chat}"


def answers_ring(record: Database, talk: str, words: str) -> bool:
    """Whether these are words of the bell's buttons, and something in the conversation was asked and not answered."""
    says = {
        BellTexts.load().say(key, one)
        for key in (ReminderKey.ALL_GOOD_SAYS, ReminderKey.TEN_MORE_SAYS)
        for one in LANGUAGES
    }
    return words in says and any(one.stage in (Stage.ASKED, Stage.TOLD) for one in Schedule(record).waiting(talk))
