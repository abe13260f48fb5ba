"""What a person can ask the chat itself for: each service with its answer, refused where their role lacks it."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from datetime import time
from typing import assert_never
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from bot.telegram.services.label_fetching import Labels
from bot.telegram.services.membership import MembershipService, role_names
from bot.telegram.services.showing import Showing
from bot.telegram.texts import YES, ChatKey, ChatOrder, ChatTexts, button
from bot.telegram.updates.update import Answer, Visit
from bot.telegram.worker import EngineWorker
from engine.crew.farm import Farm
from engine.crew.notifications import Notifications, NotificationWishes, Quiet, with_summary
from engine.crew.people import Member
from engine.crew.roles import MAY, Act, PersonRole
from engine.data.forms import load_forms
from engine.entries.phrases.channel_phrases import said_plainly
from engine.messages import LANGUAGES, Button, Language
from engine.queues.outbox import Outgoing
from engine.queues.outbox_message import TextMessage


class Preferences:
    """Answers what is asked about preferences."""

    def __init__(self, news: Notifications, texts: ChatTexts) -> None:
        self._news, self._texts = news, texts

    def answer(self, member: Member, order: ChatOrder, language: Language) -> TextMessage:
        """The message that answers one of the orders about preferences."""
        match order.act:
            case Act.LANGUAGE:
                return self._language(language)
            case Act.UNITS:
                return self._units(language)
            case _:
                return self._news_of(member, order, language)

    def _language(self, language: Language) -> TextMessage:
        """Every language, called as it calls itself."""
        choices = (button(forms.own_name, forms.called[0]) for forms in map(load_forms, LANGUAGES))
        return self._texts.message(ChatKey.WHICH_LANGUAGE, language, *choices)

    def _units(self, language: Language) -> TextMessage:
        words = [self._texts.say(key, language) for key in (ChatKey.US_UNITS, ChatKey.METRIC_UNITS)]
        return self._texts.message(
            ChatKey.WHICH_UNITS, language, *(button(one[0].upper() + one[1:], one) for one in words)
        )

    def _news_of(self, member: Member, order: ChatOrder, language: Language) -> TextMessage:
        wishes = self._news.wishes(member.chat, member.role)
        changed = self._quieter(wishes, order.rest) if order.act is Act.QUIET else _switched(wishes, order.rest)
        if changed is not None:
            self._news.want(member.chat, changed)
        now = changed or wishes
        return self._quiet(now, changed is not None, language) if order.act is Act.QUIET else self._hears(now, language)

    def _hears(self, now: NotificationWishes, language: Language) -> TextMessage:
        on, off = self._texts.say(ChatKey.NEWS_ON, language), self._texts.say(ChatKey.NEWS_OFF, language)
        text = self._texts.say(
            ChatKey.NEWS_NOW, language, runs=on if now.runs else off, shifts=on if now.shifts else off
        )
        switches = (
            self._switch(ChatKey.NEWS_RUNS, "runs", now.runs, language),
            self._switch(ChatKey.NEWS_SHIFTS, "shifts", now.shifts, language),
        )
        return TextMessage(text=text, buttons=switches)

    def _switch(self, key: ChatKey, name: str, is_on: bool, language: Language) -> Button:
        """A button that turns a summary on or off."""
        then = self._texts.say(ChatKey.NEWS_OFF if is_on else ChatKey.NEWS_ON, language)
        return button(self._texts.say(key, language, then=then), f"/news {name} {'off' if is_on else 'on'}")

    def _quiet(self, now: NotificationWishes, changed: bool, language: Language) -> TextMessage:
        quiet, text = now.quiet, self._texts.say(ChatKey.QUIET_NONE, language)
        if quiet is not None:
            span = {"start": f"{quiet.start:%H:%M}", "end": f"{quiet.end:%H:%M}", "zone": quiet.zone}
            text = self._texts.say(ChatKey.QUIET_NOW, language, **span)
        how = self._texts.say(ChatKey.QUIET_HOW, language, zone=self._news.zone)
        return TextMessage(text=text if changed else f"{text} {how}")

    def _quieter(self, wishes: NotificationWishes, rest: str) -> NotificationWishes | None:
        """The wishes with other quiet hours; None for words that name none."""
        words = rest.split()
        if said_plainly(rest) in ("off", "no"):
            return NotificationWishes(wishes.runs, wishes.shifts, None)
        try:
            start, end = (_clock(word) for word in words[:2])
            zone = ZoneInfo(words[2]).key if len(words) > 2 else self._news.zone
        except (ValueError, OSError, ZoneInfoNotFoundError):
            return None
        return NotificationWishes(wishes.runs, wishes.shifts, Quiet(start, end, zone))


def _clock(word: str) -> time:
    hours, _, minutes = word.partition(":")
    return time(int(hours), int(minutes or 0))


def _switched(wishes: NotificationWishes, rest: str) -> NotificationWishes | None:
    match rest.split():
        case ["runs", "on" | "off" as state]:
            return with_summary(wishes, runs=state == "on")
        case ["shifts", "on" | "off" as state]:
            return with_summary(wishes, shifts=state == "on")
        case _:
            return None


FORGET = "forget"
log = logging.getLogger("rowhand.telegram")


class CommandService:
    """Serves the orders of the chat."""

    def __init__(
        self,
        engine: EngineWorker,
        roster: MembershipService,
        preferences: Preferences,
        showing: Showing,
        texts: ChatTexts,
    ) -> None:
        self._engine, self._roster, self._preferences = engine, roster, preferences
        self._showing, self._texts, self._labels = showing, texts, Labels(engine, texts)

    async def serve(self, visit: Visit, order: ChatOrder, language: Language) -> tuple[Outgoing, ...]:
        """The messages that answer an order, in order."""
        log.info("order update=%d act=%s", visit.update.update_id, order.act)
        if not visit.member.may(order.act):
            answers: Sequence[Answer] = [self._refusal(visit.member, order.act, language)]
        else:
            answers = await self._answer(visit, order, language)
        return visit.lines(answers, await self._engine.seq(visit.talk))

    def _refusal(self, member: Member, act: Act, language: Language) -> TextMessage:
        """What to do instead: begin a farm, or ask somebody who may."""
        if member.farm is None:
            return self._texts.message(ChatKey.ALONE_HERE, language)
        may = role_names(self._texts, [role for role in PersonRole if act in MAY[role]], language)
        return self._texts.message(ChatKey.NOT_YOURS, language, roles=may)

    async def _answer(self, visit: Visit, order: ChatOrder, language: Language) -> Sequence[Answer]:
        do, member, rest = self._engine.do, visit.member, order.rest
        match order.act:
            case Act.LANGUAGE | Act.UNITS | Act.NEWS | Act.QUIET:
                return [await do(self._preferences.answer, member, order, language)]
            case Act.SUMMARY | Act.HISTORY | Act.EXPORT:
                return await do(self._shown, member, order, language)
            case Act.LABEL:
                return await self._labels.answer(visit.talk, rest, language)
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
            return await self._engine.do(self._planters, farm, language)
        planter = await self._engine.do(farm.work_with, name, visit.said_at)
        if language != await self._engine.language(planter.conversation):
            switch = visit.utterance(language, load_forms(language).called[0], ":language")
            await self._engine.hear(switch.model_copy(update={"conversation": planter.conversation}), ())
        reply = await self._engine.prompt(planter.conversation)
        told = self._texts.say(ChatKey.PLANTER_NOW, language, name=planter.name or "")
        seq = await self._engine.seq(planter.conversation)
        buttons = reply.buttons or await self._engine.ways(planter.conversation)
        return TextMessage(text=f"{told} {reply.text}", buttons=buttons, seq=seq)

    def _planters(self, farm: Farm, language: Language) -> TextMessage:
        names = [one.name for one in farm.planters() if one.name]
        told = ", ".join(names) or self._texts.say(ChatKey.PLANTER_NAMELESS, language)
        return self._texts.message(
            ChatKey.PLANTERS, language, *(button(one, f"/planter {one}") for one in names), names=told
        )

    def _voice(self, visit: Visit, rest: str, language: Language) -> TextMessage:
        """What is known of the voice that speaks here, and how it is learned; with "forget" it is forgotten."""
        voice = self._engine.voice(visit.chat)
        if rest == FORGET:
            voice.forget()
            return self._texts.message(ChatKey.VOICE_FORGOTTEN, language)
        asked = [one for one in voice.known(language).pairs if one.is_asked]
        lines = [self._texts.say(ChatKey.VOICE_PAIR, language, said=one.said, heard=one.heard) for one in asked]
        known = self._texts.say(ChatKey.VOICE_KNOWN, language, pairs=", ".join(lines)) if lines else ""
        told = known or self._texts.say(ChatKey.VOICE_UNKNOWN, language)
        how = self._texts.say(ChatKey.VOICE_HOW, language)
        learn = button(self._texts.say(ChatKey.VOICE_LEARN, language), f"/voice {YES}")
        forget = button(self._texts.say(ChatKey.VOICE_FORGET, language), f"/voice {FORGET}")
        return TextMessage(text=f"{told} {how}", buttons=(learn, forget) if voice.known(language).pairs else (learn,))

    def _handover(self, visit: Visit, name: str, language: Language) -> TextMessage:
        farm = Farm(self._showing.database, visit.member)
        if name:
            return self._texts.message(ChatKey.NOW_SPEAKS, language, name=farm.hand_over(name, visit.said_at).name)
        known = dict.fromkeys(one.name for one in farm.speakers(visit.talk))
        return self._texts.message(ChatKey.WHO_SPEAKS, language, *(button(one, f"/handover {one}") for one in known))
