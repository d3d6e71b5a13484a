"""Degrees of freedom and the coverage factor that goes with them (JCGM 100:2008, annex G)."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Literal

from riskkit.evidence.answers import EvidenceError
from riskkit.evidence.refusals import refuse_number

Rounding = Literal["down", "nearest", "none"]
"""What becomes of 18.9987 degrees of freedom: 18, as the text of JCGM 100, G.4.1, asks; 19; or itself."""

ROUNDING_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "down": "cut off to the next lower whole number",
        "nearest": "rounded to the nearest whole number",
        "none": "not rounded",
    }
)

_NOISE = 1e-9
"""A number that misses a whole one by less than this share of itself is that whole one: floating point, not a fact."""


def effective_freedom(
    contributions: Sequence[float], freedoms: Sequence[float], *, rounding: Rounding = "down"
) -> float:
    """Welch-Satterthwaite: degrees of freedom of a combined standard uncertainty (JCGM 100, equation G.2b).

    Args:
        contributions: Standard uncertainties of independent parts, all in the answer's unit or all relative.
        freedoms: Degrees of freedom of each, at least 1; `math.inf` where nothing limits them.
        rounding: "down" makes 18 of 18.9987, "nearest" makes 19 of it, "none" keeps it.

    Returns:
        The effective degrees of freedom, infinite where nothing limits them.

    Raises:
        EvidenceError: for lists of different length, a negative contribution, less than one degree of freedom.
    """
    if len(contributions) != len(freedoms) or not contributions:
        raise EvidenceError(
            f"there are {len(contributions)} contributions and {len(freedoms)} degrees of freedom",
            "give one of each for every part",
        )
    pairs = [
        (
            refuse_number(u, "a contribution", least=0),
            math.inf if freedom == math.inf else refuse_number(freedom, "the number of degrees of freedom", least=1),
        )
        for u, freedom in zip(contributions, freedoms, strict=True)
    ]
    return rounded_freedom(combined_freedom(pairs), rounding)


def combined_freedom(contributions: Sequence[tuple[float, float]]) -> float:
    """(sum of u^2)^2 / sum of u^4 / freedom, not rounded, for pairs of a standard uncertainty and its freedom."""
    largest = max((abs(u) for u, _ in contributions), default=0.0)
    if largest == 0:
        return math.inf
    scaled = [(u / largest, freedom) for u, freedom in contributions]
    below = math.fsum(u**4 / freedom for u, freedom in scaled)
    return math.inf if below < 1e-300 else math.fsum(u**2 for u, _ in scaled) ** 2 / below


def rounded_freedom(freedom: float, rounding: Rounding) -> float:
    """Degrees of freedom by the rule.

    Raises:
        EvidenceError: for a rule that is none of the three.
    """
    if rounding not in ROUNDING_WORDS:
        raise EvidenceError(f"rounding cannot be `{rounding}`", f"give one of {', '.join(ROUNDING_WORDS)}")
    if freedom == math.inf or rounding == "none":
        return freedom
    whole = float(round(freedom))
    if rounding == "nearest" or abs(freedom - whole) <= _NOISE * freedom:
        return whole
    return float(math.floor(freedom))


def coverage_factor(confidence: float, freedom: float) -> float:
    """The factor k that covers `confidence`, two-sided: Student's t, the normal one where freedom is infinite."""
    from decimal import Decimal

    from scipy.special import ndtri, stdtrit

    # The decimal that was written, not the binary fraction next to it: at 0.999999 they differ in the tenth digit.
    below = float((1 - Decimal(repr(float(confidence)))) / 2)
    return -float(ndtri(below) if freedom == math.inf else stdtrit(freedom, below))


def covered_by(k: float, freedom: float) -> float:
    """The level that a coverage factor covers, two-sided."""
    from scipy.special import ndtr, stdtr

    return 1.0 - 2.0 * float(ndtr(-k) if freedom == math.inf else stdtr(freedom, -k))
