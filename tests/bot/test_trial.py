"""``rowhand trial``."""

from __future__ import annotations

import dataclasses
import json

import pytest
import typer
from typer.testing import CliRunner

from bot.bench.trial import trial
from engine.simulation.family import FOREIGN, Family
from engine.simulation.tally import RunsTally

app = typer.Typer()
app.command()(trial)
KEYS = [one.name for one in dataclasses.fields(RunsTally)]


def run(*options: str) -> str:
    found = CliRunner().invoke(app, ["--planters", "3", *options])
    assert found.exit_code == 0, found.output
    return found.stdout


def test_json_has_the_same_keys_for_both_and_comes_back_by_seed() -> None:
    first = json.loads(run("--seed", "4", "--rows", "4", "--json"))
    assert list(first) == ["advisor", "handbook", "times_as_many", "interval_95"]
    assert list(first["advisor"]) == list(first["handbook"]) == KEYS
    low, high = first["interval_95"]["times_as_many"]
    assert low <= first["times_as_many"] <= high
    assert first == json.loads(run("--seed", "4", "--rows", "4", "--json"))
    assert first != json.loads(run("--seed", "5", "--rows", "4", "--json"))


@pytest.mark.parametrize("curve", ["plain", "kinked", "dead-zone", "heavy-tails"])
def test_a_person_reads_a_table(curve: str) -> None:
    shown = run("--rows", "3", "--curve", curve, "--tolerance", "8 %", "--noise", "0.03")
    assert "times as many test runs" in shown
    said = " ".join(shown.split())
    assert f"noise 0.03, {curve} curve" in said
    assert "tolerance 0.08" in said


@pytest.mark.parametrize("family", Family)
def test_every_family_can_be_tried(family: Family) -> None:
    assert f"family {family}" in " ".join(run("--family", family).split())


@pytest.mark.campaign
def test_all_foreign_families_in_one_table() -> None:
    shown = run("--families")
    assert all(family in shown for family in FOREIGN)
    found = json.loads(run("--families", "--json"))
    assert list(found["families"]) == [family.value for family in FOREIGN]


@pytest.mark.parametrize("share", ["0", "120%", "5 g", "much"])
def test_shares_that_cannot_be_used_are_refused(share: str) -> None:
    found = CliRunner().invoke(app, ["--tolerance", share])
    assert found.exit_code == 2
    assert "Traceback" not in found.output
