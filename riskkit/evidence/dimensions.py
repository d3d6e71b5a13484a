"""Whether a formula's units fit together, and in what its answer is measured."""

from __future__ import annotations

import ast
from collections.abc import Mapping

from riskkit.evidence.answers import EvidenceError
from riskkit.evidence.formulas import Formula, called
from riskkit.units import Dimension

_PLAIN = Dimension()


def dimension_of(formula: Formula, inputs: Mapping[str, Dimension]) -> Dimension:
    """The dimension of what a formula gives.

    Args:
        formula: A formula.
        inputs: The dimension of each name in it.

    Raises:
        EvidenceError: where things of different dimension are added or compared, or a function or an exponent is
            given something with a unit.
    """
    return _of(formula.tree, inputs)


def _of(node: ast.expr, inputs: Mapping[str, Dimension]) -> Dimension:
    match node:
        case ast.Name(id=name):
            return inputs.get(name, _PLAIN)
        case ast.UnaryOp(operand=inner):
            return _of(inner, inputs)
        case ast.BinOp(left=left, op=ast.Pow(), right=right):
            return _power(left, right, inputs)
        case ast.BinOp(left=left, op=ast.Mult(), right=right):
            return _of(left, inputs) * _of(right, inputs)
        case ast.BinOp(left=left, op=ast.Div(), right=right):
            return _of(left, inputs) / _of(right, inputs)
        case ast.BinOp(left=left, right=right, op=sign):
            return _alike((left, right), inputs, "added" if isinstance(sign, ast.Add) else "subtracted")
        case ast.Call(args=arguments):
            match called(node):
                case "sqrt":
                    return _of(arguments[0], inputs) ** 0.5
                case "abs":
                    return _of(arguments[0], inputs)
                case "min" | "max":
                    return _alike(tuple(arguments), inputs, "compared")
                case function:
                    _plain(arguments[0], inputs, f"`{function}` works on a plain number")
    return _PLAIN


def _alike(nodes: tuple[ast.expr, ...], inputs: Mapping[str, Dimension], done: str) -> Dimension:
    first = _of(nodes[0], inputs)
    for node in nodes[1:]:
        other = _of(node, inputs)
        if other != first:
            raise EvidenceError(
                f"`{_text(nodes[0])}` is {first.words} and `{_text(node)}` is {other.words}: they cannot be {done}",
                "check the formula and the units of its inputs; a number with a unit must be an input of its own",
            )
    return first


def _power(base: ast.expr, exponent: ast.expr, inputs: Mapping[str, Dimension]) -> Dimension:
    _plain(exponent, inputs, "an exponent is a plain number")
    below = _of(base, inputs)
    if below == _PLAIN:
        return _PLAIN
    if any(isinstance(node, ast.Name) and node.id != "pi" for node in ast.walk(exponent)):
        raise EvidenceError(
            f"`{_text(base)}` is {below.words}, and its exponent `{_text(exponent)}` is not a fixed number",
            "write the exponent as a number, or divide by a reference value first",
        )
    try:
        return below ** float(Formula("", (), exponent)({}, {}))
    except (KeyError, TypeError, ValueError, ArithmeticError):
        raise EvidenceError(f"the exponent `{_text(exponent)}` is not a plain number", "write it as a number") from None


def _plain(node: ast.expr, inputs: Mapping[str, Dimension], rule: str) -> None:
    found = _of(node, inputs)
    if found != _PLAIN:
        raise EvidenceError(
            f"{rule}, and `{_text(node)}` is {found.words}", "divide it by a reference value of the same unit"
        )


def _text(node: ast.expr) -> str:
    return ast.unparse(node)
