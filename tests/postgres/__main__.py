"""The record's tests on PostgreSQL: ``python -m tests.postgres [options and places of pytest]``.

``--run MODULE [options]`` runs another command of the tests there: ``--run tests.reminders.kill_rounds --rounds 50``.

Uses the server that ``ROWHAND_TEST_DATABASE`` names (each test makes a schema of its own there and leaves it), else one
that it starts and throws away. Exit code 69 where there is neither a server nor a driver.
"""

from __future__ import annotations

import importlib.util
import os
import subprocess
import sys
from pathlib import Path

from tests.postgres.server import programs, server

ROOT = Path(__file__).parents[2]
PLACES = ("tests/postgres", "tests/history", "tests/reminders")
UNAVAILABLE = 69


def run(address: str) -> int:
    options = sys.argv[1:]
    environment = os.environ | {"ROWHAND_TEST_DATABASE": address}
    if options[:1] == ["--run"]:
        return subprocess.call([sys.executable, "-m", *options[1:]], cwd=ROOT, env=environment)
    places = () if any(not one.startswith("-") and (ROOT / one.split("::")[0]).exists() for one in options) else PLACES
    return subprocess.call([sys.executable, "-m", "pytest", *places, *options], cwd=ROOT, env=environment)


def main() -> int:
    if importlib.util.find_spec("psycopg") is None:
        print("not run: the driver psycopg is not installed (extra postgres)", file=sys.stderr)
        return UNAVAILABLE
    if address := os.environ.get("ROWHAND_TEST_DATABASE"):
        return run(address)
    found = programs()
    if found is None:
        print("not run: no PostgreSQL server is installed and ROWHAND_TEST_DATABASE names none", file=sys.stderr)
        return UNAVAILABLE
    with server(found) as address:
        return run(address)


if __name__ == "__main__":
    sys.exit(main())
