"""The languages as an option of a command."""

from __future__ import annotations

from enum import StrEnum


class Tongue(StrEnum):
    EN = "en"
    ES = "es"
