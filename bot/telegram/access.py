"""Who is answered, who takes part in a conversation, and what the foremen of a farm hear of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from typing import assert_never

from bot.telegram.services.report import Alarm, alarms, alarms_of_shift
from bot.telegram.services.showing import Showing
from bot.telegram.texts import ChatKey, ChatTexts
from bot.telegram.updates.update import Content, TypedText, Visit
from bot.telegram.worker import EngineWorker
from engine.crew.farm import Farm
from engine.crew.notifications import Notifications
from engine.crew.people import Barred, Member, People
from engine.crew.roles import WHOLE_FARM, PersonRole
from engine.dialog.facts.events import Cancelled, Fact, Finished
from engine.dialog.schema.slot_roles import Phase
from engine.history.store.journal import StoredTurn
from engine.history.store.turn_facts import facts_of
from engine.messages import Language
from engine.queues.inbox import Incoming
from engine.queues.outbox import Outgoing, put
from engine.queues.outbox_message import (
    FileMessage,
    OutboxMessage,
    TextMessage,
    VoiceNoteMessage,
    WithdrawalMessage,
    WordedMessage,
)
from engine.reminders.reminder import Audience
from engine.reminders.schedule import Schedule
from engine.shift.record.shift_facts import Noted, RateFound

Show = Callable[[Member, str, Language, int], list[FileMessage]]
"""Makes messages for a member out of a conversation, in a language, as it stood after a turn."""
RINGS = ("ring/", "clock/")
TELLING = {one.model_fields["kind"].default for one in (Finished, Cancelled, Noted, RateFound)}
SUMMARISED: set[Phase | None] = {Phase.CALIBRATION, Phase.SHIFT, Phase.RECORD}


def _now() -> datetime:
    return datetime.now(UTC)


class ChatAccess:
    """The people of the record as the channel needs them; ``now`` tells the time."""

    def __init__(
        self,
        people: People,
        news: Notifications,
        engine: EngineWorker,
        showing: Showing,
        texts: ChatTexts,
        now: Callable[[], datetime] = _now,
    ) -> None:
        self._people, self._news, self._engine = people, news, engine
        self._showing, self._texts, self._now = showing, texts, now

    # ---- who is here

    async def admitted(self, one: Incoming, said: Content) -> tuple[Member | None, Barred | None]:
        """Who somebody is, None for a stranger; a good invitation lets them in at once, a bad one says why not."""
        code = said.code if isinstance(said, TypedText) else None
        return await self._engine.do(self._admitted, one.conversation, code, _name(one))

    def _admitted(self, chat: str, code: str | None, name: str | None) -> tuple[Member | None, Barred | None]:
        found = self._people.admit(chat, code, self._now(), name) if code is not None else None
        if isinstance(found, Member):
            return found, None
        return self._people.seat(chat), found

    def seat_now(self, chat: str) -> Member | None:
        """Who somebody is, without an invitation; for work that is on the thread of the record already, as all that
        ends in ``now``."""
        return self._people.seat(chat)

    def talk_now(self, chat: str) -> str:
        """The conversation that a chat takes part in."""
        member = self._people.seat(chat)
        return member.conversation if member else chat

    async def everyone(self, member: Member) -> tuple[str, ...]:
        """Who gets the answer to somebody: they first, then the others who take part in their conversation."""
        return await self._engine.do(self.everyone_now, member)

    def everyone_now(self, member: Member) -> tuple[str, ...]:
        there = self._people.sharing(member.conversation) if member.farm else ()
        return (member.chat, *(chat for chat in there if chat != member.chat))

    def audience_now(self, one: Outgoing) -> tuple[str, ...]:
        """The chats that a message is for: what a conversation is reminded of is for all who take part in it."""
        if not one.key.startswith(RINGS) or one.key.endswith(f":{one.conversation}") or not self._people.closed():
            return (one.conversation,)
        if Schedule(self._people.database).rang_for(one.key) is Audience.FOREMAN:
            return (one.conversation,)
        return self._people.sharing(one.conversation)

    def hushed_now(self, one: Outgoing) -> bool:
        """Whether a message comes without a sound: what can wait, while its reader wants quiet."""
        match one.message:
            case VoiceNoteMessage(silent=silent):
                return silent
            case WordedMessage() as shown:
                return shown.silent or (shown.can_wait and self._wants_quiet(one.conversation))
            case WithdrawalMessage():
                return True
            case other:
                assert_never(other)

    def _wants_quiet(self, chat: str) -> bool:
        """Whether it is a quiet hour of this chat."""
        member = self._people.member(chat)
        wishes = self._news.wishes(chat, member.role) if member else None
        return bool(wishes and wishes.quiet and wishes.quiet.holds(self._now()))

    # ---- what foremen hear

    def concerns(self, turn: StoredTurn) -> bool:
        """Whether a turn may let anybody know anything."""
        if not any(fact["kind"] in TELLING for fact in turn.facts):
            return False
        facts = facts_of(turn)
        return bool((_phases(facts, Finished) | _phases(facts, Cancelled)) & SUMMARISED) or _on_shift(facts)

    async def told(self, turn: StoredTurn, visit: Visit) -> tuple[Outgoing, ...]:
        """What a turn lets people know: at the end of a test run or shift everybody who wants it, at an alarm at once
        every foreman."""
        if not self.concerns(turn):
            return ()
        facts = facts_of(turn)
        ended, left, on_shift = _phases(facts, Finished), _phases(facts, Cancelled), _on_shift(facts)
        alarming = await self._engine.do(self._alarms, turn, visit.member, on_shift, Phase.CALIBRATION in ended | left)
        over = ended | left & {Phase.SHIFT}
        lines = await self._own(turn, visit, over)
        for foreman in await self._engine.do(self._foremen, visit.member):
            language = await self._engine.language(foreman.conversation)
            lines += await self._engine.do(self._lines, turn, visit.member, foreman, language, over, alarming)
        return lines

    async def _own(self, turn: StoredTurn, visit: Visit, over: set[Phase | None]) -> tuple[Outgoing, ...]:
        """The picture and the pages for who finished a test run or a shift, the paper for who finished a record."""
        language = await self._engine.language(visit.talk)
        shown: dict[Phase | None, Show] = {
            Phase.CALIBRATION: self._showing.last_run,
            Phase.SHIFT: self._showing.shift,
            Phase.RECORD: self._showing.record,
        }
        found: list[FileMessage] = []
        for phase in over & shown.keys():
            found += await self._engine.do(shown[phase], visit.member, visit.talk, language, turn.seq)
        return tuple(
            Outgoing(f"sheet:{turn.utterance_id}:{number}", visit.chat, _silent(message), self._now())
            for number, message in enumerate(found)
        )

    def _lines(
        self,
        turn: StoredTurn,
        member: Member,
        foreman: Member,
        language: Language,
        over: set[Phase | None],
        alarming: tuple[Alarm, ...],
    ) -> tuple[Outgoing, ...]:
        planter = self._showing.planter(member)
        wishes = self._news.wishes(foreman.chat, foreman.role)
        found: list[tuple[str, OutboxMessage]] = []
        for alarm in alarming:
            text = self._texts.say(alarm.key, language, rows=alarm.named, planter=planter)
            found.append((f"alarm:{turn.utterance_id}:{alarm.key}", TextMessage(text=text)))
        if Phase.CALIBRATION in over and wishes.runs:
            told = self._showing.finished(member, member.conversation, language, turn.seq)
            found += [(f"run:{turn.utterance_id}:{number}", message) for number, message in enumerate(told)]
        if Phase.SHIFT in over and wishes.shifts:
            told = self._showing.shift_ended(member, member.conversation, language, turn.seq)
            found += [(f"shift:{turn.utterance_id}:{number}", message) for number, message in enumerate(told)]
        return tuple(Outgoing(f"{name}:{foreman.chat}", foreman.chat, message, self._now()) for name, message in found)

    def _alarms(self, turn: StoredTurn, member: Member, on_shift: bool, after_run: bool) -> tuple[Alarm, ...]:
        before = [one for one in Farm(self._people.database, member).turns(turn.conversation) if one.seq <= turn.seq]
        return (alarms_of_shift(before) if on_shift else ()) + (alarms(before) if after_run else ())

    def _foremen(self, member: Member) -> tuple[Member, ...]:
        """Everybody of the farm who sees the whole of it, but the member."""
        if member.farm is None:
            return ()
        people = Farm(self._people.database, member).people()
        return tuple(one for one in people if one.role in WHOLE_FARM and one.chat != member.chat)

    async def tell_lost(self, chat: str, since: str) -> None:
        """Tell the foremen, or the owners where there is no foreman, loud and once for each message ``since``, that
        somebody cannot be reached."""
        member = await self._engine.do(self._people.member, chat)
        if member is None:
            return
        above = await self._engine.do(self._foremen, member)
        foremen = [one for one in above if one.role is PersonRole.FOREMAN]
        lines = []
        for one in foremen or above:
            language = await self._engine.language(one.conversation)
            name = member.name or self._texts.say(ChatKey.AN_OPERATOR, language)
            text = self._texts.say(ChatKey.OPERATOR_GONE, language, name=name)
            lines.append(Outgoing(f"lost:{since}:{one.chat}", one.chat, TextMessage(text=text), self._now()))
        await self._engine.do(self._put, tuple(lines))

    def _put(self, lines: tuple[Outgoing, ...]) -> None:
        with self._people.database.begin() as connection:
            put(connection, lines)


def _phases(facts: Sequence[Fact], kind: type[Finished | Cancelled]) -> set[Phase | None]:
    """What these facts finished, or left."""
    return {fact.phase for fact in facts if isinstance(fact, kind)}


def _on_shift(facts: Sequence[Fact]) -> bool:
    return any(isinstance(fact, Noted | RateFound) for fact in facts)


def _silent(message: FileMessage) -> FileMessage:
    return message.model_copy(update={"silent": True})


def _name(one: Incoming) -> str | None:
    """What a person calls themselves in the client."""
    name = one.body.get("message", {}).get("from", {}).get("first_name")
    return str(name) if name else None
