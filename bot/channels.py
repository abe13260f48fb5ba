"""The definition files of the channels, each under its own schema."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from bot.bell.texts import BellTexts
from bot.handsfree.texts import HandsfreeTexts
from bot.record.texts import RecordTexts
from bot.telegram.texts import ChatTexts
from engine.errors import DefinitionError
from engine.texts import Texts

CATALOGUES: tuple[type[Texts[Any]], ...] = (BellTexts, ChatTexts, HandsfreeTexts, RecordTexts)


def problems(directory: Path) -> Iterator[DefinitionError]:
    """What is wrong with the channel files of a dialogs folder, none where it has no folder for them."""
    if not (directory / "channels").is_dir():
        return
    for catalogue in CATALOGUES:
        try:
            catalogue.load(directory)
        except DefinitionError as error:
            yield error
