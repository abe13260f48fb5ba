"""Loads what every process of the tests would load anew: the program, its dialogs and its words."""

from __future__ import annotations

import gc
import threading

from bot import cli, console, wiring  # noqa: F401
from bot.bell.texts import BellTexts
from bot.telegram import channel  # noqa: F401
from bot.telegram.texts import ChatTexts
from engine.assistant import Assistant
from engine.database import open_database
from engine.messages import LANGUAGES
from tests.helpers.talking import library

record = open_database(":memory:")
BellTexts.load(), ChatTexts.load()
for language in LANGUAGES:
    Assistant(record, library=library()).prepare(language)
record.close()
gc.freeze()
assert threading.active_count() == 1, "a fork of a process with threads has none of them"
