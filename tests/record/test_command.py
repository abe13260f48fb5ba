"""``rowhand record``: in words, as CSV and as JSON, without a chat."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from sqlalchemy import update
from typer.testing import CliRunner

from bot.cli import app
from bot.record.record_part import RecordPart
from engine.database import open_database
from engine.errors import InputError
from engine.history.export import decimal
from engine.history.store.tables import conversation
from tests.helpers.planting import plant

SAID = [(30, "I feel sick"), (40, "row three stopped"), (60, "five acres done"), (61, "all thirty seven pounds left")]


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A record with a shift on a planter that has a name."""
    place = tmp_path_factory.mktemp("record") / "record.db"
    database = open_database(place)
    plant(database, SAID, conversation="telegram:7")
    with database.begin() as connection:
        connection.execute(update(conversation).values(planter="Big one"))
    return place


def shown(place: Path, *words: str) -> str:
    done = CliRunner().invoke(app, ["record", *words, "--db", str(place)], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.output


@pytest.mark.parametrize(
    ("what", "words"),
    [
        (RecordPart.CALIBRATIONS, "Test run 1"),
        (RecordPart.ROWS, "Row 8:\n  2026-04-21 · Product A · 5 lb/acre · 5 mph: 12 gave 39.0 g (-0.1 %)"),
        (RecordPart.SHIFTS, "still open"),
        (RecordPart.SCOUTING, "Row 3, stopped"),
        (RecordPart.RATES, "24 lb used"),
        (RecordPart.APPLICATIONS, "EPA registration number"),
        (RecordPart.EMERGENCIES, "emergency, “I feel sick”"),
    ],
)
def test_each_part_in_words_and_as_the_same_lines_in_csv_and_json(place: Path, what: RecordPart, words: str) -> None:
    assert words in shown(place, what)
    table = list(csv.DictReader(io.StringIO(shown(place, what, "--csv"))))
    lines = [json.loads(line) for line in shown(place, what, "--json").splitlines()]
    assert len(table) == len(lines) > 0
    for cells, line in zip(table, lines, strict=True):
        written = {name: decimal(one) if isinstance(one, float) else str(one) for name, one in line.items()}
        assert written == {name: cells[name] for name in line}
    assert "telegram" not in str(lines)
    assert {next(iter(line)) for line in lines} == {"planter"}
    assert {line["planter"] for line in lines} == {"Big one"}


def test_words_in_the_other_language_and_shifts_where_nothing_is_named(place: Path) -> None:
    assert "sin terminar" in shown(place, "--language", "es")
    assert shown(place) == shown(place, "shifts")


def test_a_record_with_nothing_in_it_says_so(tmp_path: Path) -> None:
    empty = tmp_path / "empty.db"
    open_database(empty)
    assert {shown(empty, what).count("\n") for what in RecordPart} == {1}
    assert {shown(empty, what, "--csv") + shown(empty, what, "--json") for what in RecordPart} == {""}


def test_what_cannot_be_used_is_refused_and_nothing_is_made(tmp_path: Path) -> None:
    missing = tmp_path / "missing.db"
    for words in (["--csv", "--json"], []):
        with pytest.raises(InputError):
            CliRunner().invoke(app, ["record", *words, "--db", str(missing)], catch_exceptions=False)
    assert not missing.exists()


def test_the_years_of_one_row_are_told_and_drawn(place: Path, tmp_path: Path) -> None:
    alone = shown(place, "rows", "--row", "3")
    assert alone.startswith("Row 3:") and "Row 4" not in alone
    assert "no test run" in shown(place, "rows", "--row", "30").lower()
    picture, pages = tmp_path / "row.png", tmp_path / "row.PDF"
    assert shown(place, "rows", "--row", "3", "--picture", str(picture)).strip() == str(picture)
    shown(place, "rows", "--picture", str(pages))
    assert picture.read_bytes().startswith(b"\x89PNG") and pages.read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("rows", "--picture", "row.gif"), "ends in .png or .pdf"),
        (("rows", "--row", "30", "--picture", "row.png"), "no finished test run"),
        (("rows", "--picture", "row.png", "--csv"), "exclude"),
        (("rows", "--json", "--row", "3"), "not as a table"),
    ],
)
def test_a_picture_that_cannot_be_made_is_refused(place: Path, words: tuple[str, ...], says: str) -> None:
    with pytest.raises(InputError, match=says):
        CliRunner().invoke(app, ["record", *words, "--db", str(place)], catch_exceptions=False)


def test_application_records_on_paper(place: Path, tmp_path: Path) -> None:
    paper = tmp_path / "records.pdf"
    assert "Records written to" in shown(place, RecordPart.APPLICATIONS, "--pdf", str(paper))
    assert paper.read_bytes().startswith(b"%PDF")
    wrong = CliRunner().invoke(app, ["record", "applications", "--pdf", str(paper), "--csv", "--db", str(place)])
    assert wrong.exit_code != 0 and isinstance(wrong.exception, InputError | SystemExit)
    nowhere = str(tmp_path / "no" / "x.pdf")
    assert CliRunner().invoke(app, ["record", "applications", "--pdf", nowhere, "--db", str(place)]).exit_code != 0
