"""Help is short enough to be listened to: ten seconds at most, counted in words."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
import yaml

from engine.dialog.reply.speech_text import aloud
from engine.messages import LANGUAGES, Language

DIALOGS = Path(__file__).parents[2] / "dialogs"
MOST_WORDS = 26
"""The longest help measured, 26 words, takes 9.7 s with espeak-ng 1.51 at its usual pace (on average 2.4 words a second
in English, 2.2 in Spanish, en-us and es-419)."""


def _texts(tree: object, *keys: str) -> Iterator[str]:
    if isinstance(tree, dict):
        for key, below in tree.items():
            if key in keys and isinstance(below, str):
                yield below
            yield from _texts(below, *keys)


def _all(language: Language, *keys: str) -> list[str]:
    files = sorted((DIALOGS / language).glob("*.yaml"))
    trees = [yaml.safe_load(path.read_text()) for path in files if path.stem != "vocabulary"]
    return [text for tree in trees for text in _texts(tree, *keys)]


@pytest.mark.parametrize("language", LANGUAGES)
def test_help_at_any_question_is_short(language: Language) -> None:
    (text,) = _all(language, "help")
    hints = _all(language, "hint", "shift_hint")
    assert len(hints) > 20
    for hint in hints:
        filled = hint.replace("{label_low}", "4 lb/acre").replace("{label_high}", "8 lb/acre")
        said = aloud(text.replace("{hint}", filled), language)
        assert len(said.split()) <= MOST_WORDS, said
