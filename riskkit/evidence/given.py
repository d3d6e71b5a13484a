"""Numbers as they are given: what is no number, no count and no probability is refused in one sentence."""

from __future__ import annotations

from typing import Any

from riskkit.evidence.answers import EvidenceError, refuse_count, refuse_probability, refuse_sides
from riskkit.evidence.refusals import LARGEST, refuse_number

MOST_RUNS = 10**12
"""More runs than this are refused: nobody counts so far, and a computed bound loses its last digits there."""

_SMALLEST = 1 / LARGEST

_NEAREST = 1e-15
"""A level below this is no longer told from 0 once it is taken from 1."""


def number(value: Any, what: str) -> float:
    """The value as a finite number.

    Raises:
        EvidenceError: for words, truth values, lists, infinity and what is not a number.
    """
    if type(value) is float and -LARGEST < value < LARGEST:
        return value
    if type(value) is int and abs(value) > LARGEST:
        raise EvidenceError(f"{what} is too large a number to calculate with", f"give {what} again")
    return refuse_number(value, what)


def number_above_zero(value: Any, what: str) -> float:
    """The value as a number above zero, neither so small nor so large that a result would overflow.

    Raises:
        EvidenceError: naming what was expected.
    """
    if type(value) in (float, int) and _SMALLEST < value < LARGEST:
        return float(value)
    return refuse_number(number(value, what), what, above=0)


def probability(value: Any, what: str, *, ends: bool = False) -> float:
    """The value as a probability between 0 and 1; with `ends`, 0 and 1 too.

    Raises:
        EvidenceError: naming what was expected.
    """
    if type(value) is float and _NEAREST < value < 1:
        return value
    told = refuse_probability(number(value, what), what, ends=ends)
    if told < _NEAREST and not ends:
        raise EvidenceError(f"{what} is {told:g}, too near to 0 to calculate with", f"give {what} again")
    return told


def count(value: Any, what: str, *, least: int = 0) -> int:
    """The value as a whole number from `least` to 10^12.

    Raises:
        EvidenceError: naming what was expected.
    """
    whole: int = value
    if type(value) is not int or value < least:
        whole = refuse_count(value if type(value) is int else number(value, what), what, least=least)  # type: ignore[arg-type]
    if whole > MOST_RUNS:
        raise EvidenceError(f"{what} is above 10^12, more than is counted here", f"count {what} again")
    return whole


def failures_of_runs(failures: Any, runs: Any) -> tuple[int, int]:
    """Failures and runs: whole numbers, at least one run, no more failures than runs.

    Raises:
        EvidenceError: naming what was expected.
    """
    runs, failures = count(runs, "runs", least=1), count(failures, "failures")
    if failures > runs:
        raise EvidenceError(f"failures is {failures}, more than the {runs} runs", "count both again; a run fails once")
    return failures, runs


def tail(confidence: float, sides: str) -> float:
    """What may lie beyond one end: all of 1 - confidence for a one-sided bound, half of it for each of two ends.

    Raises:
        EvidenceError: for a word that names no side.
    """
    if sides == "two-sided":
        return (1.0 - confidence) / 2
    if sides not in ("upper", "lower"):
        refuse_sides(sides)
    return 1.0 - confidence


def complement(value: float) -> float:
    """1 - value for the decimal that was written, not for the binary fraction next to it.

    With 0.999999999 the two differ in the eighth digit, and a number of runs by dozens.
    """
    from decimal import Decimal

    return float(1 - Decimal(repr(value)))
