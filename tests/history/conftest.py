from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from engine.database import Database, open_database
from engine.history.journal import Journal
from tests.helpers.record import where


@pytest.fixture
def database(tmp_path: Path) -> Iterator[Database]:
    opened = open_database(where(tmp_path / "record.db"))
    yield opened
    opened.close()


@pytest.fixture
def journal(database: Database) -> Journal:
    return Journal(database)
