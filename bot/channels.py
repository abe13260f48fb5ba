"""The definition files of the channels, each under its own schema."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from pydantic import BaseModel

from bot.bell.texts import Texts as BellTexts
from bot.handsfree.texts import Texts as HandsfreeTexts
from bot.record.texts import Texts as RecordTexts
from bot.telegram.texts import Texts as ChatTexts
from engine.definitions import read_definition
from engine.errors import DefinitionError

MODELS: dict[str, type[BaseModel]] = {
    "bell.yaml": BellTexts,
    "chat.yaml": ChatTexts,
    "handsfree.yaml": HandsfreeTexts,
    "record.yaml": RecordTexts,
}


def problems(directory: Path) -> Iterator[DefinitionError]:
    """What is wrong with the channel files of a dialogs folder, none where it has no folder for them."""
    if not (directory / "channels").is_dir():
        return
    for name, model in MODELS.items():
        try:
            read_definition(directory / "channels" / name).into(model)
        except DefinitionError as error:
            yield error
