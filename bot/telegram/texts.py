"""What the chat channel itself says, from its definition file."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Self

from pydantic import model_validator

from engine.crew.roles import Act
from engine.data.definitions import PlacedError
from engine.data.languages import LANGUAGES
from engine.data.texts import Text, TextKey, Texts, Words
from engine.entries.grammar_text import public_rule
from engine.entries.phrases.channel_phrases import ChannelPhrases
from engine.messages import Button, Language, Message
from engine.queues.outbox_message import TextMessage


class ChatKey(TextKey):
    """Every text of the channel."""

    GROUP = "group"
    TEXT_OR_VOICE = "text_or_voice"
    TEXT_TOO_LONG = "text_too_long", "count"
    VOICE_EMPTY = "voice_empty"
    VOICE_CUT = "voice_cut"
    VOICE_TOO_LONG = "voice_too_long", "count"
    VOICE_TOO_LARGE = "voice_too_large"
    VOICE_NOT_AUDIO = "voice_not_audio"
    VOICE_UNREADABLE = "voice_unreadable"
    PHOTO_TOO_LARGE = "photo_too_large"
    PHOTO_NONE = "photo_none"
    PHOTO_NOT_FETCHED = "photo_not_fetched"
    PHOTO_UNREAD = "photo_unread"
    PHOTO_FOR_WHICH = "photo_for_which"
    LABEL_REGISTERED = "label_registered", "product", "number"
    LABEL_UNREGISTERED = "label_unregistered", "product"
    LABEL_PART = "label_part", "label", "number", "count"
    LABEL_WHICH = "label_which"
    LABEL_NONE = "label_none"
    LABEL_NONE_OF = "label_none_of", "product"
    LABEL_UNKNOWN = "label_unknown"
    LABEL_GONE = "label_gone", "product"
    LABEL_BUTTON = "label_button", "product"
    VOICE_NOT_FETCHED = "voice_not_fetched"
    VOICE_NO_EARS = "voice_no_ears"
    OLD_BUTTON = "old_button"
    ANSWERED_ALREADY = "answered_already", "label"
    CHANGE_TO = "change_to", "label"
    YES_CHANGE = "yes_change"
    NO_CHANGE = "no_change"
    NOT_CHANGED = "not_changed"
    EDITED_EARLIER = "edited_earlier", "said"
    FAILED = "failed"
    PERHAPS_AGAIN = "perhaps_again"
    STRANGER = "stranger"
    WELCOME_ALONE = "welcome_alone"
    WELCOME_OPERATOR = "welcome_operator", "farm", "invited"
    WELCOME_FOREMAN = "welcome_foreman", "farm", "invited"
    WELCOME_OWNER = "welcome_owner", "farm", "invited"
    INVITED_BY = "invited_by", "name"
    WAY_SUMMARY = "way_summary"
    WAY_INVITE = "way_invite"
    WAY_MEMBERS = "way_members"
    BARRED_UNKNOWN = "barred_unknown"
    BARRED_USED = "barred_used"
    BARRED_EXPIRED = "barred_expired"
    BARRED_TOO_MANY = "barred_too_many", "time"
    BARRED_ELSEWHERE = "barred_elsewhere", "farm"
    AN_OPERATOR = "an_operator"
    OPERATOR_GONE = "operator_gone", "name"
    CORRECT_ROW = "correct_row", "row"
    CORRECT_SLOT = "correct_slot", "name"
    US_UNITS = "us_units"
    METRIC_UNITS = "metric_units"
    WHICH_LANGUAGE = "which_language"
    WHICH_UNITS = "which_units"
    NO_RUN_YET = "no_run_yet"
    NOTHING_YET = "nothing_yet"
    HISTORY_HEAD = "history_head", "planter"
    HISTORY_NONE = "history_none"
    EXPORTED = "exported", "runs"
    EXPORTED_SHIFTS = "exported_shifts", "lines"
    EXPORTED_SCOUTING = "exported_scouting", "lines"
    EXPORTED_RATES = "exported_rates", "lines"
    EXPORTED_APPLICATIONS = "exported_applications", "lines"
    PLANTERS = "planters", "names"
    PLANTER_NOW = "planter_now", "name"
    PLANTER_NAMELESS = "planter_nameless"
    WHO_SPEAKS = "who_speaks"
    NOW_SPEAKS = "now_speaks", "name"
    ONE_HOUR = "one_hour"
    MANY_HOURS = "many_hours", "hours"
    PHONE_CODE = "phone_code", "hours", "link"
    INVITED = "invited", "hours", "link", "role"
    WHOM_TO_INVITE = "whom_to_invite", "roles"
    MEMBERS = "members"
    MEMBER_LINE = "member_line", "number", "name", "role"
    SOMEBODY = "somebody"
    REMOVE_SURE = "remove_sure", "name", "role"
    REMOVED = "removed", "name"
    YOU_ARE_REMOVED = "you_are_removed"
    NO_SUCH_PERSON = "no_such_person"
    LEAVE_SURE = "leave_sure"
    LEFT = "left"
    LAST_OWNER = "last_owner"
    FORGET_SURE = "forget_sure"
    FORGOTTEN = "forgotten"
    NEWS_NOW = "news_now", "runs", "shifts"
    NEWS_ON = "news_on"
    NEWS_OFF = "news_off"
    NEWS_RUNS = "news_runs", "then"
    NEWS_SHIFTS = "news_shifts", "then"
    QUIET_NOW = "quiet_now", "start", "end", "zone"
    QUIET_NONE = "quiet_none"
    QUIET_HOW = "quiet_how", "zone"
    VOICE_KNOWN = "voice_known", "pairs"
    VOICE_PAIR = "voice_pair", "said", "heard"
    VOICE_UNKNOWN = "voice_unknown"
    VOICE_HOW = "voice_how"
    VOICE_LEARN = "voice_learn"
    VOICE_LEAVE = "voice_leave"
    VOICE_FORGET = "voice_forget"
    VOICE_FORGOTTEN = "voice_forgotten"
    NOT_YOURS = "not_yours", "roles"
    YES_LEAVE = "yes_leave"
    YES_FORGET = "yes_forget"
    YES_REMOVE = "yes_remove"
    REMOVE_BUTTON = "remove_button", "number"
    ROLE_OWNER = "role_owner"
    ROLE_FOREMAN = "role_foreman"
    ROLE_OPERATOR = "role_operator"
    ROW_STOPPED = "row_stopped", "planter", "rows"
    ROW_OVER_LABEL = "row_over_label", "planter", "rows"
    SHIFT_ENDED = "shift_ended", "who"
    ALONE_HERE = "alone_here"


class MenuCommand(Message):
    """One entry of the menu: the words it stands for, and what it is for."""

    says: Text
    about: Text


class Service(Message):
    """Something the chat itself does: how it is asked for, what is only typed for it and not listened for, behind which
    words a name may follow, how it is agreed to where it is asked back, and what it is for."""

    says: Words
    typed: Words | None = None
    named: Words | None = None
    sure: Text | None = None
    about: Text


@dataclass(frozen=True)
class ChatOrder:
    """A service that was asked for; ``rest`` is what was said behind it, ``YES`` where it was agreed to."""

    act: Act
    rest: str = ""


YES = "yes"


class _Asked:
    """How the services are asked for in one language; ValueError where a phrase is wrong."""

    def __init__(self, services: Mapping[Act, Service], language: Language) -> None:
        said = {act: one.says.of(language) + _of(one.typed, language) for act, one in services.items()}
        self.whole = ChannelPhrases(said)
        self.named = ChannelPhrases({act: _of(one.named, language) for act, one in services.items()})
        self.sure = ChannelPhrases({act: (one.sure.of(language),) for act, one in services.items() if one.sure})


def _of(words: Words | None, language: Language) -> tuple[str, ...]:
    return words.of(language) if words else ()


class ChatTexts(Texts[ChatKey]):
    """All texts by key, the menu by command, and the services."""

    file = "channels/chat.yaml"

    commands: dict[str, MenuCommand]
    services: dict[Act, Service]

    @model_validator(mode="after")
    def _all_services(self) -> Self:
        missing = [act for act in Act if act not in self.services]
        if missing:
            raise PlacedError(("services",), f"{missing[0]} is missing", "add its words in every language")
        self._asked.keys()  # every phrase is read now, and refused here
        return self

    def message(self, key: ChatKey, language: Language, *buttons: Button, **values: str) -> TextMessage:
        """A message that says this, with buttons."""
        return TextMessage(text=self.say(key, language, **values), buttons=buttons)

    def menu(self, language: Language, acts: Collection[Act] = frozenset(Act)) -> dict[str, str]:
        """The entries of the menu for who may do these, with what each is for."""
        told = {name: one.about.of(language) for name, one in self.commands.items()}
        return told | {act.value: one.about.of(language) for act, one in self.services.items() if act in acts}

    def words(self, command: str, language: Language) -> str | None:
        """What a command of the menu says, None for one that is not in it."""
        known = self.commands.get(command)
        return known.says.of(language) if known else None

    def order(self, text: str, language: Language) -> ChatOrder | None:
        """The service that a text asks for: by its command, or by words that are all or the first of the text."""
        first, _, rest = text.strip().partition(" ")
        if first.startswith("/"):
            name = first[1:].split("@")[0].lower()
            return ChatOrder(Act(name), rest.strip()) if name in set(Act) else None
        asked = self._asked[language]
        if (sure := asked.sure.whole(text)) is not None:
            return ChatOrder(sure, YES)
        if (act := asked.whole.whole(text)) is not None:
            return ChatOrder(act)
        named = asked.named.before(text)
        return ChatOrder(*named) if named is not None else None

    @cached_property
    def _asked(self) -> Mapping[Language, _Asked]:
        return {language: _Asked(self.services, language) for language in LANGUAGES}

    def fetches(self, text: str, language: Language) -> bool:
        """Whether a text only asks for a label again, which answers nothing and changes nothing."""
        order = self.order(text, language)
        return order is not None and order.act is Act.LABEL

    def with_orders(self, grammar: str, language: Language) -> str:
        """A grammar in which the services can be asked for too."""
        said = [one for service in self.services.values() for one in service.says.of(language)]
        said += [one.sure.of(language) for one in self.services.values() if one.sure]
        return grammar + public_rule("service", said)


def button(label: str, says: str) -> Button:
    """A button, and the words that pressing it says."""
    return Button(label=label, says=says)
