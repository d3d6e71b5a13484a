"""Slopes and bends of a formula at the values of its inputs.

Slopes come from the `uncertainties` package, which differentiates exactly; where a Python function takes plain
numbers only, they come from differences. Bends are differences of slopes.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from riskkit.evidence.answers import EvidenceError
from riskkit.evidence.formulas import KINKED, Formula

if TYPE_CHECKING:
    from riskkit.evidence.budgets import Budget

STEP = 0.1
"""Step of a difference, in standard uncertainties: small against them, large against rounding."""

Values = Mapping[str, float]


class NoValue(EvidenceError):
    """The formula has no value, or no slope, where it was asked for one."""


@dataclass(frozen=True, slots=True)
class Bends:
    """What terms of second order add (JCGM 100, note to 5.1.2, written for independent normal inputs).

    Attributes:
        u: Standard uncertainty with the second-order terms.
        shift: By how much the mean lies above the formula's value at the best estimates.
    """

    u: float
    shift: float


def value_at(budget: Budget, values: Values) -> float:
    """The formula's value as a finite number.

    Raises:
        EvidenceError: where it has none there.
    """
    try:
        answer = _called(budget, values, _plain_functions())
        number = float(answer) if not isinstance(answer, complex) else math.nan
    except (ValueError, ArithmeticError) as error:
        raise _no_value(error) from None
    except TypeError as error:
        raise EvidenceError(
            f"the function cannot be called with the inputs: {error}",
            f"it must take {', '.join(budget.inputs)} by name and give one number",
        ) from None
    if not math.isfinite(number):
        raise _no_value()
    return number


def slopes_at(budget: Budget, values: Values) -> dict[str, float]:
    """The partial derivative by each input, per unit of that input.

    Raises:
        EvidenceError: where the formula has no value or no slope there.
    """
    from uncertainties import UFloat, ufloat

    marked = {name: ufloat(value, 1.0) for name, value in values.items()}
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", FutureWarning)  # the package warns of `abs` in a function of the caller's
            answer = _called(budget, marked, _sloped_functions())
    except (TypeError, AttributeError):
        # A function of plain numbers: `math.sqrt` and the like. If it is wrong in itself, `value_at` says so.
        return _differences(budget, values)
    except (ValueError, ArithmeticError) as error:
        raise _no_value(error) from None
    slopes = answer.derivatives if isinstance(answer, UFloat) else {}
    told = {name: float(slopes.get(mark, 0.0)) for name, mark in marked.items()}
    for name, slope in told.items():
        if not math.isfinite(slope):
            raise NoValue(
                f"the formula has no slope by `{name}` at the values given",
                "look for a root or a power at 0; Monte Carlo needs no slope",
            )
    return told


def refuse_kinks(budget: Budget) -> None:
    """Refuse `min` and `max`, and `abs` within three standard uncertainties of its kink.

    Raises:
        EvidenceError: naming the function.
    """
    if not isinstance(budget.formula, Formula):
        return
    for function in KINKED:
        for inner in budget.formula.parts_of(function):
            if function == "abs" and (not inner.names or _far_from_0(budget.below(inner))):
                continue
            raise EvidenceError(
                f"`{function}` has a kink, at which first order does not hold",
                "ask for Monte Carlo, which needs no slope",
            )


def _far_from_0(inside: Budget) -> bool:
    import numpy as np

    slopes = slopes_at(inside, inside.values)
    u = float(np.linalg.norm(np.array([slopes[name] for name in inside.inputs]) @ inside.axes()))
    return abs(value_at(inside, inside.values)) > 3 * u


def bends_of(budget: Budget, slopes: Mapping[str, float]) -> Bends:
    """Second-order terms, from slopes a fraction of the uncertainties away.

    Correlated inputs are turned into independent ones along the axes of their covariance first.

    Raises:
        EvidenceError: where the formula has no value or slope so near.
    """
    import numpy as np

    axes = budget.axes()
    names = tuple(budget.inputs)
    centre = axes.T @ np.array([slopes[name] for name in names])
    hessian = np.zeros((axes.shape[1], axes.shape[1]))
    third = np.zeros_like(hessian)
    for number, axis in enumerate(axes.T):
        there = {}
        for steps in (-2, -1, 1, 2):
            moved = {
                name: budget.inputs[name].value + steps * STEP * way for name, way in zip(names, axis, strict=True)
            }
            near = slopes_at(budget, MappingProxyType(moved))
            there[steps] = axes.T @ np.array([near[name] for name in names])
        hessian[number] = (there[-2] - 8 * there[-1] + 8 * there[1] - there[2]) / (12 * STEP)
        third[number] = (-there[-2] + 16 * there[-1] - 30 * centre + 16 * there[1] - there[2]) / (12 * STEP**2)
    variance = float(centre @ centre + 0.5 * np.sum(hessian**2) + np.sum(third @ centre))
    return Bends(math.sqrt(max(variance, 0.0)), 0.5 * float(np.trace(hessian)))


def _called(budget: Budget, values: Mapping[str, Any], functions: Mapping[str, Callable[..., Any]]) -> Any:
    if isinstance(budget.formula, Formula):
        return budget.formula(values, functions)
    assert not isinstance(budget.formula, str), "a budget reads its formula when it is made"
    return budget.formula(**values)


def _differences(budget: Budget, values: Values) -> dict[str, float]:
    """Slopes from four values each, exact up to the fourth power of the step."""
    slopes = {}
    for name, value in values.items():
        step = STEP / 10 * budget.inputs[name].u or 1e-3 * abs(value) or 1e-3
        at = {steps: value_at(budget, {**values, name: value + steps * step}) for steps in (-2, -1, 1, 2)}
        slopes[name] = (at[-2] - 8 * at[-1] + 8 * at[1] - at[2]) / (12 * step)
    return slopes


def _plain_functions() -> Mapping[str, Callable[..., Any]]:
    named = {
        name: getattr(math, name)
        for name in ("sqrt", "exp", "log", "log10", "sin", "cos", "tan", "asin", "acos", "atan")
    }
    return named | {"abs": abs, "min": min, "max": max}


def _sloped_functions() -> Mapping[str, Callable[..., Any]]:
    from uncertainties import nominal_value, umath

    names = ("sqrt", "exp", "log", "log10", "sin", "cos", "tan", "asin", "acos", "atan")
    named: dict[str, Callable[..., Any]] = {name: getattr(umath, name) for name in names}
    return named | {
        "abs": lambda value: value if nominal_value(value) >= 0 else -value,
        "min": lambda *values: min(values, key=nominal_value),
        "max": lambda *values: max(values, key=nominal_value),
    }


def _no_value(error: Exception | None = None) -> NoValue:
    match error:
        case ZeroDivisionError():
            why = ": it divides by 0"
        case OverflowError():
            why = ": a number in it is too large to be held"
        case _:
            why = ""
    return NoValue(
        f"the formula has no value at the values given{why}",
        "look for a division by 0, or a root, a power or a logarithm of a number that has none",
    )
