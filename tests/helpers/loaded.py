"""Loads what every process of the tests would load anew."""

from __future__ import annotations

from bot.bell.texts import load_texts as bell_texts
from bot.telegram.texts import load_texts as chat_texts
from engine.entries.vocabulary import load_vocabulary
from engine.messages import LANGUAGES
from tests.helpers.talking import house, library

library(), house(), bell_texts(), chat_texts()
for language in LANGUAGES:
    load_vocabulary(language)
