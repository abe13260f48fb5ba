"""Every published example that a formula covers, from ``tests/worked_examples.yaml``."""

from __future__ import annotations

import ast
import dataclasses
import inspect
import re
import textwrap
from pathlib import Path
from typing import Any, get_type_hints

import pytest
import yaml

import engine.calculations.formulas  # noqa: F401
from engine.calculations.catalogue import formulas
from engine.quantities import Measure, read_measure
from engine.values import Dial, Setting

EXAMPLES: list[dict[str, Any]] = yaml.safe_load((Path(__file__).parents[1] / "worked_examples.yaml").read_text())
SOURCES: dict[str, Any] = yaml.safe_load((Path(__file__).parents[2] / "dialogs" / "sources.yaml").read_text())
NOT_WORKABLE = {"NE-1982"}
PUBLISHED = {
    *("MO-G1273", "PES-BAND", "SHL-DRILL", "KY-WHEAT", "ISU-A3-24", "KY-AEN73", "CORNELL", "ISU-212", "PSU-ROW"),
    *("UT-2011", "KY-800", "MD0173", "MO-G1270A", "PSU-BULK", "CV-CALC", "RATE-CALC", "DRAW-CALC", "FL-43", "IL-1997"),
}


def half_of_last_digit(printed: str) -> float:
    """Half of the last digit of "20.4 acre/h" is 0.05."""
    decimals = re.match(r"-?\d+(?:\.(\d+))?", printed)
    assert decimals is not None
    return 0.5 * 10.0 ** -len(decimals[1] or "")


def entered(value: Any) -> Any:
    if isinstance(value, dict):
        return {row: entered(one) for row, one in value.items()}
    return read_measure(value) if isinstance(value, str) and re.match(r"-?[\d.]+ ", value) else value


def worked(example: dict[str, Any], unit: str) -> float:
    formula = formulas()[example["formula"]]
    inputs = {name: entered(value) for name, value in example["inputs"].items()}
    found = formula.evaluate(inputs).results[example.get("result", "value")]
    assert isinstance(found, Measure)
    value = found.to(unit).value
    return example["of"] / value if "of" in example else value


def agrees(value: float, printed: str) -> bool:
    return abs(value - read_measure(printed).value) <= half_of_last_digit(printed) + 1e-9


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda one: f"{one['key']}-{one['printed']}")
def test_the_printed_answer_comes_out(example: dict[str, Any]) -> None:
    value = worked(example, read_measure(example["printed"]).unit)
    assert agrees(value, example["printed"]) is ("wrong" not in example), value
    assert "exact" not in example or agrees(value, example["exact"]), value


def test_every_example_that_can_be_worked_is_here() -> None:
    assert len(EXAMPLES) >= 65
    assert {example["key"] for example in EXAMPLES} >= PUBLISHED
    assert not {example["key"] for example in EXAMPLES} & NOT_WORKABLE
    assert sum("wrong" in example for example in EXAMPLES) >= 4


def test_every_example_and_formula_rests_on_a_described_source() -> None:
    used = {example["key"] for example in EXAMPLES} | {key for one in formulas().values() for key in one.sources}
    assert used <= set(SOURCES)


@pytest.mark.parametrize("key", SOURCES)
def test_a_source_says_what_where_and_how_sure(key: str) -> None:
    assert set(SOURCES[key]) == {"what", "where", "mark"}
    assert SOURCES[key]["mark"] in {"seen", "calc", "memory", "common practice"}
    assert len(SOURCES[key]["what"]) > 20


@pytest.mark.parametrize("name", formulas())
def test_a_formula_tells_its_equation_units_range_errors_and_source(name: str) -> None:
    formula = formulas()[name]
    said = formula.function.__doc__ or ""
    assert formula.sources
    assert "Error" in said
    assert all(key in said for key in formula.sources)
    measured = any(kind.kind == "measure" for kind in formula.inputs.values())
    assert not measured or re.search(r"\[|units as in|units beside|see ``", said)


def groups() -> set[type]:
    """The dataclasses that stand for several arguments of a formula."""
    hints = [
        hint
        for formula in formulas().values()
        for name, hint in get_type_hints(formula.function).items()
        if name != "return"
    ]
    return {
        parent
        for hint in hints
        if isinstance(hint, type) and dataclasses.is_dataclass(hint) and hint not in (Setting, Dial)
        for parent in hint.__mro__
        if dataclasses.is_dataclass(parent)
    }


def test_a_measure_of_a_group_of_arguments_tells_its_unit() -> None:
    told = [field for group in groups() for field in _documented(group)]
    assert len(told) > 20
    assert [name for name, annotation, said in told if _is_measure(annotation) and "[" not in said] == []


def _documented(group: type) -> list[tuple[str, str, str]]:
    """Each field of the class itself: name, annotation, and what is said under it."""
    body = ast.parse(textwrap.dedent(inspect.getsource(group))).body[0]
    assert isinstance(body, ast.ClassDef)
    return [
        (f"{group.__name__}.{ast.unparse(one.target)}", ast.unparse(one.annotation), _text_of(after))
        for one, after in zip(body.body, [*body.body[1:], None], strict=True)
        if isinstance(one, ast.AnnAssign)
    ]


def _text_of(node: ast.stmt | None) -> str:
    is_text = isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    return str(node.value.value) if is_text else ""  # type: ignore[union-attr]


def _is_measure(annotation: str) -> bool:
    return any(word in annotation for word in ("Mass", "Volume", "Length", "Speed", "Rate", "Ratio", "Density"))
