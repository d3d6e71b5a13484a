"""Probabilities of human error by two published methods; the numbers are nominal values, not measurements.

HEART: Williams, A data-based method for assessing and reducing human error (1988), nominal values and conditions as in a
public copy of the method. THERP: Swain and Guttmann, NUREG/CR-1278 (1983), Tables 20-7, 20-17 and 20-22, from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from riskkit.faults.trees import FaultError

HEART_NOMINAL = MappingProxyType(
    {"A": 0.55, "B": 0.26, "C": 0.16, "D": 0.09, "E": 0.02, "F": 0.003, "G": 0.0004, "H": 0.00002, "M": 0.03}
)
"""Nominal probability of error by kind of task."""


def heart(task: str, conditions: Sequence[tuple[float, float]] = ()) -> float:
    """Probability of error: the nominal value times (effect - 1) x share + 1 for every condition, at most 1.

    Args:
        task: Kind of task, A to H or M.
        conditions: Error-producing conditions, each as greatest effect (1 or more) and assessed share (0 to 1).

    Raises:
        FaultError: for an unknown task, an effect below 1 or a share outside 0 to 1.
    """
    if task not in HEART_NOMINAL:
        raise FaultError(f"HEART has no task of kind `{task}`", f"give one of {', '.join(HEART_NOMINAL)}")
    chance = HEART_NOMINAL[task]
    for effect, share in conditions:
        if not effect >= 1 or not 0 <= share <= 1:
            raise FaultError(
                f"a condition has the effect {effect} and the share {share}", "effect from 1, share from 0 to 1"
            )
        chance *= (effect - 1) * share + 1
    return min(1.0, chance)


@dataclass(frozen=True, slots=True)
class Nominal:
    """A nominal value of THERP: the median, and the error factor (95th percentile / median)."""

    error: str
    probability: float
    error_factor: float
    table: str


THERP_NOMINAL = MappingProxyType(
    {
        "short list, with check-off": Nominal("omits an item of 10 or fewer", 0.001, 3, "20-7"),
        "long list, with check-off": Nominal("omits an item of more than 10", 0.003, 3, "20-7"),
        "short list, without check-off": Nominal("omits an item of 10 or fewer", 0.003, 3, "20-7"),
        "long list, without check-off": Nominal("omits an item of more than 10", 0.01, 3, "20-7"),
        "procedure not used": Nominal("omits an item of a procedure at hand", 0.05, 5, "20-7"),
        "checker with written material": Nominal("does not see another person's error", 0.1, 5, "20-22"),
        "checker without written material": Nominal("does not see another person's error", 0.2, 5, "20-22"),
    }
)
"""Errors of omission with a written procedure, and of checking."""

Dependence = Literal["zero", "low", "moderate", "high", "complete"]


def after_an_error(probability: float, dependence: Dependence) -> float:
    """Probability that a second action fails once the first one has, by how much it depends on the first.

    Source: NUREG/CR-1278 Table 20-17, from memory: p, (1 + 19 p) / 20, (1 + 6 p) / 7, (1 + p) / 2, 1.

    Raises:
        FaultError: for a probability outside 0 to 1 or another degree of dependence.
    """
    if not 0 <= probability <= 1:
        raise FaultError(f"the probability of an error is {probability}, and must lie from 0 to 1", "such as 1e-3")
    parts = {"zero": None, "low": 19, "moderate": 6, "high": 1, "complete": 0}
    if dependence not in parts:
        raise FaultError(f"`{dependence}` is no degree of dependence", f"give one of {', '.join(parts)}")
    part = parts[dependence]
    return probability if part is None else (1 + part * probability) / (part + 1)
