"""The night of the golden records: what was said in it and when, in UTC."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

CONVERSATION, ZONE = "console", "America/Chicago"
FOLDER = Path(__file__).parent
SAID = FOLDER / "said.txt"
"""The night of the present format; each golden record has a copy of its own."""


def said(file: Path = SAID) -> list[tuple[datetime, tuple[str, ...]]]:
    """The utterances by the moment at which they were said."""
    parts = [line.split("|") for line in file.read_text(encoding="utf-8").splitlines()]
    return [(datetime.fromisoformat(at).replace(tzinfo=UTC), tuple(texts.split(";"))) for at, texts in parts]
