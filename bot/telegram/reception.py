"""What somebody reads at the door: who they are here and what others see, or why they were not let in."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, tzinfo

from bot.telegram.edits.keyboards import Keyboards
from bot.telegram.services.menu import Menus
from bot.telegram.texts import ChatKey, ChatTexts, button
from engine.crew.people import Barred, Member, People
from engine.crew.roles import Act, PersonRole
from engine.data.forms import load_forms
from engine.messages import Button, Language, System

WELCOMES = {
    PersonRole.OWNER: ChatKey.WELCOME_OWNER,
    PersonRole.FOREMAN: ChatKey.WELCOME_FOREMAN,
    PersonRole.OPERATOR: ChatKey.WELCOME_OPERATOR,
}
SERVICES = ((Act.SUMMARY, ChatKey.WAY_SUMMARY), (Act.INVITE, ChatKey.WAY_INVITE), (Act.MEMBERS, ChatKey.WAY_MEMBERS))
MOST = 5
"""So many buttons stand under a greeting."""


@dataclass(frozen=True)
class Reception:
    """Greets and turns away; ``zone`` and ``units`` are those of the farm, by which its clock is told."""

    people: People
    texts: ChatTexts
    zone: tzinfo
    units: System

    def welcome(self, member: Member, language: Language) -> str:
        """Farm, role, who invited, and what others see of them."""
        if member.farm is None:
            return self.texts.say(ChatKey.WELCOME_ALONE, language)
        one = self.people.inviter(member.chat)
        by = self.texts.say(ChatKey.INVITED_BY, language, name=one.name) if one and one.name else ""
        return self.texts.say(WELCOMES[member.role], language, farm=member.farm, invited=by)

    def ways(self, member: Member, dialogs: tuple[Button, ...], language: Language) -> tuple[Button, ...]:
        """The ways on: dialogs that can be begun, and for who looks after others the services for that."""
        if member.farm is None or member.role is PersonRole.OPERATOR:
            return dialogs[:MOST]
        services = [button(self.texts.say(key, language), f"/{act.value}") for act, key in SERVICES if member.may(act)]
        return (*dialogs[: MOST - len(services)], *services)

    def refusal(self, barred: Barred, language: Language) -> str:
        """Why a code let nobody in, and what to do."""
        key = ChatKey(f"barred_{barred.why.name.lower()}")
        time = self._clock(barred.until, language) if barred.until else ""
        return self.texts.say(key, language, **key.only(time=time, farm=barred.farm or ""))

    def _clock(self, moment: datetime, language: Language) -> str:
        local = moment.astimezone(self.zone)
        return load_forms(language).clock.in_sentence(local.hour, local.minute, self.units)


@dataclass(frozen=True)
class Front:
    """What meets the eye before any words: who is greeted how, menus, and buttons."""

    reception: Reception
    menus: Menus
    keyboards: Keyboards
