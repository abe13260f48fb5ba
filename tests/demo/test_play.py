"""The whole demo on the real ears: what is spoken is what is kept, and what is shown is what the record holds."""

from __future__ import annotations

import io
from collections.abc import Iterator
from inspect import signature
from pathlib import Path

import pytest
from rich.console import Console

from bot.settings import CONVERSATION
from demo.__main__ import EarsOption, demo
from demo.hoppers import STOPPED_ROW
from demo.pace import FAST
from demo.script_lines import DemoLine, DemoPart, load, shown
from demo.show import DemoShow, all_passed
from engine.database import open_database
from engine.dialog.facts.events import Kept, Misheard
from engine.facts import read_fact
from engine.history.records import Calibration
from engine.history.shifts import ShiftRecord, shifts
from engine.history.store.journal import Journal, StoredTurn
from engine.history.store.segments import Ending
from engine.reminders.local_time import zone_called
from engine.shift.record.shift_facts import Noted

ZONE = "America/Chicago"
LINES = load()


def runs(lines: tuple[DemoLine, ...]) -> Iterator[dict[str, str]]:
    """What the script says of each run: the last word on each catch."""
    found: dict[str, str] = {}
    for line in lines:
        if "course_time" in line.keeps and found:
            yield found
            found = {}
        found |= {place: value for place, value in line.keeps.items() if place.startswith("catch_mass")}
    yield found


MOST_QUESTIONS = 4
"""Times in the evening that the operator may be asked about what he said."""


def played(folder: Path, *, voice: bool, parts: frozenset[DemoPart] = frozenset(DemoPart)) -> tuple[Calibration, str]:
    """The calibration as the record holds it, and what was shown."""
    console = Console(file=io.StringIO(), width=80)
    record = DemoShow(console, folder, "en", EarsOption.PANEL.value, voice, FAST, ZONE, parts).play()
    return record, console.file.getvalue()


def turns(folder: Path) -> tuple[StoredTurn, ...]:
    return Journal(open_database(folder / "record.db")).turns(CONVERSATION)


@pytest.mark.campaign
def test_every_value_spoken_is_the_value_in_the_record(tmp_path: Path) -> None:
    record, shown_text = played(tmp_path, voice=True)
    kept = [{f"catch_mass {row}": shown(value) for row, value in run.rows["catch_mass"].items()} for run in record.runs]
    assert kept == list(runs(LINES))
    assert record.ending is Ending.FINISHED
    assert all_passed(record)
    assert "exactly the same state" in shown_text
    kept_turns = turns(tmp_path)
    typed = sum(line.typed for line in LINES)
    assert sum(not turn.spoken for turn in kept_turns) == typed
    told = [fact for turn in kept_turns for fact in map(read_fact, turn.facts)]
    assert not [fact for fact in told if isinstance(fact, Misheard)]
    assert 0 < len(kept_turns) - len(LINES) <= MOST_QUESTIONS
    facts = [fact for fact in told if isinstance(fact, Kept)]
    reports = {str(fact.report) for fact in told if isinstance(fact, Noted)}
    said = {place for line in LINES for place in line.keeps}
    names = {fact.slot if fact.row is None else f"{fact.slot} {fact.row}" for fact in facts} | reports
    assert names == {place for place in said if place.partition(" ")[0] not in reports} | reports
    assert shifts(kept_turns)[-1].ending is Ending.FINISHED


@pytest.fixture(scope="module")
def typed(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str, ShiftRecord]:
    """The night alone, typed: where it lies, what was shown of it, and its record."""
    folder = tmp_path_factory.mktemp("night")
    _, text = played(folder, voice=False, parts=frozenset({DemoPart.NIGHT, DemoPart.SUMMARY}))
    return folder, text, shifts(turns(folder))[-1]


def test_what_is_not_to_be_seen_is_played_without_a_word(typed: tuple[Path, str, ShiftRecord]) -> None:
    _, text, record = typed
    assert "without being shown: Calibration." in text
    assert "thirty inches" not in text
    assert record.fields == ("La Loma",)


def test_what_the_look_saved_is_what_the_record_holds(typed: tuple[Path, str, ShiftRecord]) -> None:
    _, text, record = typed
    (stretch,) = record.stretches
    assert stretch.found.rows == (STOPPED_ROW,)
    box = text[text.index("what the look saved") :]
    since, until = (
        f"{one.astimezone(zone_called(ZONE)):%-I:%M %p}" for one in (stretch.found.since, stretch.found.until)
    )
    assert f"{since} to {until}: {stretch.found.area.to('acre').value:.2f} acres" in box


def test_it_is_asked_for_at_the_hour_and_again_when_nobody_answers(typed: tuple[Path, str, ShiftRecord]) -> None:
    _, text, _ = typed
    night = text[text.index("Row 5 stops feeding") : text.index("what the look saved")]
    assert night.index("call 1") < night.index("call 2") < night.index("row five stopped")


def test_the_foreman_hears_of_the_row_at_once_and_of_the_shift_at_its_end(
    typed: tuple[Path, str, ShiftRecord],
) -> None:
    folder, text, _ = typed
    assert text.index("nothing comes out of row 5") < text.index("row five runs again")
    assert "Row 5, stopped" in text[text.index("Alex: shift over.") :]
    assert (folder / "shift.png").read_bytes().startswith(b"\x89PNG")
    assert (folder / "shift.pdf").read_bytes().startswith(b"%PDF")


def test_no_line_is_wider_than_a_plain_terminal(typed: tuple[Path, str, ShiftRecord]) -> None:
    folder, text, _ = typed
    assert [line for line in text.splitlines() if len(line) > 80 and str(folder) not in line] == []


def test_the_demo_hears_with_both_models_unless_told_otherwise() -> None:
    assert signature(demo).parameters["engine"].default is EarsOption.PANEL
