"""The benches of time and load, with tiny sizes: every figure is consistent with the others; none is judged by time."""

from __future__ import annotations

import json
import re
import sqlite3
import time
from contextlib import closing
from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from typer.testing import CliRunner

from bot.bench import crowd
from bot.bench.bare_cost import PRAGMAS, bare_record
from bot.bench.figure import BareCost, Figure, FigureSheet, percentile
from bot.bench.long_talk import TALK, LongTalk, evening, turns_with
from bot.bench.machine import Machine
from bot.bench.reminders import let_wait
from bot.bench.stopwatch import Stopwatch
from bot.bench.turns import PARTS, REST, timed_turns
from bot.cli import app
from engine.assistant import Assistant
from engine.database import open_database
from engine.errors import DatabaseError
from engine.history.copies.audit import audit
from engine.history.store.snapshot import EVERY
from engine.queues.inbox import Inbox
from engine.reminders.schedule import Schedule

TINY = {
    "turns": ["--facts", "50", "--turns", "9", "--opening", str(EVERY)],
    "reminders": ["--waiting", "30", "--turns", "4", "--due", "5", "--span", "0.2"],
    "crowd": ["--chats", "3", "--each", "2"],
}
LONG = pytest.mark.campaign
MACHINE = Machine("a processor", 2, "3.11", "3.40", "ext4", 0.5)


@cache
def measured(bench: str) -> dict[str, dict[str, Any]]:
    done = CliRunner().invoke(app, ["bench", bench, *TINY[bench], "--json"])
    assert done.exit_code == 0, done.output
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    assert len({line["name"] for line in lines}) == len(lines)
    return {line["name"]: line for line in lines}


@pytest.mark.parametrize("bench", ["reminders", *(pytest.param(one, marks=LONG) for one in ("turns", "crowd"))])
def test_each_figure_stands_with_machine_method_and_bare_cost(bench: str, tmp_path: Path) -> None:
    found = measured(bench)
    for line in found.values():
        assert line["bench"] == bench
        assert line["machine"] | {"load": 0} == vars(Machine.holding(tmp_path)) | {"load": 0}
        assert line["method"] and line["unit"] in ("ms", "s", "/s", "%")
        assert line["ratio"] == (line["value"] / line["bare"]["value"] if line["bare"] else None)
        assert line["bare"] or line["unit"] in ("%", "s")
    for name in found:
        for low, high in (("p50", "p95"), ("p50", "p99"), ("p99", "p100")):
            if name.endswith(low) and (other := name.removesuffix(low) + high) in found:
                assert found[name]["value"] <= found[other]["value"]


@pytest.mark.campaign
def test_a_turn_is_its_parts_and_our_own_time_is_what_the_commit_leaves(tmp_path: Path) -> None:
    held, timed = timed_turns(tmp_path, facts=50, said=9)
    assert held > 50
    assert len(timed) == 9
    for one in timed:
        assert set(one.parts) == {*PARTS, REST}
        assert sum(one.parts.values()) == pytest.approx(one.whole)
        assert all(spent > 0 for spent in one.parts.values())
    found = measured("turns")
    whole, own, bare = (found[f"{name}, p50"]["value"] for name in ("a turn", "our own time", "a bare commit"))
    assert own == pytest.approx(whole - found["a turn, p50"]["bare"]["value"])
    assert bare == found["a turn, p50"]["bare"]["value"]
    assert {"opened, no snapshot", "opened, snapshot just written"} <= found.keys()


def test_no_conversation_is_opened_that_is_too_short_for_a_snapshot() -> None:
    done = CliRunner().invoke(app, ["bench", "turns", "--opening", str(EVERY - 1)])
    assert done.exit_code == 2


def test_all_that_fell_due_left_and_what_waits_still_does(tmp_path: Path) -> None:
    database = open_database(tmp_path / "record.db")
    let_wait(database, 30)
    assert [len(Schedule(database).waiting(f"waits{number}")) for number in (0, 29, 30)] == [1, 1, 0]
    database.close()
    late = measured("reminders")["late, p100"]
    assert late["value"] > 0
    assert "5 reminders" in late["method"]


@pytest.mark.campaign
def test_a_crowd_is_answered_whole_by_one_program_and_by_two() -> None:
    found = measured("crowd")
    rates = [name for name in found if name.startswith("updates")]
    assert rates == ["updates, 1 program, shared", "updates, 1 program, own", "updates, 2 programs, shared"]
    assert all(found[name]["bare"]["value"] == found[f"bare {_programs(name)}"]["value"] for name in rates)


def _programs(name: str) -> str:
    return f"commits, {name.split(', ')[1]}"


def test_a_line_that_was_not_answered_is_no_figure(tmp_path: Path) -> None:
    share = crowd.Share(tmp_path / "record.db", 0, 2, 2, crowd.Commits.OWN)
    desk = crowd.CrowdDesk(share)
    line = desk.line("chat0", 1)
    Inbox(open_database(share.place)).put([line])
    desk.hear(line, "set up")
    crowd.check(share.place, 1)
    Inbox(open_database(share.place)).put([desk.line("chat0", 2)])
    desk.close()
    with pytest.raises(DatabaseError, match="1 are open"):
        crowd.check(share.place, 1)
    with pytest.raises(DatabaseError, match="of 2 lines 1 were kept"):
        crowd.check(share.place, 2)


def test_a_long_talk_is_one_evening_again_and_its_record_holds(tmp_path: Path) -> None:
    assert not [fact for turn in evening() for fact in turn.facts if fact["kind"] in ("misheard", "wondered")]
    assert {"shift_started", "rate_found", "finished"} <= {fact["kind"] for turn in evening() for fact in turn.facts}
    assert turns_with(1) == len(evening())
    database = open_database(tmp_path / "record.db")
    LongTalk(database).fill(2 * len(evening()))
    state = Assistant(database).state(TALK)
    assert {one.field for one in state.book.applied} == {"field 0", "field 1"}
    found = audit(database)
    assert (found.conversations, found.turns, found.difference) == (1, 2 * len(evening()), None)
    database.close()


def test_a_bare_record_is_set_up_as_the_real_one_is(tmp_path: Path) -> None:
    record = open_database(tmp_path / "record.db")
    with record.read() as connection:
        real = {name: connection.exec_driver_sql(f"PRAGMA {name}").scalar() for name in PRAGMAS}
    record.close()
    with bare_record(tmp_path) as bare:
        assert bare.commit() > 0
        found = {name: bare.setting(name) for name in PRAGMAS}
    assert found == real == PRAGMAS
    with closing(sqlite3.connect(tmp_path / "bare.db")) as connection:
        assert connection.execute("SELECT count(*) FROM bare").fetchone() == (1,)


def test_what_is_called_inside_another_part_is_counted_there_alone() -> None:
    def outer() -> None:
        time.sleep(0.01)
        place.inner()

    place = SimpleNamespace(outer=outer, inner=lambda: time.sleep(0.03))
    begun = time.perf_counter()
    with Stopwatch({"one": ((place, "outer"),), "other": ((place, "inner"),), "none": ()}) as watch:
        place.outer()
    whole = time.perf_counter() - begun
    assert watch.seconds["one"] >= 0.01 and watch.seconds["other"] >= 0.03 and watch.seconds["none"] == 0
    assert sum(watch.seconds.values()) <= whole
    assert place.outer is outer


def test_percentiles_are_values_that_were_measured() -> None:
    values = [float(number) for number in range(100, 0, -1)]
    assert [percentile(values, percent) for percent in (1, 50, 95, 100)] == [1, 50, 95, 100]
    assert percentile([7.0], 50) == percentile([7.0], 99) == 7
    assert percentile([1.0, 2.0], 51) == 2


def test_people_see_a_table_with_how_each_figure_was_measured(capsys: pytest.CaptureFixture[str]) -> None:
    figures = (
        Figure("a turn", 1234.5, "ms", "said", BareCost("commit", 2.0)),
        Figure("other", 0.04, "%", "compared"),
        Figure("a third", 3.0, "ms", "said", BareCost("commit", 2.0)),
    )
    FigureSheet("turns", MACHINE, figures).print(as_json=False)
    printed = capsys.readouterr().out
    assert printed.startswith("turns: a processor, cores 2, load 0.5, Python 3.11, SQLite 3.40 on ext4\n")
    assert re.findall(r"^(\d): (\w+)$", printed, re.MULTILINE) == [("1", "said"), ("2", "compared")]
    cells = [[cell.strip() for cell in line.split("│")[1:-1]] for line in printed.splitlines() if "│" in line]
    assert cells == [
        ["a turn", "1234 ms", "commit 2", "617", "1"],
        ["other", "0.04 %", "", "", "2"],
        ["a third", "3 ms", "commit 2", "1.5", "1"],
    ]
