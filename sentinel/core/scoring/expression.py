"""Conditions on device values, such as `C > 0 and M == Y and total < 250`, for all patches at once.

Names are inks (`C`), places (`ink1`), `total`, `most`, `least` and `used` (how many inks are above 0). Comparisons,
`and`, `or`, `not`, `+ - * /`, numbers and brackets are all there is; nothing else of Python is let in.
"""

from __future__ import annotations

import ast
import operator
import sys
from collections.abc import Callable, Mapping
from functools import reduce
from typing import Any

Values = Any
"""A number, or an array with one for each patch: whatever knows Python's operators."""

_COMPARE: dict[type[ast.cmpop], Callable[[Values, Values], Values]] = {
    ast.Lt: operator.lt,
    ast.LtE: operator.le,
    ast.Gt: operator.gt,
    ast.GtE: operator.ge,
    ast.Eq: operator.eq,
    ast.NotEq: operator.ne,
}
_ARITHMETIC: dict[type[ast.operator], Callable[[Values, Values], Values]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
}
LONGEST = 500


class ExpressionError(ValueError):
    """A condition that cannot be understood."""


class Expression:
    """A parsed condition; `names` are those it uses."""

    def __init__(self, text: str) -> None:
        """Raises ExpressionError where the text is no condition on device values."""
        self._text = text[:LONGEST]
        if len(text) > LONGEST:
            raise ExpressionError(f"expected a condition of at most {LONGEST} characters, got {len(text)}")
        try:
            self._tree = ast.parse(text.strip(), mode="eval").body
        except (SyntaxError, ValueError, RecursionError, MemoryError):
            raise self._wrong("expected a condition such as 'C > 0 and M == Y'") from None
        self._check(self._tree, condition=True)
        self.names = _names(self._tree)

    def __call__(self, values: Mapping[str, Values]) -> Values:
        """Which patches fulfil it, given the values of all its names; a single truth where it uses none."""
        return self._condition(self._tree, values)

    def _check(self, node: ast.expr, condition: bool) -> None:
        """Refuses whatever is neither a condition nor a number where it should be one."""
        match node:
            case ast.BoolOp(values=parts) if condition:
                pass
            case ast.UnaryOp(op=ast.Not(), operand=part) if condition:
                parts = [part]
            case ast.Compare(left=left, ops=ops, comparators=others) if condition and all(
                type(op) in _COMPARE for op in ops
            ):
                condition, parts = False, [left, *others]
            case ast.BinOp(left=left, right=right, op=op) if not condition and type(op) in _ARITHMETIC:
                parts = [left, right]
            case ast.UnaryOp(op=ast.USub(), operand=part) if not condition:
                parts = [part]
            case ast.Name() if not condition:
                parts = []
            case ast.Constant(value=int() | float() as value) if not condition and not isinstance(value, bool):
                parts = []
            case _:
                raise self._wrong("expected inks, numbers and comparisons alone")
        for part in parts:
            self._check(part, condition)
        self._check_arithmetic(node)

    def _check_arithmetic(self, node: ast.expr) -> None:
        """Refuses what Python would raise for; ink amounts are arrays, which do not."""
        match node:
            case ast.Constant(value=int() | float() as value) if abs(value) > sys.float_info.max:
                raise self._wrong("expected numbers of a usual size")
            case ast.BinOp(op=ast.Div(), right=divisor) if not _names(divisor) and self._number(divisor, {}) == 0:
                raise self._wrong("expected no division by nought")

    def _condition(self, node: ast.expr, values: Mapping[str, Values]) -> Values:
        match node:
            case ast.BoolOp(op=ast.And()):
                return reduce(operator.and_, (self._condition(part, values) for part in node.values))
            case ast.BoolOp():
                return reduce(operator.or_, (self._condition(part, values) for part in node.values))
            case ast.UnaryOp():
                return operator.xor(self._condition(node.operand, values), True)
            case ast.Compare():
                sides = [self._number(side, values) for side in (node.left, *node.comparators)]
                steps = zip(node.ops, sides, sides[1:], strict=False)
                return reduce(operator.and_, (_COMPARE[type(op)](left, right) for op, left, right in steps))
        raise self._wrong("expected a comparison")

    def _number(self, node: ast.expr, values: Mapping[str, Values]) -> Values:
        match node:
            case ast.Constant():
                return float(node.value)  # type: ignore[arg-type]
            case ast.Name():
                return values[node.id]
            case ast.UnaryOp():
                return -self._number(node.operand, values)
            case ast.BinOp():
                return _ARITHMETIC[type(node.op)](self._number(node.left, values), self._number(node.right, values))
        raise self._wrong("expected a number")

    def _wrong(self, expected: str) -> ExpressionError:
        return ExpressionError(f"{expected}, got {self._text!r}")


def _names(tree: ast.expr) -> set[str]:
    return {node.id for node in ast.walk(tree) if isinstance(node, ast.Name)}
