"""Whom to call in the United States, where nothing else is set: emergency, Poison Help, large spills."""

from __future__ import annotations

from collections.abc import Mapping

NUMBERS: Mapping[str, str] = {"emergency": "911", "poison": "1-800-222-1222", "spill": "1-800-424-9300"}
