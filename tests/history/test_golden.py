"""Records of earlier releases are opened, told as they were then, spoken to and exported."""

from __future__ import annotations

import json
import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest
from typer.testing import CliRunner

from bot.cli import app
from bot.record.record_part import RecordPart
from engine.assistant import Assistant
from engine.database import Database, open_database
from engine.dialog.facts.events import Kept
from engine.facts import FIRST, FORMAT
from engine.history.store.journal import Journal, NewTurn, StoredTurn
from engine.history.store.turn_facts import facts_of
from engine.messages import Utterance
from tests.golden.night import CONVERSATION, FOLDER
from tests.golden.write import lines, write

GOLDEN = sorted(FOLDER.glob("format-*"))
TOLD_EVER = tuple(what for what in RecordPart if what not in (RecordPart.STOCK, RecordPart.EMERGENCIES))
"""What records of every format hold something of; the stock was told of later."""
NEW_COLUMNS = frozenset(
    {
        *("total_applied", "total_applied_unit", "location", "area", "area_unit", "missing", "field", "area_is"),
        *("total_is", "started_at", "ended_at", "lot", "rate", "rate_unit", "restricted_use", "formulation"),
        *("reentry_until", "calibrated_at", "calibration_run", "rows_on_target", "rows_calibrated", "target"),
        *("target_unit", "rate_of_test", "rate_of_test_unit", "label_low", "label_low_unit", "label_high"),
        *("label_high_unit", "put_away", "put_back", "put_back_unit", "booked", "booked_unit", "own_container"),
        *("locked", "keep_until"),
    }
)
"""Of application records: a field's name was told as its location, number and unit stood in one cell, and what is good
practice was not told."""
TOLD_OTHERWISE: dict[tuple[str, RecordPart], frozenset[str]] = {
    ("format-1", RecordPart.SHIFTS): frozenset({"known_area", "used", "true_rate", "looks"}),
    ("format-1", RecordPart.APPLICATIONS): NEW_COLUMNS,
    ("format-2", RecordPart.SHIFTS): frozenset({"looks"}),
    ("format-2", RecordPart.APPLICATIONS): NEW_COLUMNS,
}
"""Columns that a golden record tells otherwise today on purpose, by its folder and table. The first release took what
lay in the hoppers before a refill as it had reckoned it: 221 lb over 12 acres. The books of that night know 320 lb
loaded, four bags of 50 lb on top and 240 lb left: 280 lb over 24 acres, and so the total amount applied.
What hoppers held counted as a look whenever it was told."""
CLOSE = 1e-3
"""What a number of four digits may differ by."""
NOW_IN = {
    "g/100 m": ("lb/acre", 4046.8564224 / 453.59237 / 76.2),
    "kg/ha": ("lb/acre", 0.40468564224 / 0.45359237),
    "m/s": ("mph", 3600 / 1609.344),
}
"""Units in which the first releases wrote what was computed, what they are in the grower's, and that many of them: the
rows of those nights are 30 in (76.2 cm) apart. A foot, a pound and an acre are those of 1959."""
AMOUNTS = {"total_applied", "area"}
"""Columns of the application record that once held number and unit together."""
RENAMED = {"conversation": "planter"}
LATER = datetime(2026, 4, 22, 12, tzinfo=UTC)


@pytest.fixture(params=GOLDEN, ids=lambda path: path.name)
def golden(request: pytest.FixtureRequest) -> Path:
    path: Path = request.param
    return path


@pytest.fixture
def record(golden: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(golden / "record.db", tmp_path / "record.db"))


def say(assistant: Assistant, *texts: str) -> str:
    reply = ""
    for text in texts:
        said_before = f"later:{text}:{len(reply)}"
        heard = Utterance(id=said_before, conversation=CONVERSATION, text=text, language="en", said_at=LATER)
        reply = assistant.hear(heard).reply.text
    return reply


def without(line: str, columns: frozenset[str]) -> dict[str, object]:
    """A line as it is compared, numbers but for the order of arithmetic."""
    cells = {RENAMED.get(name, name): cell for name, cell in json.loads(line).items()}
    cells = {name: cell for name, cell in cells.items() if name.removesuffix("_unit") not in columns}
    for name in AMOUNTS & {one for one in cells if isinstance(cells[one], str)}:
        number, _, unit = cells[name].partition(" ")
        cells |= {name: float(number) if number else "", f"{name}_unit": unit}
    for name in [one.removesuffix("_unit") for one in cells if cells[one] in NOW_IN or one == "booked_unit"]:
        unit, factor = NOW_IN.get(cells[f"{name}_unit"], ("lb", 1 / 453.59237))
        cells |= {name: cells[name] * factor, f"{name}_unit": unit}
    return {
        name: pytest.approx(cell, rel=CLOSE, abs=0.005 if name == "worked" else 0) if isinstance(cell, float) else cell
        for name, cell in cells.items()
    }


def test_there_is_a_golden_record_of_every_format() -> None:
    assert [path.name for path in GOLDEN] == [f"format-{number}" for number in range(FIRST, FORMAT + 1)]


@pytest.mark.parametrize("what", TOLD_EVER)
def test_a_golden_record_is_told_as_it_was(golden: Path, record: Path, what: RecordPart) -> None:
    changed = TOLD_OTHERWISE.get((golden.name, what), frozenset())
    found = [
        {name: cell for name, cell in json.loads(line).items() if name.removesuffix("_unit") not in changed}
        for line in lines(open_database(str(record)), what)
    ]
    kept = (golden / f"{what}.jsonl").read_text(encoding="utf-8").splitlines()
    assert found == [without(line, changed) for line in kept] != []


def test_a_golden_record_is_told_in_words_and_exported(record: Path) -> None:
    for what in TOLD_EVER:
        for how in ([], ["--csv"]):
            found = CliRunner().invoke(app, ["record", what.value, "--db", str(record), *how])
            assert found.exit_code == 0, found.output
            assert found.output.strip()
            assert " ? " not in found.output
    facts = [fact for turn in Journal(open_database(str(record))).turns(CONVERSATION) for fact in facts_of(turn)]
    assert any(isinstance(fact, Kept) and fact.row == 4 and fact.replaces is not None for fact in facts)


def test_a_golden_record_is_spoken_to(record: Path) -> None:
    assistant = Assistant(open_database(str(record)))
    assert "39.0 g" in say(assistant, "target")
    assert "Row 3 is set at" in say(assistant, "setting of row three")
    assert say(assistant, "set up", "eight").endswith("How far apart are the rows?")
    assert say(assistant, "cancel", "yes")
    assert "Run 1" in say(assistant, "test run", "all at fifteen")


def cut(record: Path, place: Path, last: int) -> Database:
    """A record that ends with a turn, its facts and scripts as they were written."""
    old, new = Journal(open_database(str(record))), open_database(str(place))
    turns = old.turns(CONVERSATION)
    begun = {str(fact["script"]): str(fact["dialog"]) for turn in turns for fact in turn.facts if "script" in fact}
    scripts = {digest: (name, str(old.script(digest))) for digest, name in begun.items()}
    for turn in turns[:last]:
        Journal(new).append(NewTurn(CONVERSATION, turn.seq, said_again(turn), turn.reply, turn.facts, scripts))
    return new


def said_again(turn: StoredTurn) -> Utterance:
    return Utterance(
        id=turn.utterance_id, conversation=CONVERSATION, text=turn.heard, language="en", said_at=turn.said_at
    )


@pytest.mark.parametrize("last", range(1, 58, 4))
def test_a_conversation_under_way_goes_on_under_its_old_script(record: Path, tmp_path: Path, last: int) -> None:
    database = cut(record, tmp_path / "cut.db", last)
    assistant = Assistant(database)
    before = assistant.state(CONVERSATION).dialog
    say(assistant, "status")
    after = assistant.state(CONVERSATION).dialog
    assert (before and before.script) == (after and after.script)
    assert Journal(database).last(CONVERSATION) == last + 1


def test_a_shift_under_way_goes_on_under_its_old_script(record: Path, tmp_path: Path) -> None:
    turns = Journal(open_database(str(record))).turns(CONVERSATION)
    last = next(turn.seq for turn in turns if turn.heard == "ten acres done")
    assistant = Assistant(cut(record, tmp_path / "cut.db", last))
    reply = say(assistant, "row three stopped")
    assert "Row 3" in (say(assistant, "no") if "Did the planter stand" in reply else reply)
    assert say(assistant, "end of shift", "all thirty three pounds left", "yes", "done")
    assert assistant.state(CONVERSATION).dialog is None


def test_the_writer_writes_what_can_be_told(tmp_path: Path) -> None:
    write(tmp_path / "new")
    database = open_database(str(tmp_path / "new" / "record.db"))
    facts = [fact for turn in Journal(database).turns(CONVERSATION) for fact in turn.facts]
    assert {fact["format"] for fact in facts} == {FORMAT}
    for what in RecordPart:
        kept = (tmp_path / "new" / f"{what}.jsonl").read_text(encoding="utf-8").splitlines()
        assert lines(database, what) == kept
        assert (kept == []) is (what is RecordPart.EMERGENCIES)
