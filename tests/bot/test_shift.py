"""``rowhand shift simulate``."""

from __future__ import annotations

import json

import pytest
from typer.testing import CliRunner

from bot.bench.shift import app
from engine.errors import InputError

KEYS = ["acres_median", "acres_p95", "checks_per_night", "false_alarms_per_night"]

TOLL = [
    *("looks", "walks", "acres_median", "acres_p95", "row_acres_mean", "row_acres_p95"),
    *("promised", "kept", "looks_told", "false_alarms_per_night"),
]


def run(*options: str) -> str:
    found = CliRunner().invoke(app, ["simulate", *options])
    assert found.exit_code == 0, found.output
    return found.stdout


def test_many_nights_have_exactly_these_keys_and_come_back_by_seed() -> None:
    first = json.loads(run("--nights", "2", "--hours", "2", "--seed", "4", "--json"))
    assert list(first) == ["risk", "habit", "none", "accepted_acres", "policies"]
    assert all(list(first[name]) == KEYS for name in ("risk", "habit", "none"))
    assert list(first["policies"]) == ["refills_only", "default", "within_15", "within_10", "within_5"]
    assert all(list(one) == ["hopper", "outlet"] for one in first["policies"].values())
    assert list(first["policies"]["default"]["hopper"]) == TOLL
    assert first["accepted_acres"] == first["policies"]["default"]["hopper"]["promised"]
    told = json.loads(run("--nights", "1", "--hours", "2", "--accepted", "5", "--json"))
    assert told["accepted_acres"] == 5
    assert first == json.loads(run("--nights", "2", "--hours", "2", "--seed", "4", "--json"))
    assert first != json.loads(run("--nights", "2", "--hours", "2", "--seed", "5", "--json"))


def test_one_night_as_events() -> None:
    found = json.loads(run("--hours", "12", "--fail-row", "5", "--at", "01:10", "--json"))
    assert list(found) == ["risk", "habit", "none", "accepted_acres"]
    for name in ("risk", "habit", "none"):
        events = found[name]["events"]
        assert {"at": "01:10", "event": "stopped", "row": 5} in events
        assert [one["row"] for one in events if one["event"] == "noticed"] == [5]
    assert found["risk"]["acres_in_doubt"] < found["habit"]["acres_in_doubt"]
    assert found["risk"]["checks"] == sum(one["event"] == "looked" for one in found["risk"]["events"])


def test_people_read_a_night_a_table_and_what_was_named() -> None:
    assert "row 3 stops at 20:00; 8 acres may be lost" in run(
        "--fail-row", "3", "--at", "20:00", "--accepted", "8", "--hours", "2"
    )
    assert "feeds 25% too little" in run("--fail-row", "3", "--under-feed", "25", "--hours", "3")
    many = run("--nights", "2", "--hours", "2")
    assert "acres in doubt, 95 of 100" in many
    assert all(name in many for name in ("│ refills", "│ default", "│ within 10"))
    assert "named within two refills" in run("--nights", "2", "--hours", "4", "--under-feed", "25")


@pytest.mark.campaign
def test_what_was_named_as_json() -> None:
    found = json.loads(run("--nights", "2", "--hours", "4", "--under-feed", "25", "--json"))
    assert list(found) == [
        *("named_within_two_refills", "named_within_one_refill", "false_alarms_per_night"),
        *("under_feed_percent", "nights"),
    ]


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (("--fail-row", "9"), "rows 1 to 8"),
        (("--at", "25:00"), "not a time of day"),
        (("--at", "one"), "not a time of day"),
        (("--at", "12:00"), "not within the shift"),
    ],
)
def test_what_cannot_be_is_refused(options: tuple[str, ...], says: str) -> None:
    found = CliRunner().invoke(app, ["simulate", *options])
    assert isinstance(found.exception, InputError)
    assert says in str(found.exception)
