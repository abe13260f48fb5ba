"""Reminders beside the delivery: the watch steps on the thread of the mind, and louder calls are spoken too."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable

from bot.bell.texts import Key, load_texts
from bot.telegram.mind import Mind
from bot.telegram.patience import Patience
from bot.telegram.sending import aloud
from engine.database import Database
from engine.errors import WorldError
from engine.messages import LANGUAGES, Language
from engine.outbox import Outbox, Outgoing, put
from engine.reminders.reminder import Audience, Ring, Stage
from engine.reminders.schedule import Schedule
from engine.reminders.watch import Watch

LOUD = 2
"""From this call on the channel also speaks."""
log = logging.getLogger("rowhand.telegram")


class Bell:
    """Rings for ever; ``rung`` is called when something may wait in the outbox."""

    def __init__(self, watch: Watch, mind: Mind, outbox: Outbox, rung: Callable[[], None]) -> None:
        self._watch, self._mind, self._outbox, self._rung = watch, mind, outbox, rung

    async def run(self) -> None:
        patience = Patience()
        while True:
            try:
                rang, seconds = await self._mind.do(self._step)
                patience.reset()
                if rang:
                    self._rung()
            except WorldError as error:
                log.warning("bell failed error=%s", type(error).__name__)
                seconds = patience.next()
            except Exception as error:
                log.error("bell broke error=%s", type(error).__name__)
                seconds = patience.next()
            await asyncio.sleep(seconds)

    def _step(self) -> tuple[bool, float]:
        """Ring what is due; whether anything rang, and how many seconds to wait after that."""
        rings = self._watch.step()
        notes = [self._note(ring) for ring in rings if _is_spoken(ring)]
        if notes:
            with self._outbox.database.begin() as connection:
                put(connection, notes)
        return bool(rings), 0.0 if rings else self._watch.pause().total_seconds()

    def _note(self, ring: Ring) -> Outgoing:
        """A ring as a voice note that makes a sound; lost with the program, where a kill comes between."""
        body = self._watch.compose(ring)
        language: Language = "es" if body["language"] == "es" else "en"
        new = next(item.reminder for item in ring.items if item.attempt > item.reminder.asked)
        key = f"ring/{new.id}/{new.rung + 1}/voice"
        note = aloud(str(body["speech"]), language)
        return Outgoing(key, ring.conversation, {**note, "silent": False}, ring.at)


def _is_spoken(ring: Ring) -> bool:
    return ring.audience is Audience.OPERATOR and (ring.loudness >= LOUD or ring.missed)


def answers_ring(record: Database, talk: str, words: str) -> bool:
    """Whether these are words of the bell's buttons, and something in the conversation was asked and not answered."""
    says = {load_texts().say(key, one) for key in (Key.ALL_GOOD_SAYS, Key.TEN_MORE_SAYS) for one in LANGUAGES}
    return words in says and any(one.stage in (Stage.ASKED, Stage.TOLD) for one in Schedule(record).waiting(talk))
