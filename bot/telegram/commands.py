"""What a person can ask the chat itself for: each service with its answer, refused where their role lacks it."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from typing import assert_never

from bot.telegram.engine_worker import EngineWorker
from bot.telegram.membership import Roster
from bot.telegram.preferences import Preferences
from bot.telegram.request import Answer, Visit
from bot.telegram.showing import Showing
from bot.telegram.texts import ChatKey, ChatOrder, ChatTexts, button
from engine.farm import Farm
from engine.forms import load_forms
from engine.messages import Language
from engine.outbox import Outgoing
from engine.outbox_message import TextMessage
from engine.people import Member
from engine.roles import Act

FORGET = "forget"
log = logging.getLogger("rowhand.telegram")


class Desk:
    """Serves the orders of the chat."""

    def __init__(
        self, mind: EngineWorker, roster: Roster, preferences: Preferences, showing: Showing, texts: ChatTexts
    ) -> None:
        self._mind, self._roster, self._preferences = mind, roster, preferences
        self._showing, self._texts = showing, texts

    async def serve(self, visit: Visit, order: ChatOrder, language: Language) -> tuple[Outgoing, ...]:
        """The messages that answer an order, in order."""
        log.info("order update=%d act=%s", visit.update.update_id, order.act)
        if not visit.member.may(order.act):
            key = ChatKey.ALONE_HERE if visit.member.farm is None else ChatKey.NOT_YOURS
            answers: Sequence[Answer] = [self._texts.message(key, language)]
        else:
            answers = await self._answer(visit, order, language)
        return visit.lines(answers, await self._mind.seq(visit.talk))

    async def _answer(self, visit: Visit, order: ChatOrder, language: Language) -> Sequence[Answer]:
        do, member, rest = self._mind.do, visit.member, order.rest
        match order.act:
            case Act.LANGUAGE | Act.UNITS | Act.NEWS | Act.QUIET:
                return [await do(self._preferences.answer, member, order, language)]
            case Act.SUMMARY | Act.HISTORY | Act.EXPORT:
                return await do(self._shown, member, order, language)
            case Act.PLANTER:
                return [await self._planter(visit, rest, language)]
            case Act.HANDOVER:
                return [await do(self._handover, visit, rest, language)]
            case Act.VOICE:
                return [await do(self._voice, visit, rest, language)]
            case Act.PHONE | Act.INVITE | Act.MEMBERS | Act.REMOVE | Act.LEAVE | Act.FORGET:
                return await self._roster.answer(visit, order, language)
            case other:
                assert_never(other)

    def _shown(self, member: Member, order: ChatOrder, language: Language) -> Sequence[Answer]:
        if order.act is Act.SUMMARY:
            return self._showing.summary(member, language)
        if order.act is Act.EXPORT:
            return self._showing.export(member, language)
        row = int(order.rest) if order.rest.isascii() and order.rest.isdigit() else None
        return self._showing.history(member, language, row)

    async def _planter(self, visit: Visit, name: str, language: Language) -> TextMessage:
        """The planters of the farm; with a name, what is asked at that one, in the language spoken till now."""
        farm = Farm(self._showing.database, visit.member)
        if not name:
            return await self._mind.do(self._planters, farm, language)
        planter = await self._mind.do(farm.work_with, name, visit.said_at)
        if language != await self._mind.language(planter.conversation):
            switch = visit.utterance(language, load_forms(language).called[0], ":language")
            await self._mind.hear(switch.model_copy(update={"conversation": planter.conversation}), ())
        reply = await self._mind.prompt(planter.conversation)
        told = self._texts.say(ChatKey.PLANTER_NOW, language, name=planter.name or "")
        seq = await self._mind.seq(planter.conversation)
        return TextMessage(text=f"{told} {reply.text}", buttons=reply.buttons, seq=seq)

    def _planters(self, farm: Farm, language: Language) -> TextMessage:
        names = [one.name for one in farm.planters() if one.name]
        told = ", ".join(names) or self._texts.say(ChatKey.PLANTER_NAMELESS, language)
        return self._texts.message(
            ChatKey.PLANTERS, language, *(button(one, f"/planter {one}") for one in names), names=told
        )

    def _voice(self, visit: Visit, rest: str, language: Language) -> TextMessage:
        """What is known of the voice that speaks here, and how it is learned; with "forget" it is forgotten."""
        voice = self._mind.voice(visit.chat)
        if rest == FORGET:
            voice.forget()
            return self._texts.message(ChatKey.VOICE_FORGOTTEN, language)
        asked = [one for one in voice.known(language).pairs if one.is_asked]
        lines = [self._texts.say(ChatKey.VOICE_PAIR, language, said=one.said, heard=one.heard) for one in asked]
        known = self._texts.say(ChatKey.VOICE_KNOWN, language, pairs=", ".join(lines)) if lines else ""
        told = known or self._texts.say(ChatKey.VOICE_UNKNOWN, language)
        how = self._texts.say(ChatKey.VOICE_HOW, language, person=voice.person)
        forget = button(self._texts.say(ChatKey.VOICE_FORGET, language), f"/voice {FORGET}")
        return TextMessage(text=f"{told} {how}", buttons=(forget,) if voice.known(language).pairs else ())

    def _handover(self, visit: Visit, name: str, language: Language) -> TextMessage:
        farm = Farm(self._showing.database, visit.member)
        if name:
            return self._texts.message(ChatKey.NOW_SPEAKS, language, name=farm.hand_over(name, visit.said_at).name)
        known = dict.fromkeys(one.name for one in farm.speakers(visit.talk))
        return self._texts.message(ChatKey.WHO_SPEAKS, language, *(button(one, f"/handover {one}") for one in known))
