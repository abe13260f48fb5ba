"""What is read once is read before a record waits for it."""

from __future__ import annotations

import pytest
from sqlalchemy import Connection, event

from engine.assistant import Assistant
from engine.data.languages import LANGUAGES
from engine.database import Database
from engine.entries.phrases import vocabulary
from engine.messages import Language


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_language_is_prepared_without_a_look_at_the_record(database: Database, language: Language) -> None:
    assistant, begun = Assistant(database), list[Connection]()
    event.listen(database.engine, "begin", begun.append)
    vocabulary.load_vocabulary.cache_clear()
    assistant.prepare(language)
    assert (begun, vocabulary.load_vocabulary.cache_info().currsize) == ([], 1)
    assert assistant.is_new("cab")
