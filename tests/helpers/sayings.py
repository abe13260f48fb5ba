"""Finds every call in the program that says a text, with the keys it may say and the values it passes.

Works on the source alone. A function that takes a key and ``**values`` is a way to say a text, whatever its name. A key
that is not written in the call is followed to where it comes from: an assignment, a table, a field, an argument, what a
function returns.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from importlib import import_module
from pathlib import Path

from engine.data.texts import TextKey

Function = ast.FunctionDef | ast.AsyncFunctionDef
NOT_A_KEY = (ast.Constant, ast.JoinedStr)


@dataclass(frozen=True)
class Saying:
    """One call: ``values`` are passed in any case, ``offered`` where the text takes them.

    ``unknown`` is a mapping of values whose names cannot be told.
    """

    keys: frozenset[TextKey]
    values: frozenset[str]
    offered: frozenset[str]
    unknown: str
    place: str

    def fits(self, key: TextKey, more: frozenset[str] = frozenset()) -> bool:
        """Whether it passes exactly what a key declares."""
        return self.values | more <= set(key.given) <= self.values | self.offered | more


@dataclass
class Module:
    """One source file; ``names`` are the enums of keys that it knows, by the name they have in it."""

    name: str
    tree: ast.Module
    names: dict[str, type[TextKey]]
    parents: dict[ast.AST, ast.AST] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for node in ast.walk(self.tree):
            self.parents |= dict.fromkeys(ast.iter_child_nodes(node), node)

    @cached_property
    def functions(self) -> list[Function]:
        return [node for node in ast.walk(self.tree) if isinstance(node, Function)]

    @cached_property
    def calls(self) -> list[ast.Call]:
        return [node for node in ast.walk(self.tree) if isinstance(node, ast.Call)]

    def around(self, node: ast.AST) -> Iterator[ast.AST]:
        while (up := self.parents.get(node)) is not None:
            yield up
            node = up

    def function(self, node: ast.AST) -> Function | None:
        return next((up for up in self.around(node) if isinstance(up, Function)), None)

    def is_method(self, function: Function) -> bool:
        return isinstance(self.parents[function], ast.ClassDef)

    def takes_key(self, annotation: ast.AST | None) -> bool:
        parts = ast.walk(annotation) if annotation else ()
        return any(isinstance(part, ast.Name) and part.id in self.names for part in parts)


def called(call: ast.Call) -> str:
    match call.func:
        case ast.Name(id=name) | ast.Attribute(attr=name):
            return name
        case _:
            return ""


def parameters(function: Function) -> list[ast.arg]:
    """Those that are given by place, without self."""
    found = [*function.args.posonlyargs, *function.args.args]
    return found[1:] if found and found[0].arg in ("self", "cls") else found


class Program:
    """All modules of some folders."""

    def __init__(self, root: Path, *folders: str) -> None:
        paths = [path for folder in folders for path in sorted((root / folder).rglob("*.py"))]
        self.modules = [_module(root, path) for path in paths]
        self._known: dict[ast.AST, set[TextKey]] = {}
        self._calls: dict[str, list[tuple[Module, ast.Call]]] = {}
        for module in self.modules:
            for call in module.calls:
                self._calls.setdefault(called(call), []).append((module, call))
        self._sayers: dict[tuple[str, bool], tuple[Function, int]] = {
            (function.name, module.is_method(function)): (function, parameters(function).index(key))
            for module in self.modules
            for function in module.functions
            if function.args.kwarg
            for key in parameters(function)
            if module.takes_key(key.annotation) or _is_generic(key.annotation)
        }

    def sayings(self) -> Iterator[Saying]:
        for module in self.modules:
            for call in module.calls if module.names else ():
                kind = (called(call), isinstance(call.func, ast.Attribute))
                by = self._sayers.get(kind)
                own = [one for one in module.functions if (one.name, module.is_method(one)) == kind]
                if by is not None and len(call.args) > by[1] and all(one.args.kwarg for one in own):
                    key = call.args[by[1]]
                    if not isinstance(key, NOT_A_KEY) and not self._passes_on(module, call, key):
                        yield self._saying(module, call, by[0], key)

    def _saying(self, module: Module, call: ast.Call, function: Function, key: ast.expr) -> Saying:
        """What is given by place under the name of a value, as rows may be, is offered."""
        named = {one.arg for one in parameters(function)}
        values = frozenset(one.arg for one in call.keywords if one.arg and one.arg not in named)
        offered = frozenset(one.arg for one, _ in zip(parameters(function), call.args, strict=False))
        unknown = ""
        for one in (keyword.value for keyword in call.keywords if keyword.arg is None):
            if isinstance(one, ast.Call) and called(one) == "only":
                offered |= {part.arg for part in one.keywords if part.arg}
            elif (names := self._mapped(module, one)) is not None:
                values |= names
            else:
                unknown = ast.unparse(one)
        return Saying(frozenset(self.keys(module, key, ())), values, offered, unknown, f"{module.name}:{call.lineno}")

    def _mapped(self, module: Module, node: ast.expr) -> frozenset[str] | None:
        """The names in a mapping of values that is written out: here, in a variable, or by a method of the module."""
        match node:
            case ast.Dict(keys=keys) if all(isinstance(key, ast.Constant) for key in keys):
                return frozenset(str(key.value) for key in keys if isinstance(key, ast.Constant))
            case ast.Name(id=name) if (function := module.function(node)) is not None:
                found = [self._mapped(module, value) for value in _bound(function, name)]
            case ast.Call():
                bodies = [one for one in module.functions if one.name == called(node)]
                returns = [one for body in bodies for one in ast.walk(body) if isinstance(one, ast.Return)]
                found = [self._mapped(module, one.value) for one in returns if one.value]
            case _:
                return None
        return found[0] if len(found) == 1 else None

    def _passes_on(self, module: Module, call: ast.Call, key: ast.expr) -> bool:
        """Whether a call hands on a key and the values that its own function was given."""
        function = module.function(call)
        kwarg = function.args.kwarg if function else None
        handed = [one.value.id for one in call.keywords if one.arg is None and isinstance(one.value, ast.Name)]
        return kwarg is not None and kwarg.arg in handed and isinstance(key, ast.Name)

    # ---- where a key comes from

    def keys(self, module: Module, node: ast.AST, seen: tuple[ast.AST, ...]) -> set[TextKey]:
        """The keys that an expression may be; empty where that cannot be told."""
        if node in seen or node in self._known:
            return self._known.get(node, set())
        found = self._keys(module, node, (*seen, node))
        self._known[node] = found
        return found

    def _keys(self, module: Module, node: ast.AST, seen: tuple[ast.AST, ...]) -> set[TextKey]:
        match node:
            case ast.Attribute(value=ast.Name(id=name), attr=attr) if name in module.names:
                return {module.names[name][attr]}
            case ast.Attribute(attr=attr):
                return self._field(attr, seen)
            case ast.IfExp(body=one, orelse=other):
                return self.keys(module, one, seen) | self.keys(module, other, seen)
            case ast.BoolOp(values=values) | ast.Tuple(elts=values) | ast.List(elts=values) | ast.Dict(values=values):
                return {key for value in values for key in self.keys(module, value, seen)}
            case ast.Await(value=value) | ast.Subscript(value=value) | ast.Starred(value=value):
                return self.keys(module, value, seen)
            case ast.Name(id=name):
                return self._name(module, node, name, seen)
            case ast.Call(func=ast.Name(id=name), args=[part]) if name in module.names:
                return self._made(module, node, module.names[name], part)
            case ast.Call(func=ast.Attribute(value=table, attr="items" | "values")):
                return self.keys(module, table, seen)
            case ast.Call():
                return self._returned(called(node), seen)
            case _:
                return set()

    def _made(self, module: Module, call: ast.AST, made: type[TextKey], part: ast.expr) -> set[TextKey]:
        """Keys whose name is put together, by the reasons that the match case around it lists."""
        if not isinstance(part, ast.JoinedStr) or not isinstance(part.values[0], ast.Constant):
            return set()
        prefix = str(part.values[0].value)
        cases = [up for up in module.around(call) if isinstance(up, ast.match_case)]
        listed = (
            {one.attr.lower() for one in ast.walk(cases[0].pattern) if isinstance(one, ast.Attribute)} if cases else ()
        )
        return {key for key in made if key.startswith(prefix) and (not listed or key.removeprefix(prefix) in listed)}

    def _name(self, module: Module, node: ast.AST, name: str, seen: tuple[ast.AST, ...]) -> set[TextKey]:
        function = module.function(node)
        for scope in filter(None, (function, module.tree)):
            found = [self.keys(module, value, seen) for value in _bound(scope, name)]
            if found:
                return set().union(*found)
            if isinstance(scope, Function):
                everything = [*parameters(scope), *scope.args.kwonlyargs]
                if any(one.arg == name for one in everything):
                    return self._argument(module, scope, name, seen)
        return set()

    def _argument(self, home: Module, function: Function, name: str, seen: tuple[ast.AST, ...]) -> set[TextKey]:
        """What a function is given for an argument; one of its module alone only there."""
        names = [one.arg for one in parameters(function)]
        found: set[TextKey] = set()
        for module, call in self._calls.get(function.name, ()):
            if function.name.startswith("_") and module is not home:
                continue
            given = dict(zip(names, call.args, strict=False)) | {one.arg: one.value for one in call.keywords}
            if name in given:
                found |= self.keys(module, given[name], seen)
        return found

    def _field(self, name: str, seen: tuple[ast.AST, ...]) -> set[TextKey]:
        """What the field of a class that holds a key is made with."""
        found: set[TextKey] = set()
        for module in self.modules:
            owners = {
                node.name
                for node in module.tree.body
                if module.names and isinstance(node, ast.ClassDef)
                for part in node.body
                if isinstance(part, ast.AnnAssign) and isinstance(part.target, ast.Name) and part.target.id == name
                if module.takes_key(part.annotation)
            }
            for other, call in (one for owner in owners for one in self._calls.get(owner, ())):
                for value in (*call.args, *(one.value for one in call.keywords)):
                    found |= self.keys(other, value, seen)
        return found

    def _returned(self, name: str, seen: tuple[ast.AST, ...]) -> set[TextKey]:
        found: set[TextKey] = set()
        for module in self.modules:
            for function in module.functions:
                if function.name == name and module.takes_key(function.returns):
                    for node in ast.walk(function):
                        if isinstance(node, ast.Return) and node.value:
                            found |= self.keys(module, node.value, seen)
        return found


def _bound(scope: ast.AST, name: str) -> Iterator[ast.expr]:
    """What a name is set to in a scope, or runs through."""
    for node in ast.walk(scope):
        match node:
            case ast.Assign(targets=targets, value=value) if any(_binds(target, name) for target in targets):
                yield value
            case ast.AnnAssign(target=target, value=ast.expr() as value) if _binds(target, name):
                yield value
            case ast.For(target=target, iter=value) | ast.comprehension(target=target, iter=value) if _binds(
                target, name
            ):
                yield value
            case ast.NamedExpr(target=target, value=value) if _binds(target, name):
                yield value


def _binds(target: ast.AST, name: str) -> bool:
    return any(isinstance(part, ast.Name) and part.id == name for part in ast.walk(target))


def _is_generic(annotation: ast.AST | None) -> bool:
    return isinstance(annotation, ast.Name) and annotation.id == "AnyKey"


def _module(root: Path, path: Path) -> Module:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    name = path.relative_to(root).with_suffix("").as_posix().replace("/", ".")
    names: dict[str, type[TextKey]] = {}
    for node in tree.body:
        match node:
            case ast.ImportFrom(module=str() as source, names=imported):
                names.update((one.asname or one.name, key) for one in imported for key in _keys(source, one.name))
            case ast.ClassDef(name=own):
                names.update((own, key) for key in _keys(name, own))
    return Module(path.relative_to(root).as_posix(), tree, names)


def _keys(module: str, name: str) -> Iterator[type[TextKey]]:
    """The catalogue of texts that a module has under a name, where it is one."""
    found = getattr(import_module(module), name, None) if name.endswith("Key") else None
    if isinstance(found, type) and issubclass(found, TextKey) and found is not TextKey:
        yield found
