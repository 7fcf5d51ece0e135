"""Small faults put into a module, one at a time: what a slip of the hand, or of the thought, would have written."""

from __future__ import annotations

import ast
import copy
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

COMPARED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
}
RECKONED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Div,
    ast.Mod: ast.Mult,
    ast.Pow: ast.Mult,
    ast.MatMult: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
}
SILENT = {"log"}
"""What is only logged is nobody's news."""


@dataclass(frozen=True, slots=True)
class Mutant:
    """A module with one fault in it."""

    module: str
    path: Path
    line: int
    end: int
    what: str
    number: int

    def __str__(self) -> str:
        return f"{self.path}:{self.line} {self.what}"


Change = tuple[str, Callable[[ast.AST], ast.AST]]


def mutants(path: Path) -> list[Mutant]:
    """Every fault that can be put into this module."""
    module = ".".join(path.with_suffix("").parts)
    tree = ast.parse(path.read_text("utf-8"))
    return [
        Mutant(module, path, _line(node, "lineno"), _line(node, "end_lineno"), what, number)
        for number, (node, (what, _)) in enumerate(_places(tree))
    ]


def source(mutant: Mutant) -> ast.Module:
    """The module with that fault, to be compiled."""
    tree = ast.parse(mutant.path.read_text("utf-8"))
    node, (_, change) = list(_places(tree))[mutant.number]
    changed = ast.fix_missing_locations(ast.copy_location(change(copy.deepcopy(node)), node))
    replaced = _Put(node, changed).visit(tree)
    assert isinstance(replaced, ast.Module)
    return ast.fix_missing_locations(replaced)


class _Put(ast.NodeTransformer):
    def __init__(self, old: ast.AST, new: ast.AST) -> None:
        self._old, self._new = old, new

    def visit(self, node: ast.AST) -> ast.AST:
        return self._new if node is self._old else self.generic_visit(node)


def _places(tree: ast.AST) -> Iterator[tuple[ast.AST, Change]]:
    """Every node that can be changed, in the order of the text, with what it becomes; types are left alone."""
    yield from ((tree, change) for change in _changes(tree))
    for name, value in ast.iter_fields(tree):
        if name in ("annotation", "returns", "decorator_list", "type_params"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST) and not _is_type_alias(child):
                yield from _places(child)


def _is_type_alias(node: ast.AST) -> bool:
    """A name of a type, which nothing at run time looks at: `Hashes = Callable[...]`."""
    return (
        isinstance(node, ast.Assign)
        and isinstance(node.value, ast.Subscript | ast.BinOp)
        and isinstance(node.targets[0], ast.Name)
        and node.targets[0].id[0].isupper()
        and not node.targets[0].id.isupper()
    )


def _changes(node: ast.AST) -> Iterator[Change]:
    yield from _changed_operators(node)
    yield from _changed_statements(node)


def _changed_operators(node: ast.AST) -> Iterator[Change]:
    match node:
        case ast.Compare():
            for place, operator in enumerate(node.ops):
                if (other := COMPARED.get(type(operator))) is not None:
                    yield f"{_name(operator)} -> {_name(other())}", _with_operator(place, other())
        case ast.BoolOp():
            other_bool = ast.Or() if isinstance(node.op, ast.And) else ast.And()
            yield f"{_name(node.op)} -> {_name(other_bool)}", _with(op=other_bool)
        case ast.BinOp() if type(node.op) in RECKONED:
            other_op = RECKONED[type(node.op)]()
            yield f"{_name(node.op)} -> {_name(other_op)}", _with(op=other_op)
        case ast.UnaryOp(op=ast.Not() | ast.USub()):
            yield f"without {_name(node.op)}", lambda old: old.operand  # type: ignore[attr-defined]


def _changed_statements(node: ast.AST) -> Iterator[Change]:
    match node:
        case ast.Constant(value=bool(value)):
            yield f"{value} -> {not value}", _with(value=not value)
        case ast.Constant(value=int(number) | float(number)):
            yield f"{number} -> {number + 1}", _with(value=number + 1)
        case ast.If() | ast.IfExp() | ast.While() if not isinstance(node.test, ast.Compare | ast.UnaryOp):
            yield "the condition turned round", _turned_round
        case ast.Return(value=ast.expr()) if not _is_none(node.value):
            yield "returns nothing", _with(value=ast.Constant(None))
        case ast.Expr(value=ast.Call(func=called)) if not _is_silent(called):
            yield f"without the call of {ast.unparse(called)[:40]}", lambda _: ast.Pass()


def _turned_round(node: ast.AST) -> ast.AST:
    assert isinstance(node, ast.If | ast.IfExp | ast.While)
    node.test = ast.UnaryOp(ast.Not(), node.test)
    return node


def _with(**fields: object) -> Callable[[ast.AST], ast.AST]:
    def change(node: ast.AST) -> ast.AST:
        for name, value in fields.items():
            setattr(node, name, value)
        return node

    return change


def _with_operator(place: int, operator: ast.cmpop) -> Callable[[ast.AST], ast.AST]:
    def change(node: ast.AST) -> ast.AST:
        assert isinstance(node, ast.Compare)
        node.ops[place] = operator
        return node

    return change


def _line(node: ast.AST, which: str) -> int:
    """Of a statement with a body its head alone."""
    if which == "end_lineno" and isinstance(node, ast.If | ast.While):
        node = node.test
    return int(getattr(node, which))


def _name(node: ast.AST) -> str:
    return type(node).__name__


def _is_none(node: ast.expr | None) -> bool:
    return isinstance(node, ast.Constant) and node.value is None


def _is_silent(called: ast.expr) -> bool:
    return isinstance(called, ast.Attribute) and isinstance(called.value, ast.Name) and called.value.id in SILENT
