"""Who belongs to a farm: inviting, showing, removing, leaving, forgetting."""

from __future__ import annotations

import hashlib
from collections.abc import Awaitable, Callable, Iterable, Sequence
from datetime import UTC, datetime, timedelta

from bot.telegram.texts import YES, ChatKey, ChatOrder, ChatTexts, button
from bot.telegram.updates.update import Addressed, Answer, Visit
from bot.telegram.worker import EngineWorker
from engine.crew.erasure import Erasure
from engine.crew.farm import Farm
from engine.crew.people import Member, People
from engine.crew.roles import INVITES, Act, PersonRole
from engine.entries.phrases.channel_phrases import said_plainly
from engine.messages import Language
from engine.queues.outbox_message import TextMessage

VALID = timedelta(hours=48)
PHONE_VALID = timedelta(hours=1)


def role_names(texts: ChatTexts, roles: Iterable[PersonRole], language: Language) -> str:
    """What these roles are called, in one line."""
    return ", ".join(texts.say(ChatKey(f"role_{one}"), language) for one in roles)


Link = Callable[[str], Awaitable[str]]
"""Makes the address that carries an invitation."""


class MembershipService:
    """Answers what is asked of the people of a farm. Whoever asks was found to be allowed to."""

    def __init__(self, people: People, engine: EngineWorker, texts: ChatTexts, link: Link) -> None:
        self._people, self._engine, self._texts, self._link = people, engine, texts, link

    async def answer(self, visit: Visit, order: ChatOrder, language: Language) -> Sequence[Answer]:
        """The messages that answer one of the orders about people."""
        do, member = self._engine.do, visit.member
        match order.act:
            case Act.MEMBERS:
                return [await do(self._members, member, language)]
            case Act.REMOVE:
                return await do(self._remove, member, order.rest, language)
            case Act.LEAVE:
                return [await do(self._leave, member, order.rest, language)]
            case Act.FORGET:
                return await self._forget(visit, order.rest, language)
            case _:
                return [await self._invite(member, order, language)]

    async def _invite(self, member: Member, order: ChatOrder, language: Language) -> TextMessage:
        assert member.farm is not None
        phone = order.act is Act.PHONE
        role = PersonRole.OPERATOR if phone else self._role(order.rest, language)
        if role is None or not (phone or role in INVITES[member.role]):
            roles = (one for one in PersonRole if one in INVITES[member.role])
            return self._texts.message(ChatKey.WHOM_TO_INVITE, language, roles=role_names(self._texts, roles, language))
        valid, into = (PHONE_VALID, member.conversation) if phone else (VALID, None)
        ends = datetime.now(UTC) + valid
        code = await self._engine.do(self._people.invite, member.farm, role, ends, into, member.chat)
        told = {"hours": self._hours(valid, language), "link": await self._link(code)}
        if phone:
            return self._texts.message(ChatKey.PHONE_CODE, language, **told)
        return self._texts.message(ChatKey.INVITED, language, **told, role=role_names(self._texts, [role], language))

    def _hours(self, length: timedelta, language: Language) -> str:
        hours = length / timedelta(hours=1)
        if hours == 1:
            return self._texts.say(ChatKey.ONE_HOUR, language)
        return self._texts.say(ChatKey.MANY_HOURS, language, hours=f"{hours:g}")

    def _role(self, said: str, language: Language) -> PersonRole | None:
        if not said:
            return PersonRole.OPERATOR
        named = {said_plainly(role_names(self._texts, [role], language)): role for role in PersonRole}
        return (named | {role.value: role for role in PersonRole}).get(said_plainly(said))

    def _members(self, member: Member, language: Language) -> TextMessage:
        people = Farm(self._people.database, member).people()
        lines = [
            self._texts.say(ChatKey.MEMBER_LINE, language, number=str(number), **self._described(one, language))
            for number, one in enumerate(people, 1)
        ]
        buttons = tuple(
            button(self._texts.say(ChatKey.REMOVE_BUTTON, language, number=str(number)), f"/remove {_digest(one)}")
            for number, one in enumerate(people, 1)
            if member.may(Act.REMOVE) and one.chat != member.chat
        )
        return TextMessage(text="\n".join([self._texts.say(ChatKey.MEMBERS, language), *lines]), buttons=buttons)

    def _described(self, one: Member, language: Language) -> dict[str, str]:
        role = role_names(self._texts, [one.role], language)
        return {"name": one.name or self._texts.say(ChatKey.SOMEBODY, language), "role": role}

    def _remove(self, member: Member, rest: str, language: Language) -> Sequence[Answer]:
        named, _, sure = rest.partition(" ")
        people = Farm(self._people.database, member).people()
        numbered = dict(enumerate(people, 1))
        one = numbered.get(int(named)) if named.isascii() and named.isdigit() and len(named) < 4 else None
        one = one or next((other for other in people if _digest(other) == named), None)
        if one is None or one.chat == member.chat:
            return [self._texts.message(ChatKey.NO_SUCH_PERSON, language)]
        told = self._described(one, language)
        if sure != YES:
            sure_button = button(self._texts.say(ChatKey.YES_REMOVE, language), f"/remove {_digest(one)} {YES}")
            return [self._texts.message(ChatKey.REMOVE_SURE, language, sure_button, **told)]
        self._people.leave(one.chat)
        return [
            self._texts.message(ChatKey.REMOVED, language, name=told["name"]),
            Addressed(self._texts.message(ChatKey.YOU_ARE_REMOVED, language), one.chat),
        ]

    def _leave(self, member: Member, rest: str, language: Language) -> TextMessage:
        owners = [one for one in Farm(self._people.database, member).people() if one.role is PersonRole.OWNER]
        if [one.chat for one in owners] == [member.chat]:
            return self._texts.message(ChatKey.LAST_OWNER, language)
        if rest != YES:
            sure_button = button(self._texts.say(ChatKey.YES_LEAVE, language), f"/leave {YES}")
            return self._texts.message(ChatKey.LEAVE_SURE, language, sure_button)
        self._people.leave(member.chat)
        return self._texts.message(ChatKey.LEFT, language)

    async def _forget(self, visit: Visit, rest: str, language: Language) -> Sequence[Answer]:
        if rest != YES:
            sure_button = button(self._texts.say(ChatKey.YES_FORGET, language), f"/forgetme {YES}")
            return [self._texts.message(ChatKey.FORGET_SURE, language, sure_button)]
        farewell = visit.line(TextMessage(text=self._texts.say(ChatKey.FORGOTTEN, language), forget=True))
        await self._engine.do(self._engine.voice(visit.chat).forget)
        forgetting = Erasure(self._people.database)
        await self._engine.do(forgetting.forget, visit.chat, datetime.now(UTC), visit.update.update_id, (farewell,))
        await self._engine.forget(visit.chat)
        return []


def _digest(one: Member) -> str:
    """Names a person in a button without their chat."""
    return hashlib.sha256(one.chat.encode()).hexdigest()[:12]
