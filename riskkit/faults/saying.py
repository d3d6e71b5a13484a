"""How probabilities, counts and names of a fault tree are said, in text and in figures alike."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal

DIGITS = 3
WORDS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
UNDERFLOW = "below 1e-300"
WRITTEN_OUT = 10**9
"""Counts below this are written in full; above, in powers of ten."""


def say_probability(probability: float) -> str:
    """A probability to three digits; what is not quite 1 is never written as 1."""
    if 0.9995 <= probability < 1:
        return f"1 - {1 - probability:.2g}"
    return f"{probability:.{DIGITS}g}"


def say_product(product: float, factors: Iterable[float]) -> str:
    """The probability that all of some events happen; one below what a computer number holds is not said to be 0."""
    return UNDERFLOW if product == 0 and all(factor > 0 for factor in factors) else say_probability(product)


def say_limits(limits: tuple[float, float]) -> str:
    """Two ends, rounded outwards to three digits: "1.2e-05 to 1.41e-05", "at most 2e-06"."""
    low, high = _rounded(limits[0], ROUND_FLOOR), _rounded(limits[1], ROUND_CEILING)
    return f"at most {high}" if limits[0] <= 0 else f"{low} to {high}"


def say_worth(worth: float) -> str:
    """A ratio such as an achievement worth, to three digits, four next to 1; "infinite" where nothing is left below."""
    if not math.isfinite(worth):
        return "infinite"
    if 1000 <= worth < 1e6:
        return f"{float(f'{worth:.{DIGITS}g}'):,.0f}"
    return f"{worth:.{DIGITS + 1 if 1 < worth < 1.1 else DIGITS}g}"


def say_share(share: float) -> str:
    """A share in per cent; what is not all of it is never written as 100 %."""
    if 0.9995 <= share < 1:
        return "more than 99.9 %"
    return f"{100 * share:.{DIGITS}g} %"


def say_whole(count: int) -> str:
    """A count as people write it: "3,942", "2.03e+41"; exact below a thousand million."""
    return f"{count:,}" if count < WRITTEN_OUT else f"{Decimal(count):.2e}"


def say_number(count: int) -> str:
    """A small whole number as a word."""
    return WORDS[count] if 0 <= count < len(WORDS) else say_whole(count)


def say_list(parts: Sequence[str], most: int = 5, what: str = "more") -> str:
    """ "a", "a and b", "a, b and c", "a, b and 7 more"."""
    shown = list(parts[:most])
    if len(parts) > most:
        shown.append(f"{say_whole(len(parts) - most)} {what}")
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} and {shown[-1]}"


def _rounded(value: float, rounding: str) -> str:
    """Three digits, rounded to one side; a float counts as the shortest number that is written for it."""
    if value == 0:
        return "0"
    exact = Decimal(repr(value))
    step = Decimal(1).scaleb(exact.adjusted() - DIGITS + 1)
    kept = exact.quantize(step, rounding=rounding)
    return f"{float(kept.quantize(step, rounding=ROUND_HALF_EVEN)):.{DIGITS}g}"
