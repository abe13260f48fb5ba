"""constraints.txt covers pyproject.toml, pins every package with its hashes, and names no host."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from tests.packaging.pins import with_included

ROOT = Path(__file__).parents[2]
TEXT = (ROOT / "constraints.txt").read_text(encoding="utf-8")
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
PYTHONS = ("3.11", "3.12", "3.13", "3.14")
MACHINES = ("x86_64", "aarch64")


def pins(*sections: str) -> list[Requirement]:
    parts = re.split(r"^# \[(\w+)\]\n", TEXT, flags=re.MULTILINE)
    texts = dict(zip(parts[1::2], parts[2::2], strict=True))
    found = [line for section in sections for line in texts[section].splitlines() if line and line[0].isalnum()]
    return [Requirement(line.removesuffix(" \\")) for line in found]


def environment(python: str, machine: str) -> dict[str, str]:
    return {
        "python_version": python,
        "python_full_version": f"{python}.1",
        "platform_machine": machine,
        "sys_platform": "linux",
        "implementation_name": "cpython",
        "platform_python_implementation": "CPython",
    }


def uncovered(wanted: list[str], sections: list[str], python: str, machine: str) -> list[str]:
    """The requirements that no pin, or more than one, meets on this Python and machine."""
    here = environment(python, machine)
    valid = [pin for pin in pins(*sections) if pin.marker is None or pin.marker.evaluate(here)]
    bad = []
    for text in wanted:
        requirement = Requirement(text)
        named = [pin for pin in valid if canonicalize_name(pin.name) == canonicalize_name(requirement.name)]
        met = [pin for pin in named if requirement.specifier.contains(next(iter(pin.specifier)).version)]
        if len(named) != 1 or len(met) != 1:
            bad.append(text)
    return bad


def test_pins_meet_every_requirement_on_every_python_and_machine() -> None:
    build = PROJECT["build-system"]["requires"]
    run = [*PROJECT["project"]["dependencies"], *with_included(PROJECT, "chat", "page", "speech", "paper")]
    ears, test = with_included(PROJECT, "ears"), with_included(PROJECT, "test")
    assert len(run) > 15
    for python in PYTHONS:
        for machine in MACHINES:
            assert not uncovered(build, ["build"], python, machine)
            assert not uncovered(run, ["build", "run"], python, machine)
            assert not uncovered(ears, ["build", "run", "ears"], python, machine)
            assert not uncovered(test, ["build", "run", "ears", "test"], python, machine)
    assert uncovered(["not-a-package>=1"], ["run"], "3.11", "x86_64") == ["not-a-package>=1"]
    assert uncovered(["numpy>=999"], ["run"], "3.11", "x86_64") == ["numpy>=999"]


def test_every_pin_is_exact_and_hashed() -> None:
    every = pins("build", "run", "ears", "test")
    assert len(every) > 60
    assert all([specifier.operator for specifier in pin.specifier] == ["=="] for pin in every)
    blocks = re.findall(r"^[a-z].*(?:\n    --hash=sha256:[0-9a-f]{64}(?: \\)?)+$", TEXT, flags=re.MULTILINE)
    assert len(blocks) == len(every)


def test_nothing_but_pins_hashes_and_section_names() -> None:
    allowed = re.compile(r"$|# |[a-z][\w.-]*==\S+ (; .+ )?\\$|    --hash=sha256:[0-9a-f]{64}( \\)?$")
    assert not [line for line in TEXT.splitlines() if not allowed.match(line)]
