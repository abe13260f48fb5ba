"""Which recogniser hears a language, and where its model is."""

from __future__ import annotations

import logging
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import Literal, assert_never

from platformdirs import user_data_path

from speech import pocketsphinx, vosk
from speech.errors import ModelBroken, ModelMissing
from speech.moonshine import model as general
from speech.moonshine.spelling import is_number
from speech.panel import ensemble
from speech.panel.arbiter import Arbiter, load_limits
from speech.recognizer import Recognizer
from speech.shelf.model_store import Shelf

Preference = Literal["auto", "panel", "vosk", "pocketsphinx"]
PREFERENCES: tuple[Preference, ...] = ("auto", "panel", "vosk", "pocketsphinx")

_LOG = logging.getLogger(__name__)
SHIPPED = Path(__file__).parent / "models"


def installed(models: Path | None = None) -> Path:
    """The folder with one Vosk model for each language that a person installed."""
    return models or user_data_path("rowhand") / "models"


def model(language: str, models: Path | None = None) -> Path | None:
    """The Vosk model for a language: the installed one, else the one that came with the program; None without any."""
    return next(_models(language, models), None)


def choose(language: str, preference: Preference = "auto", models: Path | None = None) -> Recognizer:
    """The recogniser for a language, loaded once and kept.

    ``auto`` is the model that a person installed, else the panel of the two that came with the program, else
    PocketSphinx. ``models`` replaces the folder of installed models. Raises ModelMissing when there is none,
    ModelBroken when it cannot be loaded.
    """
    match preference:
        case "panel":
            return _panel(language, models)
        case "vosk":
            return _vosk(language, models)
        case "pocketsphinx":
            return _pocketsphinx(language)
        case "auto" if model(language, models) == SHIPPED / language and has_second(language):
            return _panel(language, models)
        case "auto" if model(language, models):
            return _vosk(language, models)
        case "auto" if language == pocketsphinx.LANGUAGE:
            return _pocketsphinx(language)
        case "auto":
            raise ModelMissing(language, "auto", _advice(language, models))
        case other:
            assert_never(other)


def shelf(models: Path | None = None, numbers: Mapping[str, Sequence[str]] | None = None) -> Shelf:
    """The models that are there, and which one a person chose; with ``numbers`` by language new ones can be added."""
    return Shelf(installed(models), SHIPPED, numbers or {})


def _models(language: str, models: Path | None) -> Iterator[Path]:
    return shelf(models).models(language)


def _advice(language: str, models: Path | None) -> str:
    return f"rowhand models install SOURCE --language {language} puts a Vosk model into {installed(models)}; or type"


def _vosk(language: str, models: Path | None) -> Recognizer:
    folder = model(language, models)
    if folder is None:
        raise ModelMissing(language, vosk.NAME, _advice(language, models))
    return _loaded_vosk(folder.resolve(), language)


def has_second(language: str) -> bool:
    """Whether two models of a language came with the program."""
    return vosk.is_model(SHIPPED / f"{language}-second")


def third(language: str, models: Path | None = None) -> Path | None:
    """The model of the third opinion for a language; None where it or its program (extra ``ears``) is missing."""
    if language != general.LANGUAGE or find_spec(general.ENGINE) is None:
        return None
    return general.found(shelf(models))


def _panel(language: str, models: Path | None) -> Recognizer:
    if not has_second(language):
        raise ModelMissing(language, ensemble.NAME, "no second model came for this language; install a Vosk model")
    return _loaded_panel(language, third(language, models))


def _pocketsphinx(language: str) -> Recognizer:
    if language != pocketsphinx.LANGUAGE:
        raise ModelMissing(language, pocketsphinx.NAME, "PocketSphinx brings English only; install a Vosk model")
    return _loaded_pocketsphinx()


@lru_cache(maxsize=2)
def _loaded_panel(language: str, opinion: Path | None) -> Recognizer:
    first, second = (vosk.VoskRecognizer(SHIPPED / name, language) for name in (language, f"{language}-second"))
    return ensemble.Panel(first, second, arbiter=_arbiter(opinion))


def _arbiter(folder: Path | None) -> Arbiter | None:
    """The third opinion; none where its model cannot be loaded, for the panel can do without."""
    if folder is None:
        return None
    from speech.moonshine.scorer import Moonshine

    try:
        return Arbiter(Moonshine(folder, load_limits().batch), is_number)
    except ModelBroken as error:
        _LOG.warning("%s", error)
        return None


@lru_cache(maxsize=2)
def _loaded_vosk(folder: Path, language: str) -> Recognizer:
    return vosk.VoskRecognizer(folder, language)


@lru_cache(maxsize=1)
def _loaded_pocketsphinx() -> Recognizer:
    return pocketsphinx.PocketSphinxRecognizer()
