"""The languages that Rowhand speaks."""

from __future__ import annotations

from typing import Literal

Language = Literal["en", "es"]
LANGUAGES: tuple[Language, ...] = ("en", "es")
