"""Read by the server of forks before its first fork: the program, its dialogs and its words."""

from __future__ import annotations

import gc
import threading

from bot import cli, console, wiring  # noqa: F401
from engine.assistant import Assistant
from engine.database import open_database

database = open_database(":memory:")
assistant = Assistant(database)
for language in ("en", "es"):
    assistant.prepare(language)
database.close()
gc.freeze()
assert threading.active_count() == 1, "a fork of a process with threads has none of them"
