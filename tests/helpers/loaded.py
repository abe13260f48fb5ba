"""Loads what every process of the tests would load anew."""

from __future__ import annotations

from bot.bell.texts import BellTexts
from bot.telegram.texts import ChatTexts
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.messages import LANGUAGES
from tests.helpers.talking import house, library

library(), house(), BellTexts.load(), ChatTexts.load()
for language in LANGUAGES:
    load_vocabulary(language)
