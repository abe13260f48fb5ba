"""A dialog file may call things as it likes: what the record tells stays the same."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from functools import cache
from itertools import count
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from bot.record.ledger import RecordListing
from bot.record.record_part import RecordPart
from bot.telegram.services.report import alarms, alarms_of_shift
from engine.assistant import Assistant
from engine.database import open_database
from engine.dialog.script_library import Library, load_library, problems
from engine.history.export import written as table
from engine.history.store.journal import Journal
from engine.messages import Utterance
from tests.golden.night import said
from tests.helpers.renaming import Content, contents, names, options_renamed, renamed, written

ASKED = (
    "target",
    "how much for ten acres",
    "last catch of row two",
    "setting of row two",
    "when do I run out",
    "status",
)
ZONE = ZoneInfo("America/Chicago")
SUFFIX = "_here"
SAID_SAFELY = {"own": "own container"}
"""The key of an option is understood as well, and may be called otherwise."""


def told(library: Library) -> dict[str, object]:
    """Everything that is told of a night, while it goes on and after it."""
    database = open_database(":memory:")
    assistant, numbers = Assistant(database, library=library), count(1)
    replies = []

    def say(text: str, at: datetime) -> None:
        heard = Utterance(id=str(next(numbers)), conversation="night", text=text, language="en", said_at=at)
        replies.append(assistant.hear(heard).reply.text)

    for at, texts in said():
        for text in (*texts, *ASKED):
            say(SAID_SAFELY.get(text, text), at)
    turns = Journal(database).turns("night")
    ledger = RecordListing(database, "en", ZONE)
    return {
        "replies": replies,
        **{f"{what} in words": ledger.words(what) for what in RecordPart},
        **{f"{what} as a table": table(ledger.lines(what)) for what in RecordPart},
        "alarms": [alarms(turns), *(alarms_of_shift(turns[:number]) for number in range(len(turns)))],
    }


@cache
def before() -> dict[str, object]:
    found = told(load_library())
    assert "Row 5" in json.dumps(found["scouting in words"])
    assert len(found["calibrations as a table"].splitlines()) == 17  # type: ignore[attr-defined]
    return found


def changed(new: dict[str, str]) -> list[Content]:
    return [renamed(content, new) for content in contents().values()]


def all_of(dialog: str) -> dict[str, str]:
    return {name: f"{name}{SUFFIX}" for name in names(contents()[dialog])}


SINGLES = ("gap", "dial_setting", "left_over", "net", "container")
EVERYTHING = {name: f"{name}{SUFFIX}" for content in contents().values() for name in names(content)}


@pytest.mark.parametrize(
    "dialog", [*(pytest.param(one, marks=pytest.mark.campaign) for one in contents()), "all of them"]
)
def test_the_record_tells_the_same_whatever_a_dialog_calls_its_values(dialog: str, tmp_path: Path) -> None:
    new = EVERYTHING if dialog == "all of them" else all_of(dialog)
    assert told(load_library(written(tmp_path / "dialogs", changed(new)))) == before()


def test_the_record_tells_the_same_whatever_a_dialog_calls_its_options(tmp_path: Path) -> None:
    others = [options_renamed(content, SUFFIX) for content in contents().values()]
    found = json.dumps(told(load_library(written(tmp_path / "dialogs", others))), default=str)
    assert found.replace(f"weigh{SUFFIX}", "weigh").replace(f"enough{SUFFIX}", "enough") == json.dumps(
        before(), default=str
    ), "but for the two cells that show which option was chosen"


def test_the_record_tells_the_same_whatever_the_dialogs_are_called(tmp_path: Path) -> None:
    others = [
        {key: f"{one}-here" if key in ("dialog", "after") else one for key, one in content.items()}
        for content in contents().values()
    ]
    found = told(load_library(written(tmp_path / "dialogs", others)))
    plain = json.dumps(found, default=str).replace("-here", "")
    assert plain == json.dumps(before(), default=str)


@pytest.mark.parametrize("name", SINGLES)
def test_a_name_that_its_role_does_not_follow_is_refused(name: str, tmp_path: Path) -> None:
    others = changed({name: f"{name}{SUFFIX}"})
    for content, old in zip(others, contents().values(), strict=True):
        content["records"] = old["records"]
    found = problems(written(tmp_path / "dialogs", others))
    assert found
    assert all("records." in problem.place and name in problem.wrong for problem in found)


@pytest.mark.parametrize("dialog", [name for name in contents() if name != "ready-check"])
def test_a_dialog_without_a_role_that_a_reader_needs_is_refused(dialog: str, tmp_path: Path) -> None:
    others = contents()
    del others[dialog]["records"]
    (first, *_) = problems(written(tmp_path / "dialogs", others.values()))
    assert "needs" in first.wrong and "records" in first.mend and "line" in first.place


def test_an_activity_that_nobody_knows_is_refused(tmp_path: Path) -> None:
    others = contents()
    (watch,) = (step for step in others["shift"]["steps"] if "watch" in step)
    watch["watch"] = "shfit"
    (found,) = problems(written(tmp_path / "dialogs", others.values()))
    assert (found.wrong, found.mend) == ("there is no activity shfit", "did you mean shift?")


def test_a_value_that_an_earlier_release_left_under_another_name_is_found_by_its_role(tmp_path: Path) -> None:
    database = open_database(":memory:")
    at = datetime(2026, 4, 21, 18, tzinfo=UTC)
    numbers = count(1)

    def say(library: Library, *texts: str) -> str:
        assistant = Assistant(database, library=library)
        for text in texts:
            heard = Utterance(id=str(next(numbers)), conversation="c", text=text, language="en", said_at=at)
            reply = assistant.hear(heard).reply.text
        return reply

    (_, set_up), (_, run) = said()[:2]
    say(load_library(), *set_up)
    later = load_library(written(tmp_path / "dialogs", changed(EVERYTHING)))
    assert "Run 1" in say(later, *run[:2])
    assert "39.0 g" in say(later, "target")
