"""What rings, as a message: one short sentence in the language and units of who hears it, and the next thing to do."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from typing import assert_never

from pydantic import ValidationError

from bot.bell.bell_pen import BellPen
from bot.bell.field_words import clock_told, entry_told, is_record, kept_out_key
from bot.bell.hour import LocalHours
from bot.bell.texts import BellTexts, ReminderKey
from engine.assistant import Assistant
from engine.crew.farm import Farm
from engine.crew.people import Member, People
from engine.database import Database
from engine.dialog.facts.state import ConversationState
from engine.dialog.reply.speech_text import aloud
from engine.dialog.reply.wording import Wording
from engine.dialog.taking.application_taking import RECORD
from engine.history.store.journal import Journal
from engine.messages import Button, Language, Reply
from engine.quantities import Measure
from engine.queues.outbox_message import ReminderMessage
from engine.reminders.local_time import zone_called
from engine.reminders.reminder import Audience, ClockNotice, Relief, Reminder, ReminderItem, Ring
from engine.shift.record.shift_facts import LookSet
from engine.shift.record.shift_state import ShiftState

LOUD = 2
"""From this call on a channel that can speak does."""
_SURE = timedelta(hours=1)
"""So long after a look was due it may be taken that the planter went on at its pace."""


class Ringing:
    """Words what rings on one record; ``zone`` is where the clock on the wall hangs. Reads, and writes nothing."""

    def __init__(
        self,
        assistant: Assistant,
        database: Database,
        zone: str,
        texts: BellTexts | None = None,
    ) -> None:
        self._assistant, self._database, self._zone = assistant, database, zone
        self._texts = texts or BellTexts.load()

    def compose(self, said: Ring | Relief | ClockNotice) -> ReminderMessage:
        """What rings, worded for who hears it."""
        match said:
            case Ring() if said.items[0].reminder.once:
                return self._said_once(said, said.items[0].reminder)
            case Ring(audience=Audience.OPERATOR):
                state = self._assistant.state(said.conversation)
                unseen, looks = _unseen(said, state), _looks(said)
                reply = self._reply(
                    state, said.at, lambda pen: self._asked(said, looks, pen, unseen, state), buttons=bool(looks)
                )
                call = _message(reply, state.language, said.audience, said.loudness)
                seq, loud = Journal(self._database).last(said.conversation), said.missed or said.loudness >= LOUD
                return call.model_copy(update={"seq": seq, "aloud_too": loud, "instead_of": said.instead_of})
            case Ring():
                member, state = self._foreman(said.conversation)
                unseen = _unseen(said, self._assistant.state(said.items[0].reminder.conversation))
                reply = self._reply(state, said.at, lambda pen: self._told(said, pen, unseen, member))
                return _message(reply, state.language, said.audience, said.loudness)
            case Relief(at=at):
                member, state = self._foreman(said.conversation)
                reply = self._reply(state, at, lambda pen: self._relieved(said, pen, member))
                return _message(reply, state.language, Audience.FOREMAN, silent=True)
            case ClockNotice(change=change):
                state = self._assistant.state(said.conversation)
                reply = self._reply(state, change.seen_at, lambda pen: clock_told(said, pen))
                return _message(reply, state.language, Audience.OPERATOR)
            case _:
                assert_never(said)

    def _said_once(self, ring: Ring, reminder: Reminder) -> ReminderMessage:
        """That a re-entry interval is over: nothing to answer, so it can wait where its reader wants quiet."""
        foreman = ring.audience is Audience.FOREMAN
        talk = ring.conversation
        member, state = self._foreman(talk) if foreman else (None, self._assistant.state(talk))
        kept_out = self._assistant.keeping_out(reminder.conversation).get(kept_out_key(reminder))

        def told(pen: BellPen) -> str:
            return entry_told(
                reminder, kept_out, pen, self._who(reminder.conversation, pen, member) if foreman else None
            )

        message = _message(self._reply(state, ring.at, told), state.language, ring.audience)
        return message.model_copy(update={"can_wait": True})

    def _foreman(self, chat: str) -> tuple[Member | None, ConversationState]:
        """Who a foreman's chat is, and the conversation whose words it hears."""
        member = People(self._database).member(chat)
        return member, self._assistant.state(member.conversation if member else chat)

    def _reply(
        self, state: ConversationState, now: datetime, write: Callable[[BellPen], str], *, buttons: bool = False
    ) -> Reply:
        wording = Wording(state.language, state.system)
        hours = LocalHours(self._texts, state.language, state.system, self._zone, now)
        text = write(BellPen(self._texts, wording, hours, spoken=False))
        speech = aloud(write(BellPen(self._texts, wording, hours, spoken=True)), state.language)
        return Reply(text=text, speech=speech, buttons=self._buttons(state.language) if buttons else ())

    def _buttons(self, language: Language) -> tuple[Button, ...]:
        pairs = (ReminderKey.ALL_GOOD, ReminderKey.ALL_GOOD_SAYS), (ReminderKey.TEN_MORE, ReminderKey.TEN_MORE_SAYS)
        return tuple(
            Button(label=self._texts.say(label, language), says=self._texts.say(says, language))
            for label, says in pairs
        )

    def _asked(
        self, ring: Ring, looks: Ring | None, pen: BellPen, unseen: Measure | None, state: ConversationState
    ) -> str:
        """The looks that are due, and the records that lack something."""
        lines = [_called(looks, pen, unseen)] if looks else []
        records = [self._record(one, pen, state) for one in ring.items if is_record(one.reminder)]
        lines += [pen.say(ReminderKey.RECORD, where=where, day=day) for where, day in records]
        return " ".join(lines)

    def _record(self, item: ReminderItem, pen: BellPen, state: ConversationState) -> tuple[str, str]:
        """Field and day of a record, and the last day to complete it."""
        zone, since = zone_called(self._zone), datetime.fromisoformat(str(item.reminder.body[RECORD]))
        found = next((one for one in state.book.applied if one.since == since), None)
        until = found.until if found else since
        last = self._assistant.within.last_day(since, until, zone)
        day = pen.wording.day(since.astimezone(zone).date())
        where = f"{found.field}, {day}" if found and found.field else day
        return where, pen.wording.day(last)

    def _told(self, ring: Ring, pen: BellPen, unseen: Measure | None, member: Member | None) -> str:
        since = pen.time(min(item.reminder.due_at for item in ring.items))
        who = self._who(ring.items[0].reminder.conversation, pen, member)
        asked = self._assistant.state(ring.items[0].reminder.conversation)
        records = [self._record(one, pen, asked) for one in ring.items if is_record(one.reminder)]
        if records and not _looks(ring):
            return " ".join(
                pen.say(ReminderKey.RECORD_NO_ANSWER, who=who, where=where, day=day) for where, day in records
            )
        if ring.unshown:
            return pen.say(ReminderKey.NOT_SHOWN, who=who, since=since, unseen=pen.unseen(unseen))
        return pen.say(ReminderKey.NO_ANSWER, who=who, since=since, unseen=pen.unseen(unseen), count=str(ring.loudness))

    def _relieved(self, relief: Relief, pen: BellPen, member: Member | None) -> str:
        who = self._who(relief.reminder.conversation, pen, member)
        return pen.say(ReminderKey.ANSWERED, who=who, time=pen.time(relief.at))

    def _who(self, talk: str, pen: BellPen, member: Member | None) -> str:
        """Whose conversation it is, as far as the farm of the foreman knows."""
        if member is None:
            return pen.say(ReminderKey.WHO_UNKNOWN)
        farm = Farm(self._database, member)
        planter = farm.planter_of(talk)
        names = [one.name for one in farm.speakers(talk)]
        names = names or [one.name for one in farm.people() if one.conversation == talk and one.name]
        match names, planter:
            case [*_, name], str(planter):
                return pen.say(ReminderKey.WHO_ON_PLANTER, name=name, planter=planter)
            case [*_, name], None:
                return pen.say(ReminderKey.WHO_NAME, name=name)
            case _, str(planter):
                return pen.say(ReminderKey.WHO_PLANTER, planter=planter)
            case _:
                return pen.say(ReminderKey.WHO_UNKNOWN)


def _message(
    reply: Reply, language: Language, audience: Audience, attempt: int = 1, *, silent: bool = False
) -> ReminderMessage:
    return ReminderMessage(
        text=reply.text,
        speech=reply.speech,
        buttons=reply.buttons,
        language=language,
        audience=audience,
        attempt=attempt,
        silent=silent,
    )


def _looks(ring: Ring) -> Ring | None:
    """The looks alone that a ring asks for; None where there are none."""
    items = tuple(one for one in ring.items if not is_record(one.reminder))
    return replace(ring, items=items) if items else None


def _unseen(ring: Ring, asked: ConversationState) -> Measure | None:
    """The area planted since the last look, the most where several are due; ``asked`` is who does not answer."""
    areas = [_planted(item, ring.at, asked) for item in ring.items]
    return max((area for area in areas if area), key=lambda area: area.to("acre").value, default=None)


def _planted(item: ReminderItem, now: datetime, asked: ConversationState) -> Measure | None:
    """As the look was reckoned, and on at the same pace; None where that is not known, or not any more."""
    if not item.reminder.body.get("area") or item.late > _SURE:
        return None
    try:
        look = LookSet.model_validate(item.reminder.body)
    except ValidationError:
        return None
    shift = asked.dialog.activity if asked.dialog else None
    looked = shift.wall(shift.looked) if isinstance(shift, ShiftState) else look.at
    since = min(looked, look.at)
    if look.area is None or look.due is None or look.due <= since:
        return None
    pace = max((now - since) / (look.due - since), 1.0)
    return look.area.model_copy(update={"value": look.area.value * pace})


def _called(ring: Ring, pen: BellPen, area: Measure | None) -> str:
    dues, unseen = [item.reminder.due_at for item in ring.items], pen.unseen(area)
    if ring.missed:
        return pen.say(ReminderKey.MISSED, dues=pen.times(dues), unseen=unseen)
    if ring.loudness == 1:
        return pen.say(ReminderKey.LOOK, dues=pen.times(dues), unseen=unseen)
    key = ReminderKey.LOOK_AGAIN if ring.loudness == 2 else ReminderKey.LOOK_ALARM
    return pen.say(key, since=pen.time(min(dues)), unseen=unseen, **key.only(count=str(ring.loudness)))
