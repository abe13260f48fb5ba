"""Mutation test of what is reckoned: ``python -m tests.mutation [MODULE…] [--jobs N]``.

For every mutant of every module of ``engine/calculations``, and of those modules of the shift that reckon, the tests of
their room run in a fork of this process.
A mutant that fails a test is killed; one that passes them all survives, is printed, and makes the exit code 1. Mutants
listed in ``equivalent.yaml`` change nothing that can be observed; each line there says why. The numbers of the
estimator are beliefs about planters, which ``rowhand trial`` judges; there only comparisons and conditions are mutated.
"""

from __future__ import annotations

import argparse
import importlib
import importlib.machinery
import importlib.util
import multiprocessing
import os
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path
from types import CodeType

import pytest
import yaml
from hypothesis import settings

from tests.mutation.mutants import Mutant, mutants, unchanged

ROOT = Path(__file__).parents[2]
ROOM = ROOT / "engine" / "calculations"
TESTS = ROOT / "tests" / "calculations"
OF_A_SHIFT = (
    "tests/shift/test_ledger.py",
    "tests/shift/test_timeline.py",
    "tests/dialog/test_books.py",
    "tests/dialog/test_shift.py",
    "tests/dialog/test_moment.py",
    "tests/dialog/test_interlude.py",
    "tests/history/test_shifts.py",
    "tests/dialog/test_conversations.py",
)
ELSEWHERE = {
    "engine/reminders/rules.py": ("tests/reminders/test_rules.py",),
    "engine/reminders/inspection.py": ("tests/reminders/test_inspection.py",),
    "engine/reminders/price.py": ("tests/reminders/test_price.py",),
    "engine/shift/record/timeline.py": ("tests/shift/test_timeline.py", "tests/dialog/test_interlude.py"),
    "engine/shift/record/shift_ledger.py": ("tests/shift/test_ledger.py", "tests/dialog/test_books.py"),
    "engine/shift/reports/mass_balance.py": OF_A_SHIFT,
    "engine/shift/reports/suspect_rows.py": OF_A_SHIFT,
    "engine/shift/reports/levels.py": OF_A_SHIFT,
}
"""Modules that reckon outside of the room, and their tests."""
NOT_ARITHMETIC = {"__init__", "kinds", "verdict", "catalogue", "library", "distribution"}
ESTIMATOR = {
    "advice",
    "approach",
    "drive",
    "evidence",
    "judgement",
    "judging",
    "outlook",
    "posterior",
    "prior",
    "response",
}
PRELOADED = ("numpy", "scipy.special", "scipy.stats", "pint", "hypothesis", "pydantic", "yaml", "engine.quantities")
LIMIT_S = 120
_fork = multiprocessing.get_context("fork")


class Planted(importlib.machinery.SourceFileLoader):
    """Loads one module with a mutant in it, and is its own finder."""

    def __init__(self, name: str, path: Path, mutant: Mutant) -> None:
        super().__init__(name, str(path))
        self.mutant = mutant

    def find_spec(self, name: str, path: object = None, target: object = None) -> importlib.machinery.ModuleSpec | None:
        return importlib.util.spec_from_file_location(name, self.path, loader=self) if name == self.name else None

    def get_code(self, fullname: str) -> CodeType:
        return compile(self.mutant.tree, self.path, "exec")


def run_tests(name: str, path: Path, mutant: Mutant) -> None:
    """In the fork: plant the mutant, run the tests that import the module, then all; exit 0 where it survived."""
    sys.meta_path.insert(0, Planted(name, path, mutant))  # type: ignore[arg-type]
    with open(os.devnull, "w") as nowhere:  # noqa: PTH123
        os.dup2(nowhere.fileno(), 1)
        os.dup2(nowhere.fileno(), 2)
    settings.register_profile("mutation", deadline=None, derandomize=True, database=None)
    settings.load_profile("mutation")
    tests = tests_of(path)
    near = [str(one) for one in tests if f"{name} import" in one.read_text()]
    rest = [str(one) for one in tests if str(one) not in near]
    quiet = ["-x", "-q", "-p", "no:cacheprovider"]
    os._exit(int(any(some and pytest.main([*quiet, *some]) for some in (near, rest))))


def tests_of(path: Path) -> list[Path]:
    own = ELSEWHERE.get(path.relative_to(ROOT).as_posix())
    return [ROOT / one for one in own] if own else sorted(TESTS.glob("test_*.py"))


def survives(path: Path, mutant: Mutant) -> bool:
    name = ".".join(path.relative_to(ROOT).with_suffix("").parts)
    child = _fork.Process(target=run_tests, args=(name, path, mutant))
    child.start()
    child.join(LIMIT_S)
    if child.is_alive():
        child.kill()
        child.join()
    return child.exitcode == 0


def tested(path: Path, jobs: int) -> tuple[int, list[Mutant]]:
    """How many mutants a module has, and those that survive."""
    found = mutants(path.read_text(), numbers=path.stem not in ESTIMATOR)
    with ThreadPoolExecutor(jobs) as pool:
        lives = list(pool.map(partial(survives, path), found))
    return len(found), [one for one, alive in zip(found, lives, strict=True) if alive]


def wanted(names: list[str]) -> list[Path]:
    paths = [path for path in sorted(ROOM.glob("*.py")) if path.stem not in NOT_ARITHMETIC]
    paths += [ROOT / place for place in ELSEWHERE]
    return [path for path in paths if not names or path.stem in names]


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=(__doc__ or "").split("\n")[0])
    parser.add_argument("modules", nargs="*", help="names such as course; all when none is given")
    parser.add_argument("--jobs", type=int, default=2)
    options = parser.parse_args()
    for name in PRELOADED:
        importlib.import_module(name)
    paths = wanted(options.modules)
    if not all(survives(path, unchanged(path.read_text())) for path in paths[:1]):
        sys.exit("the tests fail without any mutant")
    known = yaml.safe_load(Path(__file__).with_name("equivalent.yaml").read_text())
    began, total, lived, equal = time.monotonic(), 0, 0, 0
    for path in paths:
        count, alive = tested(path, options.jobs)
        real = [one for one in alive if one.change not in known.get(path.stem, {})]
        total, lived, equal = total + count, lived + len(real), equal + len(alive) - len(real)
        print(f"{path.stem}: {count} mutants, {len(real)} survived", *real, sep="\n  ", flush=True)
    print(f"{total} mutants, {equal} equivalent, {lived} survived, in {time.monotonic() - began:.0f} s")
    return 1 if lived or not total else 0


if __name__ == "__main__":
    sys.exit(main())
