from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from engine.database import Database, open_database
from engine.history.copies.transfer import export_record
from engine.history.store.journal import Journal
from tests.helpers.record import where
from tests.helpers.turns import new_turn
from tests.helpers.whole_record import fill


@pytest.fixture
def database(tmp_path: Path) -> Iterator[Database]:
    opened = open_database(where(tmp_path / "record.db"))
    yield opened
    opened.close()


@pytest.fixture
def journal(database: Database) -> Journal:
    return Journal(database)


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Database]:
    opened = open_database(where(tmp_path_factory.mktemp("filled") / "record.db"))
    fill(opened)
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def packed(filled: Database, tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("packed") / "record.zip"
    export_record(filled, place)
    return place


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An archive of a short record, which is soon read."""
    folder = tmp_path_factory.mktemp("small")
    record = open_database(folder / "record.db")
    for number in (1, 2, 3):
        Journal(record).append(new_turn(number, sends=1))
    export_record(record, folder / "record.zip")
    record.close()
    return folder / "record.zip"
