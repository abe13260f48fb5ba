"""What the people of a farm are, and what each of them may do: the one place that says so."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum


class PersonRole(StrEnum):
    OWNER = "owner"
    FOREMAN = "foreman"
    OPERATOR = "operator"


class Act(StrEnum):
    """Everything that a person can do beside the conversation itself."""

    LANGUAGE = "language"
    UNITS = "units"
    SUMMARY = "summary"
    HISTORY = "history"
    LABEL = "label"
    EXPORT = "export"
    PLANTER = "planter"
    HANDOVER = "handover"
    PHONE = "phone"
    INVITE = "invite"
    MEMBERS = "members"
    REMOVE = "remove"
    NEWS = "news"
    QUIET = "quiet"
    VOICE = "voice"
    LEAVE = "leave"
    FORGET = "forgetme"


_OPERATOR = frozenset(
    {
        Act.LANGUAGE,
        Act.UNITS,
        Act.SUMMARY,
        Act.HISTORY,
        Act.LABEL,
        Act.PLANTER,
        Act.HANDOVER,
        Act.PHONE,
        Act.VOICE,
        Act.LEAVE,
        Act.FORGET,
    }
)
_FOREMAN = _OPERATOR | {Act.EXPORT, Act.INVITE, Act.MEMBERS, Act.NEWS, Act.QUIET}

MAY: Mapping[PersonRole, frozenset[Act]] = {
    PersonRole.OPERATOR: _OPERATOR,
    PersonRole.FOREMAN: _FOREMAN,
    PersonRole.OWNER: _FOREMAN | {Act.REMOVE},
}
"""What each role may do."""

ALONE = _OPERATOR - {Act.PHONE, Act.LEAVE} | {Act.EXPORT}
"""What somebody may do on a record that nobody was invited to: all that needs no farm."""

INVITES: Mapping[PersonRole, frozenset[PersonRole]] = {
    PersonRole.OPERATOR: frozenset(),
    PersonRole.FOREMAN: frozenset({PersonRole.OPERATOR}),
    PersonRole.OWNER: frozenset(PersonRole),
}
"""Whom each role may invite."""

WHOLE_FARM = frozenset({PersonRole.OWNER, PersonRole.FOREMAN})
"""Who sees every planter of the farm; the others see the one they work with."""
