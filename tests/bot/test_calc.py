"""``rowhand calc``: options in, one line or one JSON object out, one sentence and code 2 on bad input."""

from __future__ import annotations

import json
import subprocess
import sys
from typing import Any

import pytest
from typer.testing import CliRunner

from bot.calc import app

RUNNER = CliRunner()
Q = dict[str, Any]


def calc(*arguments: str) -> Q:
    result = RUNNER.invoke(app, [*arguments, "--json"])
    assert result.exit_code == 0, result.output
    found: Q = json.loads(result.stdout)
    return found


def refused(*arguments: str) -> str:
    result = RUNNER.invoke(app, list(arguments))
    assert result.exit_code == 2
    assert result.stdout == ""
    assert "Traceback" not in result.stderr
    return result.stderr.strip()


AREA_RATE = ("target", "--rate", "8.712 lb/acre", "--spacing", "30 in", "--course", "300 ft")
ALONG = ("target", "--rate", "8 oz/1000 ft", "--course", "300 ft")
CAUGHT = ("rate", "--caught", "68.04 g", "--course", "300 ft", "--spacing", "30 in")


@pytest.mark.parametrize(
    ("arguments", "answer"),
    [
        ((*AREA_RATE, "--in", "g"), {"catch": {"value": 68.04, "unit": "g"}}),
        ((*AREA_RATE, "--in", "ounces"), {"catch": {"value": 2.4, "unit": "oz"}}),
        (AREA_RATE, {"catch": {"value": 68.04, "unit": "g"}}),
        (ALONG, {"catch": {"value": 68.04, "unit": "g"}}),
        ((*ALONG, "--speed", "5 mph"), {"catch": {"value": 68.04, "unit": "g"}, "time": {"value": 40.91, "unit": "s"}}),
        ((*ALONG, "--density", "0.6804 g/mL", "--in", "mL"), {"catch": {"value": 100.0, "unit": "mL"}}),
        (
            ("target", "--rate", "0.001 g/ha", "--width", "1 cm", "--course", "1 m"),
            {"catch": {"value": 1e-9, "unit": "g"}},
        ),
        (CAUGHT, {"rate": {"value": 8.7121, "unit": "lb/acre"}}),
        ((*CAUGHT, "--tare", "34.02 g"), {"rate": {"value": 4.3561, "unit": "lb/acre"}}),
        ((*CAUGHT, "--in", "oz/1000 ft"), {"rate": {"value": 8.0001, "unit": "oz/1000 ft"}}),
        (
            ("rate", "--caught", "100 mL", "--density", "0.5 g/mL", "--width", "1 m", "--course", "100 m"),
            {"rate": {"value": 5.0, "unit": "kg/ha"}},
        ),
        (("speed", "--course", "88 ft", "--time", "12 s"), {"speed": {"value": 5.0, "unit": "mph"}}),
        (("speed", "--course", "100 m", "--time", "0.5 min"), {"speed": {"value": 12.0, "unit": "km/h"}}),
        (
            ("capacity", "--width", "40 ft", "--speed", "6 mph", "--efficiency", "70 %"),
            {"capacity": {"value": 20.36, "unit": "acre/h"}},
        ),
        (
            ("capacity", "--width", "10 m", "--speed", "10 km/h", "--efficiency", "50 %"),
            {"capacity": {"value": 5.0, "unit": "ha/h"}},
        ),
        (
            ("drawdown", "--loaded", "348.48 lb", "--left", "0 lb", "--area", "40 acre"),
            {"rate": {"value": 8.712, "unit": "lb/acre"}},
        ),
        (("drawdown", "--loaded", "100 kg", "--area", "10 ha"), {"rate": {"value": 10.0, "unit": "kg/ha"}}),
    ],
)
def test_answers(arguments: tuple[str, ...], answer: Q) -> None:
    assert calc(*arguments) == answer


def test_spread() -> None:
    six = [word for one in (7.8, 8.1, 8.0, 8.4, 7.7, 8.0) for word in ("--caught", f"{one} oz")]
    found = calc("spread", *six)
    assert found["mean"] == {"value": 8.0, "unit": "oz"}
    assert found["cv"] == {"value": pytest.approx(3.06, abs=0.005), "unit": "%"}
    assert [one["value"] for one in found["deviations"]] == [-2.5, 1.25, 0, 5, -3.75, 0]
    assert calc("spread", *six, "--in", "g")["mean"] == {"value": 226.8, "unit": "g"}


def test_spread_takes_the_container_off_and_reads_tubes() -> None:
    assert calc("spread", "--caught", "60 g", "--caught", "52 g", "--tare", "10 g")["mean"]["value"] == 46
    poured = calc("spread", "--caught", "60 mL", "--caught", "52 mL", "--density", "0.5 g/mL")
    assert poured["mean"] == {"value": 28.0, "unit": "g"}


def test_one_readable_line_without_json() -> None:
    result = RUNNER.invoke(app, [*ALONG, "--speed", "5 mph"])
    assert result.stdout == "catch 68.04 g (2.4 oz), time 40.91 s\n"
    result = RUNNER.invoke(app, ["target", "--rate", "1 kg/ha", "--spacing", "1 m", "--course", "100 m"])
    assert result.stdout == "catch 10 g\n"


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("target", "--course", "300 ft"), "--rate is missing"),
        (("target", "--rate", "8 lb/acre", "--course", "300 ft"), "--spacing is missing"),
        ((*AREA_RATE, "--width", "30 in"), "not both"),
        ((*AREA_RATE, "--in", "mL"), "--density is missing"),
        ((*AREA_RATE, "--in", "mph"), "not a unit of mass or volume"),
        ((*AREA_RATE, "--in", "furlong"), "furlong"),
        ((*AREA_RATE, "--speed", "0 mph"), "speed 0 mph"),
        (("target", "--rate", "-8 lb/acre", "--spacing", "30 in", "--course", "300 ft"), "rate -8"),
        (("target", "--rate", "8 g", "--spacing", "30 in", "--course", "300 ft"), "--rate: g is not a unit of"),
        (("target", "--rate", "8", "--spacing", "30 in", "--course", "300 ft"), "the unit is missing"),
        (("target", "--rate", "nan kg/ha", "--spacing", "30 in", "--course", "300 ft"), "number and a unit"),
        (("target", "--rate", f"1{'0' * 308} kg/ha", "--spacing", "30 km", "--course", "300 km"), "finite number"),
        (("target", "--rate", f"1{'0' * 400} kg/ha", "--spacing", "30 km", "--course", "300 km"), "too large"),
        ((*CAUGHT, "--tare", "70 g"), "lighter than its container"),
        (("rate", "--caught", "90 mL", "--course", "300 ft", "--spacing", "30 in"), "--density is missing"),
        (
            ("rate", "--caught", "90 mL", "--density", "1 g/mL", "--tare", "5 g", "--course", "1 m", "--width", "1 m"),
            "one or the other",
        ),
        (("speed", "--course", "0 ft", "--time", "12 s"), "course 0 ft"),
        (("capacity", "--width", "40 ft", "--speed", "6 mph", "--efficiency", "170 %"), "at most 100 %"),
        (("spread", "--caught", "50 g"), "at least two"),
        (("spread",), "at least two"),
        (("drawdown", "--loaded", "5 lb", "--left", "6 lb", "--area", "1 acre"), "more than the 5 lb"),
    ],
)
def test_bad_input_is_one_sentence(arguments: tuple[str, ...], says: str) -> None:
    sentence = refused(*arguments)
    assert says in sentence
    assert "\n" not in sentence


@pytest.mark.parametrize("arguments", [("target", "--furlongs", "3"), ("tarjet",), ("target", "--rate")])
def test_a_usage_error_is_code_2(arguments: tuple[str, ...]) -> None:
    assert refused(*arguments)


def test_the_installed_command_calculates() -> None:
    command = [sys.executable, "-c", "from bot.cli import main; main()", "calc"]
    done = subprocess.run([*command, *AREA_RATE, "--in", "g", "--json"], capture_output=True, text=True, check=True)
    assert json.loads(done.stdout) == {"catch": {"value": 68.04, "unit": "g"}}
    bad = subprocess.run([*command, *CAUGHT, "--tare", "1 kg"], capture_output=True, text=True, check=False)
    assert (bad.returncode, bad.stdout) == (2, "")
    assert "lighter than its container" in bad.stderr
    assert "Traceback" not in bad.stderr
