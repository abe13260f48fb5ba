"""``rowhand trial``."""

from __future__ import annotations

import json

import pytest
import typer
from typer.testing import CliRunner

from bot.trial import trial

app = typer.Typer()
app.command()(trial)
KEYS = ["runs_median", "runs_mean", "runs_p95", "never", "wrong_rows", "mean_error"]


def run(*options: str) -> str:
    found = CliRunner().invoke(app, ["--planters", "3", *options])
    assert found.exit_code == 0, found.output
    return found.stdout


def test_json_has_the_same_keys_for_both_and_comes_back_by_seed() -> None:
    first = json.loads(run("--seed", "4", "--rows", "4", "--json"))
    assert {name: list(found) for name, found in first.items()} == {"advisor": KEYS, "handbook": KEYS}
    assert first == json.loads(run("--seed", "4", "--rows", "4", "--json"))
    assert first != json.loads(run("--seed", "5", "--rows", "4", "--json"))


@pytest.mark.parametrize("curve", ["plain", "kinked", "dead-zone", "heavy-tails"])
def test_a_person_reads_a_table(curve: str) -> None:
    shown = run("--rows", "3", "--curve", curve, "--tolerance", "8 %", "--noise", "0.03")
    assert "times as many test runs" in shown
    assert "tolerance 0.08, noise 0.03" in " ".join(shown.split())


@pytest.mark.parametrize("share", ["0", "120%", "5 g", "much"])
def test_shares_that_cannot_be_used_are_refused(share: str) -> None:
    found = CliRunner().invoke(app, ["--tolerance", share])
    assert found.exit_code == 2
    assert "Traceback" not in found.output
