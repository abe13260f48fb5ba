"""What a person wants to hear, how, and when: language, units, summaries, quiet hours."""

from __future__ import annotations

from datetime import time
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from bot.telegram.texts import ChatKey, ChatOrder, ChatTexts, button, plain
from engine.forms import load_forms
from engine.messages import LANGUAGES, Button, Language
from engine.notifications import News, Quiet, Wishes, with_summary
from engine.outbox_message import TextMessage
from engine.people import Member
from engine.roles import Act


class Preferences:
    """Answers what is asked about preferences."""

    def __init__(self, news: News, texts: ChatTexts) -> None:
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

    def _hears(self, now: Wishes, language: Language) -> TextMessage:
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

    def _quiet(self, now: Wishes, changed: bool, language: Language) -> TextMessage:
        quiet, text = now.quiet, self._texts.say(ChatKey.QUIET_NONE, language)
        if quiet is not None:
            span = {"start": f"{quiet.start:%H:%M}", "end": f"{quiet.end:%H:%M}", "zone": quiet.zone}
            text = self._texts.say(ChatKey.QUIET_NOW, language, **span)
        how = self._texts.say(ChatKey.QUIET_HOW, language, zone=self._news.zone)
        return TextMessage(text=text if changed else f"{text} {how}")

    def _quieter(self, wishes: Wishes, rest: str) -> Wishes | None:
        """The wishes with other quiet hours; None for words that name none."""
        words = rest.split()
        if plain(rest) in ("off", "no"):
            return Wishes(wishes.runs, wishes.shifts, None)
        try:
            start, end = (_clock(word) for word in words[:2])
            zone = ZoneInfo(words[2]).key if len(words) > 2 else self._news.zone
        except (ValueError, OSError, ZoneInfoNotFoundError):
            return None
        return Wishes(wishes.runs, wishes.shifts, Quiet(start, end, zone))


def _clock(word: str) -> time:
    hours, _, minutes = word.partition(":")
    return time(int(hours), int(minutes or 0))


def _switched(wishes: Wishes, rest: str) -> Wishes | None:
    match rest.split():
        case ["runs", "on" | "off" as state]:
            return with_summary(wishes, runs=state == "on")
        case ["shifts", "on" | "off" as state]:
            return with_summary(wishes, shifts=state == "on")
        case _:
            return None
