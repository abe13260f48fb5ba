"""``rowhand calc``: options in, one line or one JSON object out, one sentence and code 2 on bad input."""

from __future__ import annotations

import json
import subprocess
import sys
from typing import Any

import pytest
from typer.testing import CliRunner

import engine.calculations.formulas  # noqa: F401
from bot.calculator import figures
from bot.calculator.calc import app
from engine.calculations.catalogue import formulas

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
        (CAUGHT, {"rate": {"value": 8.712, "unit": "lb/acre"}}),
        ((*CAUGHT, "--tare", "34.02 g"), {"rate": {"value": 4.356, "unit": "lb/acre"}}),
        ((*CAUGHT, "--in", "oz/1000 ft"), {"rate": {"value": 8.0, "unit": "oz/1000 ft"}}),
        (
            ("rate", "--caught", "100 mL", "--density", "0.5 g/mL", "--width", "1 m", "--course", "100 m"),
            {"rate": {"value": 5.0, "unit": "kg/ha"}},
        ),
        (("speed", "--course", "88 ft", "--time", "12 s"), {"speed": {"value": 5.0, "unit": "mph"}}),
        (("speed", "--course", "100 m", "--time", "0.5 min"), {"speed": {"value": 12.0, "unit": "km/h"}}),
        (
            ("capacity", "--width", "40 ft", "--speed", "6 mph", "--efficiency", "70 %"),
            {"capacity": {"value": 20.4, "unit": "acre/h"}},
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
    assert calc("spread", *six, "--in", "g")["mean"] == {"value": 227.0, "unit": "g"}


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


@pytest.mark.parametrize(
    ("written", "unit"),
    [
        ("8.712 lb per acre", "lb/acre"),
        ("8.712 pounds per acre", "lb/acre"),
        ("8.712 Pounds an acre", "lb/acre"),
        ("8 ounces per thousand feet", "oz/1000 ft"),
        ("0.5 lb/1000 ft", "lb/1000 ft"),
        ("0.7440819697 g/m", "g/m"),
        ("9.764716 kg per ha", "kg/ha"),
    ],
)
def test_rates_are_read_as_people_write_them(written: str, unit: str) -> None:
    """All are 8 oz/1000 ft in rows of 30 in, by exact definitions."""
    found = calc("target", "--rate", written, "--spacing", "30 in", "--course", "300 ft", "--in", "g")
    assert found["catch"]["value"] == pytest.approx(68.04, abs=0.06), unit


@pytest.mark.parametrize("share", ["0.65", "65 %", "65 percent", "65%"])
@pytest.mark.parametrize("unit", ["acre/hr", "acres per hour", "ac/h"])
def test_a_share_and_the_unit_of_the_answer_as_people_write_them(share: str, unit: str) -> None:
    found = calc("capacity", "--width", "20 ft", "--speed", "5 mph", "--efficiency", share, "--in", unit)
    assert found == {"capacity": {"value": 7.88, "unit": "acre/h"}}


@pytest.mark.parametrize(
    ("given", "digits"),
    [(["57 g", "8 g"], 3), (["8.712 lb/acre", "30 in"], 4), (["0.0012 g"], 3), (["123456 g"], 4), ([], 3)],
)
def test_an_answer_carries_the_digits_of_what_was_given(given: list[str], digits: int) -> None:
    assert figures.digits(given) == digits


@pytest.mark.parametrize(("value", "shown"), [(6.27418, 6.27), (2178.283, 2178), (0.125016, 0.125), (0.0, 0.0)])
def test_figures_are_rounded_to_three_digits(value: float, shown: float) -> None:
    assert figures.rounded(value, 3) == shown


def test_a_formula_of_the_catalogue_by_its_name() -> None:
    found = calc("speed-change", "rate=8 pounds per acre", "old_speed=5 mph", "new_speed=4 mph", "exponent=1")
    assert found["outcome"] == "more"
    assert found["rate"] == {"value": 10.0, "unit": "lb/acre"}
    assert calc("catches-needed", "noise=2 %", "tolerance=0.05") == {"value": 1}
    assert calc("run-plan", "catch=16 g", "course=300 ft", "scale_step=1 g", "--in", "m")["course"]["unit"] == "m"


def test_rows_runs_dials_and_settings_on_the_command_line() -> None:
    rows = calc("uniformity", "caught=49 g, 51 g, 3: 60 g")
    assert (rows["outcome"], rows["worst"]) == ("repair", 3)
    told = ("caught=49 g, 51 g; 49 g, 50 g", "settings=B, B; B, B", "dial=A, B, C", "target=50 g", "tolerance=5 %")
    assert calc("advise", *told)["next_settings"] == {"1": "B", "2": "B"}
    numbered = ("settings=9, 9; 8, 8", "dial=0-30 by 1")
    found = calc("handbook-advice", *numbered, "caught=49 g, 51 g; 40 g, 50 g", "target=50 g", "tolerance=5 %")
    assert found["next_settings"] == {"1": "10", "2": "8"}


@pytest.mark.parametrize("name", sorted(formulas()))
def test_every_formula_tells_what_it_takes(name: str) -> None:
    shown = RUNNER.invoke(app, [name, "--help"])
    assert shown.exit_code == 0
    own = name in {"spread", "drawdown"}
    assert own or all(key in shown.stdout for key in formulas()[name].inputs)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("speed-change", "speed=5 mph"), "speed-change takes rate="),
        (("speed-change", "rate=8 g"), "rate: g is not a unit of"),
        (("speed-change", "rate"), "takes rate="),
        (("speed-change",), "speed-change needs rate"),
        (("catches-needed", "noise=2"), "write a share as 0.65 or 65 %"),
        (("pass-area", "rows=six", "spacing=30 in", "course=300 ft"), "not a whole number"),
        (("uniformity", "caught=row one: 49 g"), "number of a row"),
        (("speed-change-by-meter", "meter=paddle"), "none of positive"),
        (("wear", "settings=9; 9", "dial=30-0 by 1"), "not a dial"),
        (("wear", "settings=9.5; 9", "dial=0-30 by 1"), "has no '9.5'"),
        (("wear", "settings=B; 9", "dial="), "not a dial"),
        (("area-rate", "rate=8 oz/1000 ft", "spacing=30 in", "--in", "mph"), "no result of area-rate"),
    ],
)
def test_a_formula_refuses_in_one_sentence(arguments: tuple[str, ...], says: str) -> None:
    assert says in refused(*arguments)


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
