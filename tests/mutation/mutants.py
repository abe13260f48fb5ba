"""Small faults put into a module on purpose: at its thresholds, one at a time.

A mutant changes one comparison (``<`` to ``<=`` and to its opposite), one number, one ``and``, ``or`` or ``not``, one
condition, or ``min`` to ``max``. A test suite that lets one live does not pin that threshold down.
"""

from __future__ import annotations

import ast
import copy
from collections.abc import Iterator
from dataclasses import dataclass

_COMPARISONS: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
_SWAPPED = {"min": "max", "max": "min", "all": "any", "any": "all"}


@dataclass(frozen=True)
class Mutant:
    """One fault: the line it stands on, the code before and after, and the whole module with it."""

    line: int
    before: str
    after: str
    tree: ast.Module

    @property
    def change(self) -> str:
        return " -> ".join(code.splitlines()[0] for code in (self.before, self.after) if code)

    def __str__(self) -> str:
        return f"line {self.line}: {self.change}"


def unchanged(source: str) -> Mutant:
    """No fault at all: the tests must pass with it."""
    return Mutant(0, "", "", ast.parse(source))


def mutants(source: str, *, numbers: bool = True) -> list[Mutant]:
    """Every mutant of a module's source, with or without changed numbers."""
    tree = ast.parse(source)
    return [
        _planted(tree, place, node, after)
        for place, node in enumerate(ast.walk(tree))
        if numbers or not isinstance(node, ast.Constant)
        for after in _faults(node)
    ]


def _planted(tree: ast.Module, number: int, node: ast.AST, after: ast.AST) -> Mutant:
    mutated = copy.deepcopy(tree)
    target = next(found for place, found in enumerate(ast.walk(mutated)) if place == number)
    _Swap(target, after).visit(mutated)
    line = getattr(node, "lineno", 0)
    return Mutant(line, ast.unparse(node), ast.unparse(after), ast.fix_missing_locations(mutated))


class _Swap(ast.NodeTransformer):
    def __init__(self, target: ast.AST, after: ast.AST) -> None:
        self.target, self.after = target, after

    def visit(self, node: ast.AST) -> ast.AST:
        return ast.copy_location(self.after, node) if node is self.target else self.generic_visit(node)


def _faults(node: ast.AST) -> Iterator[ast.AST]:
    match node:
        case ast.Compare(left, ops, comparators):
            for place, comparison in enumerate(ops):
                for other in _COMPARISONS[type(comparison)]:
                    yield ast.Compare(left, [*ops[:place], other(), *ops[place + 1 :]], comparators)
        case ast.Constant(value) if type(value) in {int, float}:
            yield from (ast.Constant(other) for other in _other_numbers(value))
        case ast.BoolOp(operator, values):
            yield ast.BoolOp(ast.Or() if isinstance(operator, ast.And) else ast.And(), values)
        case ast.UnaryOp(ast.Not(), operand):
            yield operand
        case ast.IfExp(test, body, orelse):
            yield ast.IfExp(test, orelse, body)
        case ast.If(test, body, orelse):
            yield ast.If(ast.UnaryOp(ast.Not(), test), body, orelse)
        case ast.Name(name) if name in _SWAPPED:
            yield ast.Name(_SWAPPED[name], ast.Load())


def _other_numbers(value: float) -> tuple[float, ...]:
    """Numbers a threshold must not be mistaken for."""
    if isinstance(value, int):
        return value - 1, value + 1
    if value == 0:
        return -0.1, 0.1
    return (0.0, 1e-3) if abs(value) < 1e-6 else (value * 0.9, value * 1.1)
