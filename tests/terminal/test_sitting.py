"""``rowhand talk`` at a real terminal, narrow and wide: editing, Tab, wrapping, coming back, ending."""

from __future__ import annotations

import os
import re
import stat
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

if os.name == "nt":
    pytest.skip("a terminal of this kind is not there", allow_module_level=True)

from bot.settings import CONVERSATION
from engine.database import open_database
from engine.queues.outbox import Outbox
from tests.helpers.bell import look
from tests.helpers.process import python, run_lines
from tests.helpers.reminding import apply
from tests.helpers.terminal import TypedAt

WIDTHS = (40, *(pytest.param(width, marks=pytest.mark.campaign) for width in (60, 100)))
ENTER, TAB, UP, LEFT, CTRL_C, CTRL_D = "\r", "\t", "\x1b[A", "\x1b[D", "\x03", "\x04"
LABEL = "Label first: gloves and eyewear as it says. The licensed applicator decides. How many rows? you"
KEPT = "All that was said is kept."


def told(record: Path, *lines: str) -> None:
    """Lines said in a pipe, before somebody sits down at the terminal."""
    assert run_lines(python("-m", "bot.cli", "talk", "--db", str(record)), lines).returncode == 0


def heard(record: Path) -> list[str]:
    database = open_database(record)
    try:
        from engine.history.store.journal import Journal

        return [turn.heard for turn in Journal(database).turns(CONVERSATION)]
    finally:
        database.close()


@pytest.mark.parametrize("width", WIDTHS)
def test_a_stranger_is_told_what_to_say_and_words_stay_whole(tmp_path: Path, width: int) -> None:
    with TypedAt(tmp_path / "a.db", width) as terminal:
        shown = terminal.until("to begin. you")
        assert " ".join(shown.split()).startswith(
            "Rowhand here: I calibrate your planter's granular applicators with you and keep the record. "
            "Say “ready check” to begin."
        )
        terminal.type("set up" + ENTER)
        shown += terminal.until(LABEL)
        assert max(len(line.rstrip()) for line in shown.replace("\r", "\n").split("\n")) <= width
        terminal.type(CTRL_D)
        assert KEPT in terminal.rest()
    assert terminal.process.exitcode == 0


def test_a_line_is_edited_with_arrows_and_said_again_with_the_one_up(tmp_path: Path) -> None:
    record = tmp_path / "a.db"
    with TypedAt(record, 60) as terminal:
        terminal.until("to begin. you")
        terminal.type("set p" + LEFT + "u" + ENTER)
        terminal.until(LABEL)
        terminal.type("seven" + ENTER)
        terminal.until("How far apart are the rows? you")
        terminal.type("undo" + ENTER)
        terminal.until("How many rows? you")
        terminal.type(UP + UP + ENTER)
        terminal.until("How far apart are the rows? you")
        terminal.type("exit" + ENTER)
        assert KEPT in terminal.rest()
    assert heard(record) == ["set up", "seven", "undo", "seven"]
    with TypedAt(record, 60) as terminal:
        terminal.until("How far apart are the rows? you")
        terminal.type(UP + ENTER)
        terminal.until("Row spacing")
    assert heard(record)[-1] == "seven"


def test_what_was_typed_is_kept_for_its_owner_alone_and_nothing_but_what_was_said(tmp_path: Path) -> None:
    record = tmp_path / "a.db"
    with TypedAt(record, 60) as terminal:
        terminal.until("to begin. you")
        terminal.type("set up" + ENTER)
        terminal.until(LABEL)
        terminal.type("eight" + ENTER)
        terminal.until("How far apart are the rows? you")
        terminal.type("quit" + ENTER)
        terminal.rest()
    file = tmp_path / "a.db.said"
    assert file.read_text() == "set up\neight\n"
    assert stat.S_IMODE(file.stat().st_mode) == 0o600


@pytest.mark.parametrize("width", WIDTHS)
def test_tab_shows_closed_answers_commands_and_openings_and_completes_one(tmp_path: Path, width: int) -> None:
    record = tmp_path / "a.db"
    told(record, "set up", "eight", "thirty inches", "zero to thirty by one")
    with TypedAt(record, width) as terminal:
        terminal.until("Yes No you")
        terminal.type(TAB)
        shown = terminal.until("test run", "you")
        for word in ("yes", "no", "scratch that", "status", "ready check"):
            assert word in shown
        assert "all good" not in shown
        terminal.type("stat" + TAB + ENTER)
        terminal.until("answers so far: 3.")
    assert heard(record)[-1] == "status"


@pytest.mark.parametrize("width", WIDTHS)
def test_closed_answers_are_shown_once(tmp_path: Path, width: int) -> None:
    record = tmp_path / "a.db"
    told(record, "set up", "eight", "thirty inches")
    with TypedAt(record, width) as terminal:
        terminal.until("How is the meter dial marked?")
        terminal.type("zero to thirty by one" + ENTER)
        shown = terminal.until("Yes No")
        assert shown.count("Yes") == 1
        terminal.type("no" + ENTER)
        shown = terminal.until("Or skip.", "you")
        assert " ".join(shown.split()).count("agitator over a gate") == 1


def test_coming_back_says_what_is_open_and_since_when(tmp_path: Path) -> None:
    record = tmp_path / "a.db"
    told(record, "set up", "eight")
    with TypedAt(record, 40, ROWHAND_TIME_ZONE="America/Chicago") as terminal:
        shown = terminal.until("How far apart are the rows? you")
        assert shown.startswith("Open: set up, since ")
        assert shown.splitlines()[0].rstrip().endswith(("AM.", "PM."))


def test_where_a_name_is_asked_a_word_for_leaving_is_asked_about(tmp_path: Path) -> None:
    record = tmp_path / "a.db"
    told(record, "set up", "eight", "thirty inches", "zero to thirty by one", "no", "skip")
    with TypedAt(record, 60) as terminal:
        terminal.until("product? Give its name, or say skip. you")
        terminal.type("exit" + ENTER)
        terminal.until("no takes “exit” as the name. you")
        terminal.type("no" + ENTER)
        terminal.until("Product: exit.", "you")
        terminal.type(CTRL_D)
        terminal.rest()
    assert heard(record)[-1] == "“exit”"
    told(record, "undo")
    with TypedAt(record, 60) as terminal:
        terminal.until("product? Give its name, or say skip. you")
        terminal.type("exit" + ENTER)
        terminal.until("as the name. you")
        terminal.type("yes" + ENTER)
        assert KEPT in terminal.rest()
    assert terminal.process.exitcode == 0
    assert heard(record)[-1] == "undo"


def test_ctrl_c_ends_with_one_line_of_its_own(tmp_path: Path) -> None:
    with TypedAt(tmp_path / "a.db", 60) as terminal:
        terminal.until("to begin. you")
        terminal.type("set u" + CTRL_C)
        shown = terminal.rest()
    assert terminal.process.exitcode == 130
    assert shown.replace("\r", "").rstrip().split("\n")[-1].rstrip() == f"Stopped. {KEPT}"
    assert "Traceback" not in shown


@pytest.mark.campaign
def test_in_spanish(tmp_path: Path) -> None:
    record = tmp_path / "a.db"
    with TypedAt(record, 40, ("--language", "es"), ROWHAND_LANGUAGE="es") as terminal:
        terminal.until("para empezar. usted")
        terminal.type("preparar" + ENTER)
        terminal.until("¿Cuántos surcos? usted")
        terminal.type("salir" + ENTER)
        assert "Todo lo dicho queda guardado." in " ".join(terminal.rest().split())
    assert terminal.process.exitcode == 0
    with TypedAt(record, 40, ROWHAND_LANGUAGE="es") as terminal:
        assert terminal.until("¿Cuántos surcos? usted").startswith("Abierto: preparar, desde ")


def test_no_colour_where_none_is_wanted(tmp_path: Path) -> None:
    with TypedAt(tmp_path / "a.db", 60, NO_COLOR="1") as terminal:
        terminal.until("to begin. you")
        assert not re.search(r"\x1b\[[0-9;]*[349][0-7]m", terminal.raw)
    with TypedAt(tmp_path / "b.db", 60) as terminal:
        terminal.until("to begin. you")
        assert re.search(r"\x1b\[[0-9;]*[349][0-7]m", terminal.raw)


def test_a_reminder_rings_above_the_line_that_is_typed(tmp_path: Path) -> None:
    record = tmp_path / "a.db"
    with TypedAt(record, 60) as terminal:
        terminal.until("to begin. you")
        terminal.type("set")
        now = datetime.now(UTC)
        database = open_database(record)
        apply(database, look(now + timedelta(seconds=0.3)), conversation=CONVERSATION, at=now)
        shown = terminal.until("Look at the hoppers: due", "All good Ten more minutes you set")
        assert "\a" in shown
        terminal.type(" up" + ENTER)
        terminal.until("How many rows? you")
        terminal.type(CTRL_D)
        terminal.rest()
    assert Outbox(database).pending(CONVERSATION) == ()
    database.close()


def test_lines_that_are_pasted_are_said_one_by_one(tmp_path: Path) -> None:
    record = tmp_path / "a.db"
    with TypedAt(record, 60) as terminal:
        terminal.until("to begin. you")
        terminal.type("\x1b[200~set up\neight\x1b[201~" + ENTER)
        terminal.until("How far apart are the rows? you")
    assert heard(record) == ["set up", "eight"]
