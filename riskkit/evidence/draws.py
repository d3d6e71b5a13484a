"""Draws the inputs of a budget from what is known about them, and works its formula out for each draw.

Source: JCGM 101:2008, 6.4.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from riskkit.evidence.answers import EvidenceError
from riskkit.evidence.budgets import Budget
from riskkit.evidence.formulas import Formula
from riskkit.evidence.inputs import DIVISORS, Part
from riskkit.evidence.slopes import NoValue, value_at

if TYPE_CHECKING:
    from numpy.random import Generator
    from numpy.typing import NDArray


def refuse_undrawable(budget: Budget) -> None:
    """Refuse budgets whose inputs have no joint distribution that is known.

    Raises:
        EvidenceError: where nothing is uncertain, or a correlated input is not normal with unlimited freedom.
    """
    if not any(known.u > 0 for known in budget.inputs.values()):
        raise EvidenceError("no input has an uncertainty", "say how well each measured input is known")
    for pair in budget.correlations:
        for name in pair:
            if not budget.inputs[name].normal:
                raise EvidenceError(
                    f"`{name}` is correlated and not normal with unlimited degrees of freedom: a correlation alone does "
                    "not say how such inputs are drawn together",
                    "write both as normal, or as functions of inputs that are independent",
                )


def drawn(budget: Budget, generator: Generator, size: int) -> dict[str, NDArray[Any]]:
    """So many values of each input; inputs that are correlated are drawn together."""
    import numpy as np

    together = {name for pair in budget.correlations for name in pair}
    values = {}
    for name, known in budget.inputs.items():
        values[name] = np.full(size, known.value)
        if name not in together:
            for part in known.parts:
                values[name] += _deviations(part, generator, size)
    if together:
        axes = budget.axes()
        moved = generator.standard_normal((size, axes.shape[1])) @ axes.T
        for place, name in enumerate(budget.inputs):
            if name in together:
                values[name] += moved[:, place]
    return values


def worked_out(budget: Budget, values: Mapping[str, NDArray[Any]]) -> NDArray[Any]:
    """The formula's value in every trial.

    Raises:
        EvidenceError: where it has none in some of them.
    """
    import numpy as np

    size = len(next(iter(values.values())))
    with np.errstate(all="ignore"):
        if isinstance(budget.formula, Formula):
            answers = budget.formula(values, _array_functions())
        else:
            answers = _all_at_once(budget, values)
            if answers is None:
                answers = np.array([_or_nothing(budget, values, trial) for trial in range(size)])
    answers = np.broadcast_to(np.asarray(answers, dtype=float), (size,))
    finite = np.isfinite(answers)
    if not finite.all():
        raise EvidenceError(
            f"the formula has no value in {size - int(finite.sum())} of {size} trials: the spread of the inputs reaches "
            "where it ends",
            "look for a division by 0, or a root or a logarithm of something that may fall below 0",
        )
    return answers


def _deviations(part: Part, generator: Generator, size: int) -> NDArray[Any]:
    """Deviations from the best estimate."""
    import numpy as np

    if part.u == 0:
        return np.zeros(size)
    if part.shape == "normal":
        if part.freedom == math.inf:
            return generator.standard_normal(size) * part.u
        return generator.standard_t(part.freedom, size) * part.u
    half_width: Any = part.u * DIVISORS[part.shape]
    if part.freedom < math.inf:
        half_width = half_width * (1 + generator.uniform(-1, 1, size) / math.sqrt(2 * part.freedom))
    match part.shape:
        case "rectangular":
            unit = generator.uniform(-1, 1, size)
        case "triangular":
            unit = generator.uniform(0, 1, size) - generator.uniform(0, 1, size)
        case _:
            unit = np.sin(2 * math.pi * generator.uniform(0, 1, size))
    return np.asarray(half_width * unit)


def _all_at_once(budget: Budget, values: Mapping[str, NDArray[Any]]) -> NDArray[Any] | None:
    """A Python function asked with whole arrays; None where it takes one number at a time or answers differently."""
    import numpy as np

    assert not isinstance(budget.formula, str | Formula)
    few = {name: column[:3] for name, column in values.items()}
    one_by_one = [_or_nothing(budget, values, trial) for trial in range(3)]
    try:
        tried = np.broadcast_to(np.asarray(budget.formula(**few), dtype=float), (3,))
        if not np.allclose(tried, one_by_one, rtol=1e-12, atol=0, equal_nan=True):
            return None
        return np.asarray(budget.formula(**values), dtype=float)
    except (TypeError, ValueError, ArithmeticError, AttributeError):
        return None


def _or_nothing(budget: Budget, values: Mapping[str, NDArray[Any]], trial: int) -> float:
    """One trial of a function of plain numbers; not a number where it has no value there."""
    try:
        return value_at(budget, {name: float(column[trial]) for name, column in values.items()})
    except NoValue:
        return math.nan


def _array_functions() -> Mapping[str, Callable[..., Any]]:
    import numpy as np

    def lowest(*values: Any) -> Any:
        return np.minimum.reduce(np.broadcast_arrays(*values))

    def highest(*values: Any) -> Any:
        return np.maximum.reduce(np.broadcast_arrays(*values))

    return {
        "sqrt": np.sqrt,
        "exp": np.exp,
        "log": np.log,
        "log10": np.log10,
        "sin": np.sin,
        "cos": np.cos,
        "tan": np.tan,
        "asin": np.arcsin,
        "acos": np.arccos,
        "atan": np.arctan,
        "abs": np.abs,
        "min": lowest,
        "max": highest,
    }
