"""The service file and the container file of bot/OPERATING.md name what there is."""

from __future__ import annotations

import configparser
import json
import os
import re
import shlex
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from typer.main import get_command

from bot import cli
from bot.settings import PREFIX, Settings
from bot.telegram.updates.http_server import HEALTH
from tests.docs.examples import OPERATING, ROOT

TEXT = OPERATING.read_text(encoding="utf-8")
SETTINGS = {f"{PREFIX}{name.upper()}" for name in Settings.model_fields}
KNOWN = {"FROM", "ENV", "RUN", "WORKDIR", "COPY", "USER", "VOLUME", "EXPOSE", "HEALTHCHECK", "CMD"}


def block(kind: str) -> str:
    (found,) = re.findall(rf"^```{kind}\n(.*?)^```$", TEXT, re.MULTILINE | re.DOTALL)
    return str(found)


UNIT, CONTAINER, ENVIRONMENT = block("ini"), block("dockerfile"), block("sh")
STEPS = [line.split(" ", 1) for line in CONTAINER.splitlines()]


class Repeated(dict[str, str]):
    """Keys of a service file may stand several times."""

    def __setitem__(self, key: str, value: str) -> None:
        both = key in self and isinstance(value, list)
        super().__setitem__(key, [*self[key], *value] if both else value)  # type: ignore[misc]


def unit() -> configparser.RawConfigParser:
    parser = configparser.RawConfigParser(strict=False, dict_type=Repeated)
    parser.optionxform = str  # type: ignore[assignment,method-assign]
    parser.read_string(UNIT)
    return parser


def assigned(lines: list[str]) -> dict[str, str]:
    return dict(line.split("=", 1) for line in lines)


def of(instruction: str) -> list[str]:
    return [rest for name, rest in STEPS if name == instruction]


def is_a_call(words: list[str]) -> bool:
    """Whether the command line takes these words, without running them."""
    command = get_command(cli.app).commands[words[0]]  # type: ignore[attr-defined]
    command.make_context(words[0], words[1:])
    return True


def test_every_setting_is_one() -> None:
    named = set(re.findall(rf"\b{PREFIX}\w+", UNIT + CONTAINER + ENVIRONMENT))
    assert len(named) >= 5
    assert named <= SETTINGS


def test_what_is_set_can_be_used(monkeypatch: pytest.MonkeyPatch) -> None:
    given = unit()["Service"]["Environment"].splitlines() + of("ENV") + ENVIRONMENT.splitlines()
    values = assigned(given)
    assert {"HOME", "ROWHAND_TELEGRAM_TOKEN", "ROWHAND_LISTEN_PORT", "ROWHAND_TIME_ZONE"} <= values.keys()
    for name, value in values.items():
        monkeypatch.setenv(name, value)
    settings = Settings()
    assert (settings.time_zone, settings.listen_address) == ("America/Chicago", "0.0.0.0")


def test_the_service_runs_the_command_on_a_record_that_it_may_write() -> None:
    service = unit()["Service"]
    program, *words = shlex.split(service["ExecStart"])
    assert is_a_call(words)
    assert f"{Path(program).parent}/pip install '.[chat]'" in TEXT
    assert f"python3 -m venv {Path(program).parents[1]}" in TEXT
    state = f"/var/lib/{service['StateDirectory']}"
    set_there = assigned(service["Environment"].splitlines())
    assert Path(set_there["ROWHAND_DATABASE"]).parent == Path(set_there["HOME"]) == Path(state)
    assert f"useradd -r -d {state} {service['User']}" in TEXT
    assert f"environment {service['EnvironmentFile']}\n" in TEXT


def test_systemd_takes_the_service(tmp_path: Path) -> None:
    analyze = shutil.which("systemd-analyze")
    if analyze is None:
        pytest.skip("systemd-analyze is not here: the service file was read by this test alone")
    program = shlex.split(unit()["Service"]["ExecStart"])[0]
    file = tmp_path / "rowhand.service"
    here = UNIT.replace(program, sys.executable)
    for text, is_right in ((here, True), (here.replace("Restart=always", "Restart=sometimes"), False)):
        file.write_text(text)
        done = subprocess.run(
            [analyze, "verify", "--man=no", str(file)], capture_output=True, text=True, check=False, timeout=30
        )
        own = [line for line in (done.stdout + done.stderr).splitlines() if "rowhand.service" in line]
        assert (own == []) is is_right, own


def test_the_container_file_is_made_of_what_is_there() -> None:
    assert {name for name, _ in STEPS} == KNOWN
    assert STEPS[0] == ["FROM", "python:3.13-slim"]
    copied = [word for rest in of("COPY") for word in rest.split()[:-1]]
    assert [name for name in copied if not (ROOT / name).exists()] == []
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    wheel = project["tool"]["hatch"]["build"]["targets"]["wheel"]
    needed = {*wheel["packages"], *wheel["force-include"], project["project"]["readme"], "LICENSE", "pyproject.toml"}
    assert needed <= set(copied)


def test_the_container_keeps_its_record_on_the_volume_and_is_nobody_special() -> None:
    (volume,) = of("VOLUME")
    given = assigned(of("ENV"))
    assert Path(given["ROWHAND_DATABASE"]).parent == Path(given["HOME"]) == Path(volume)
    assert any(f"-d {volume} " in step and f"-u {of('USER')[0]} " in step for step in of("RUN"))
    order = [name for name, _ in STEPS]
    assert order.index("USER") > max(at for at, name in enumerate(order) if name in ("RUN", "COPY"))
    assert re.search(rf"-v rowhand:{volume} ", TEXT)


def test_the_container_runs_the_command_and_looks_at_its_health() -> None:
    (command,), (check,), (port,) = of("CMD"), of("HEALTHCHECK"), of("EXPOSE")
    assert is_a_call(json.loads(command)[1:])
    assert "--health" in json.loads(command)
    looks = json.loads(check.removeprefix("CMD "))
    assert assigned(of("ENV"))["ROWHAND_LISTEN_PORT"] == port
    assert f"http://127.0.0.1:{port}{HEALTH}" in looks[-1]
    compile(looks[-1], "check", "exec")


def test_the_pins_of_the_container_are_those_of_the_checkout() -> None:
    (step,) = [one for one in of("RUN") if "pins.txt" in one]
    program = step.split(" > ")[0]
    done = subprocess.run(["sh", "-c", program], cwd=ROOT, capture_output=True, text=True, check=True, env=os.environ)
    pins = [Requirement(line) for line in done.stdout.splitlines() if line and not line.lstrip().startswith("#")]
    assert len(pins) > 40
    assert all(str(pin.specifier).startswith("==") for pin in pins)
