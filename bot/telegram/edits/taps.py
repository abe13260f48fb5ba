"""What a pressed button means: an answer, the same one again, or another one to a question that is answered already."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from bot.telegram.bell import answers_ring
from bot.telegram.edits.editing import Editing
from bot.telegram.message import CALLBACK_BYTES, pressed
from bot.telegram.texts import ChatKey, ChatTexts, button
from bot.telegram.updates.update import Pressed, Visit
from bot.telegram.worker import EngineWorker
from engine.database import Database
from engine.dialog.facts.events import Heard, Misheard, Moved, StepsTold
from engine.entries.phrases.channel_phrases import said_plainly
from engine.history.store.journal import StoredTurn
from engine.history.store.turn_facts import facts_of
from engine.queues.outbox_message import TextMessage

CHANGE = "="
"""Stands before the number of a turn and the words that are to be its answer instead."""
FAR = 50
"""A button of so many turns ago is not looked into any more."""
AGAIN, CHATS_KEPT = timedelta(seconds=10), 10_000
"""What is fetched once more within so long is one tap of a cold thumb (own decision)."""
NO_ANSWER = Misheard | Heard | StepsTold | Moved


@dataclass(frozen=True)
class Answers:
    """It says these words; the buttons beside it ``stay`` where they answer nothing."""

    words: str
    stays: bool = False


@dataclass(frozen=True)
class Ignores:
    """Nothing is done; a line shows for a moment where there is one."""

    toast: str = ""


@dataclass(frozen=True)
class Offers:
    """Asked back: the question is answered, and this is another answer."""

    message: TextMessage


@dataclass(frozen=True)
class Changes:
    """These words are the answer instead of what the turn heard."""

    turn: StoredTurn
    words: str


Tap = Answers | Ignores | Offers | Changes


class Taps:
    """Reads buttons by the turns that they answer; what the client sends may be forged."""

    def __init__(self, engine: EngineWorker, database: Database, editing: Editing, texts: ChatTexts) -> None:
        self._engine, self._database, self._editing, self._texts = engine, database, editing, texts
        self._fetched: dict[tuple[str, str], tuple[str, datetime]] = {}

    async def meant(self, visit: Visit, press: Pressed) -> Tap:
        answer = pressed(press.data)
        if answer is None:
            return await self._old(visit)
        seq, words = answer
        if self._texts.fetches(words, await self._engine.language(visit.talk)):
            return Ignores() if self._twice(visit, words) else Answers(words, stays=True)
        now = await self._engine.seq(visit.talk)
        if words.startswith(CHANGE):
            return await self._change(visit, seq == now, words.removeprefix(CHANGE))
        if seq == now or await self._rings(visit, words):
            return Answers(words)
        if not now - FAR <= seq < now:
            return await self._old(visit)
        return await self._late(visit, seq, words)

    def _twice(self, visit: Visit, words: str) -> bool:
        """Whether the same was fetched a moment ago by another press."""
        if len(self._fetched) > CHATS_KEPT:
            self._fetched.clear()
        now = visit.update.received_at
        update, at = self._fetched.get((visit.chat, words), (visit.id, now))
        if update != visit.id and now - at < AGAIN:
            return True
        self._fetched[visit.chat, words] = (visit.id, now)
        return False

    async def _rings(self, visit: Visit, words: str) -> bool:
        """Whether the words answer a reminder that still asks, whatever else was said meanwhile."""
        return await self._engine.do(answers_ring, self._database, visit.talk, words)

    async def _late(self, visit: Visit, seq: int, words: str) -> Tap:
        """A button of a question after which more was said."""
        asking, after = await self._engine.numbered(visit.talk, seq), await self._engine.after(visit.talk, seq)
        answering = next((turn for turn in after if not _is_no_answer(turn)), None)
        labels = {one.says: one.label for one in asking.reply.buttons} if asking else {}
        known = words in labels or words in {one.says for one in await self._engine.ways(visit.talk)}
        if known and (answering is None or await self._still_asked(visit, asking)):
            return Answers(words)
        if answering is not None and said_plainly(answering.heard) == said_plainly(words):
            return Ignores()
        if answering is None or words not in labels:
            return await self._old(visit)
        said = labels.get(answering.heard.lower(), answering.heard)
        offer = f"{CHANGE}{answering.seq}:{words}"
        fits = len(f"{seq}0:{offer}".encode()) <= CALLBACK_BYTES
        if fits and await self._editing.plan(visit, answering, words) is not None and not _was_asked_back(answering):
            return Offers(await self._offer(visit, labels[words], offer))
        language = await self._engine.language(visit.talk)
        return Ignores(self._texts.say(ChatKey.ANSWERED_ALREADY, language, label=said))

    async def _still_asked(self, visit: Visit, asking: StoredTurn | None) -> bool:
        """Whether what the turn asked is what is asked now."""
        prompt = await self._engine.prompt(visit.talk)
        last = asking.reply.text.splitlines()[-1:] if asking else []
        if asking is None or not prompt.buttons:
            return False
        return (prompt.text.splitlines()[-1:], prompt.buttons) == (last, asking.reply.buttons)

    async def _offer(self, visit: Visit, label: str, offer: str) -> TextMessage:
        language = await self._engine.language(visit.talk)
        yes, no = (self._texts.say(key, language) for key in (ChatKey.YES_CHANGE, ChatKey.NO_CHANGE))
        keeps = f"{offer.partition(':')[0]}:"
        text = self._texts.say(ChatKey.CHANGE_TO, language, label=label)
        seq = await self._engine.seq(visit.talk)
        return TextMessage(text=text, buttons=(button(yes, offer), button(no, keeps)), seq=seq)

    async def _change(self, visit: Visit, is_newest: bool, order: str) -> Tap:
        number, _, words = order.partition(":")
        old = await self._engine.numbered(visit.talk, int(number)) if number.isascii() and number.isdigit() else None
        if old is None or not is_newest:
            return await self._old(visit)
        asking = await self._engine.numbered(visit.talk, old.seq - 1)
        if not words:
            return Ignores(self._texts.say(ChatKey.NOT_CHANGED, await self._engine.language(visit.talk)))
        known = asking is not None and words in {one.says for one in asking.reply.buttons}
        return Changes(old, words) if known else await self._old(visit)

    async def _old(self, visit: Visit) -> Ignores:
        return Ignores(self._texts.say(ChatKey.OLD_BUTTON, await self._engine.language(visit.talk)))


def _is_no_answer(turn: StoredTurn) -> bool:
    """Whether a turn left everything as it was."""
    return all(isinstance(fact, NO_ANSWER) for fact in facts_of(turn))


def _was_asked_back(turn: StoredTurn) -> bool:
    """Whether a turn settled a question about something said before, which another answer does not bring back."""
    return any(fact["kind"] == "wondered" for fact in turn.facts)
