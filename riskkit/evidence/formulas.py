"""Formulas as people type them: `(rho_w - rho_a) * g * h * cos(tilt)`.

A formula is read with Python's own parser, and nothing is let through but numbers, names, + - * / **,
parentheses and the functions listed here. It is worked out by walking along what was read, so that one
formula serves plain numbers, numbers with uncertainty, and arrays of a million trials.
"""

from __future__ import annotations

import ast
import difflib
import keyword
import math
import operator
import re
import unicodedata
import warnings
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from riskkit.evidence.answers import EvidenceError

FUNCTIONS = ("sqrt", "exp", "log", "log10", "sin", "cos", "tan", "asin", "acos", "atan", "abs", "min", "max")
"""`log` is the natural logarithm; angles are in radian inside a formula."""

KINKED = ("abs", "min", "max")
"""Functions with a kink, at which there is no slope."""

LONGEST = 1000
"""Characters of a formula; longer ones are refused."""

_OPERATORS: Mapping[type[ast.AST], Callable[..., Any]] = MappingProxyType(
    {
        ast.Add: operator.add,
        ast.Sub: operator.sub,
        ast.Mult: operator.mul,
        ast.Div: operator.truediv,
        ast.Pow: operator.pow,
        ast.UAdd: operator.pos,
        ast.USub: operator.neg,
    }
)
_SIGNS = str.maketrans({"·": "*", "⋅": "*", "×": "*", "−": "-", "–": "-", "÷": "/", "\u00a0": " ", "\u2009": " "})
_ALLOWED = f"numbers, names, + - * / **, parentheses and {', '.join(FUNCTIONS)}"


@dataclass(frozen=True, slots=True)
class Formula:
    """A formula that holds nothing but arithmetic.

    Attributes:
        text: As it was typed.
        names: The names in it, in the order in which they stand; `pi` is not one of them.
        tree: What was read.
    """

    text: str
    names: tuple[str, ...]
    tree: ast.expr = field(repr=False, compare=False)

    def __call__(self, values: Mapping[str, Any], functions: Mapping[str, Callable[..., Any]]) -> Any:
        """Work it out.

        Args:
            values: A value for each of `names`: numbers, numbers with uncertainty or arrays, all of one kind.
            functions: What stands behind the names in `FUNCTIONS` for that kind of value.
        """
        return _worked_out(self.tree, values, functions)

    def parts_of(self, function: str) -> tuple[Formula, ...]:
        """The formulas that a function is used on, such as `x - 1` for `abs` in `2 * abs(x - 1)`."""
        calls = [node for node in ast.walk(self.tree) if isinstance(node, ast.Call) and called(node) == function]
        return tuple(Formula(ast.unparse(inner), _names(inner), inner) for node in calls for inner in node.args)


def read_formula(text: str) -> Formula:
    """Read a formula.

    Raises:
        EvidenceError: one sentence for anything that is no plain arithmetic.
    """
    if not isinstance(text, str) or not text.strip():
        raise EvidenceError("the formula is empty", "write it as `(rho_w - rho_a) * g * h`")
    if len(text) > LONGEST:
        raise EvidenceError(
            f"the formula has {len(text)} characters, and {LONGEST} is the most", "split it into budgets"
        )
    plain = " ".join(text.translate(_SIGNS).split())
    if "#" in plain:
        raise EvidenceError("the formula has a # in it", "put remarks behind the formula's quotes, or take them out")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what the parser has to say of `2if` is said below
            tree = ast.parse(plain, mode="eval").body
    except (SyntaxError, ValueError, RecursionError, MemoryError) as error:
        raise _unreadable(plain, error) from None
    for node in ast.walk(tree):
        _refuse_foreign(node, plain)
    return Formula(plain, _names(tree), tree)


def called(node: ast.Call) -> str:
    """The name of the function that is called."""
    return node.func.id if isinstance(node.func, ast.Name) else ""


def refuse_name(name: str) -> str:
    """The name as the parser reads it, if it can stand in a formula.

    Raises:
        EvidenceError: for words that are no names, words of the language, functions and `pi`.
    """
    plain = unicodedata.normalize("NFKC", str(name))
    if not plain.isidentifier():
        raise EvidenceError(
            f"`{name}` cannot be the name of an input", "use letters, digits and _, a letter first: `rho_w`"
        )
    if keyword.iskeyword(plain) or plain in FUNCTIONS or plain == "pi":
        raise EvidenceError(f"`{name}` has a meaning of its own in a formula", f"name the input `{plain}_1`")
    return plain


def nearest(word: str, choices: tuple[str, ...]) -> str | None:
    """The choice that a word was probably meant to be, or None."""
    found = difflib.get_close_matches(word, choices, n=1, cutoff=0.6)
    return found[0] if found else None


def _names(tree: ast.expr) -> tuple[str, ...]:
    functions = {id(node.func) for node in ast.walk(tree) if isinstance(node, ast.Call)}
    found = [node for node in ast.walk(tree) if isinstance(node, ast.Name) and id(node) not in functions]
    found.sort(key=lambda node: (node.lineno, node.col_offset))
    return tuple(dict.fromkeys(node.id for node in found if node.id != "pi"))


def _worked_out(node: ast.expr, values: Mapping[str, Any], functions: Mapping[str, Callable[..., Any]]) -> Any:
    match node:
        case ast.Constant(value=number):
            return float(number)  # type: ignore[arg-type]
        case ast.Name(id=name):
            return math.pi if name == "pi" else values[name]
        case ast.BinOp(left=left, op=sign, right=right):
            return _OPERATORS[type(sign)](_worked_out(left, values, functions), _worked_out(right, values, functions))
        case ast.UnaryOp(op=sign, operand=inner):
            return _OPERATORS[type(sign)](_worked_out(inner, values, functions))
        case ast.Call():
            return functions[called(node)](*(_worked_out(inner, values, functions) for inner in node.args))
    raise AssertionError("nothing else is let through")


def _refuse_foreign(node: ast.AST, text: str) -> None:
    """Let through what is arithmetic; say of anything else what it is and what to write."""
    match node:
        case ast.Constant(value=number) if type(number) in (int, float) and math.isfinite(_as_float(number)):
            return
        case ast.Name() | ast.Load() | ast.Add() | ast.Sub() | ast.Mult() | ast.Div() | ast.Pow():
            return
        case ast.UAdd() | ast.USub() | ast.BinOp() | ast.UnaryOp():
            return
        case ast.Call(func=ast.Name(id=name), args=inner, keywords=[]):
            _refuse_call(name, len(inner), any(isinstance(each, ast.Starred) for each in inner))
        case ast.BitXor():
            raise EvidenceError(f"`^` in `{_short(text)}` is no power here", "write a power as `h**2`")
        case ast.Attribute():
            raise EvidenceError(
                f"`{_short(ast.unparse(node))}` has a dot, and a formula knows plain names only",
                "write `sqrt(x)`, not `math.sqrt(x)`",
            )
        case ast.Tuple():
            raise EvidenceError(
                f"a comma in `{_short(text)}` stands outside a function", "write decimals with a point: 0.5"
            )
        case ast.Constant():
            raise EvidenceError(f"`{_short(ast.unparse(node))}` is not a number that a formula can hold", _allowed())
        case ast.operator() | ast.unaryop() | ast.expr_context():
            raise EvidenceError(f"`{_short(text)}` uses a sign that a formula does not know", _allowed())
        case _:
            raise EvidenceError(f"`{_short(ast.unparse(node))}` is not arithmetic", _allowed())


def _refuse_call(name: str, arguments: int, starred: bool) -> None:
    if name not in FUNCTIONS:
        guess = nearest(name, FUNCTIONS)
        help = f"did you mean `{guess}`?" if guess else f"the functions are {', '.join(FUNCTIONS)}"
        raise EvidenceError(f"there is no function `{name}` in formulas", help)
    if starred or (arguments < 2 if name in ("min", "max") else arguments != 1):
        wanted = "two or more values" if name in ("min", "max") else "one value"
        raise EvidenceError(
            f"`{name}` works on {wanted}, and {arguments} stand in its parentheses",
            f"write `{name}(x{', y' if wanted[0] == 't' else ''})`",
        )


def _unreadable(text: str, error: BaseException) -> EvidenceError:
    column = getattr(error, "offset", None)
    at = f" at `{text[column - 1 : column + 11].strip()}`" if column and column <= len(text) else ""
    for word in re.findall(r"[^\W\d]\w*", text):
        if keyword.iskeyword(word):
            return EvidenceError(
                f"`{word}` in the formula is a word of the language it is read with", f"name the input `{word}_1`"
            )
    if re.search(r"\d\s*[^\W\d]", text) and not re.search(r"\d[eE][-+]?\d", text):
        return EvidenceError(f"`{_short(text)}` cannot be read{at}", "write a product with *, such as `2 * x`")
    if "=" in text:
        return EvidenceError(f"`{_short(text)}` has an equals sign", "write only what stands right of it")
    return EvidenceError(f"`{_short(text)}` cannot be read{at}", f"check signs and parentheses; {_allowed()}")


def _allowed() -> str:
    return f"a formula holds {_ALLOWED}"


def _as_float(number: Any) -> float:
    try:
        return float(number)
    except OverflowError:
        return math.inf


def _short(text: str) -> str:
    return text if len(text) <= 60 else f"{text[:57]}..."
