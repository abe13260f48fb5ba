"""The mutation test finds the thresholds it is meant to find."""

from __future__ import annotations

from tests.mutation.mutants import mutants

SOURCE = """
LIMIT = 0.05
def judge(off, rows):
    if off <= LIMIT and not rows < 2:
        return max(off, 1e-9)
    return "near" if off == 3 else None
"""


def test_every_threshold_has_its_mutants() -> None:
    found = {one.change for one in mutants(SOURCE)}
    assert found >= {
        *(
            "off <= LIMIT -> off < LIMIT",
            "off <= LIMIT -> off > LIMIT",
            "rows < 2 -> rows <= 2",
            "rows < 2 -> rows >= 2",
        ),
        *("off == 3 -> off != 3", "2 -> 1", "2 -> 3", "1e-09 -> 0.0", "1e-09 -> 0.001", "max -> min"),
        *("off <= LIMIT and (not rows < 2) -> off <= LIMIT or not rows < 2", "not rows < 2 -> rows < 2"),
    }


def test_a_mutant_is_a_whole_module_with_one_change() -> None:
    for one in mutants(SOURCE):
        exec(compile(one.tree, "mutant", "exec"), {})
    changes = {one.change for one in mutants(SOURCE, numbers=False)}
    assert changes
    assert not any(change[0].isdigit() for change in changes)
