"""What a paired phone is for."""

from __future__ import annotations

from enum import StrEnum


class PhoneRole(StrEnum):
    """An operator's phone talks; a foreman's looks on and says nothing."""

    OPERATOR = "operator"
    FOREMAN = "foreman"
