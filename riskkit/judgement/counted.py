"""What was counted in a test: runs, failures, units; and how many runs without a failure show what."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Context, Decimal
from fractions import Fraction

from riskkit.evidence.few_failures import upper_bound
from riskkit.judgement.verdicts import ResultVerdict
from riskkit.model.register import Register
from riskkit.model.verification import Result


@dataclass(frozen=True, slots=True)
class Runs:
    """What was counted in one test: runs, failures, units. A reading that cannot be told counts as failed."""

    test: str
    runs: int
    failures: int
    units: tuple[str, ...]


def runs_of(test: str, judged: Sequence[ResultVerdict], register: Register) -> Runs:
    """Runs, failures and units of one test.

    Where runs were counted, they speak; results that hold readings alone are added only where they fail, so that
    a series of readings taken for their spread is not counted as a series of passes. A result without a unit may
    come from any of the units, so it adds none.
    """
    results = [(each, result) for each in judged if isinstance(result := register.records[each.result], Result)]
    any_counted = any(was_counted(result) for _, result in results)
    runs = failures = 0
    units: dict[str, None] = {}
    for verdict, result in results:
        if any_counted and not was_counted(result) and verdict.word != "does not meet":
            continue
        made, failed = count(verdict, result)
        runs, failures = runs + made, failures + failed
        if made and result.unit is not None:
            units[result.unit] = None
    return Runs(test, runs, failures, tuple(units))


def was_counted(result: Result) -> bool:
    """Whether runs and failures are both written down; runs alone do not say how many of them failed."""
    return bool(result.runs) and result.failures is not None


def count(verdict: ResultVerdict, result: Result) -> tuple[int, int]:
    """Runs and failures of one result; what is not shown to meet its limit counts as failed.

    A result in which something asked for was not read, or whose test has no limit, counts for nothing, unless it
    fails; what was tried at another setting counts for nothing in any case, since the limit says nothing about it.
    """
    kinds = {limit.kind for limit in verdict.limits} or {"nothing"}
    if "conditions" in kinds or (verdict.word == "cannot tell" and "nothing" in kinds and not result.failures):
        return 0, 0
    outside = _not_meeting(verdict, result)
    least = max(outside, 0 if verdict.word == "meets" else 1)
    if result.runs and result.failures is not None:
        return result.runs, min(max(result.failures, least), result.runs)
    read = [len(limit.readings) for limit in verdict.limits if limit.kind == "readings" and result.reported == "each"]
    return max(1, *read, outside), least


def _not_meeting(verdict: ResultVerdict, result: Result) -> int:
    """Runs in which a reading does not meet its limit, or cannot be told.

    Readings of several limits belong to the same runs, in their order, where there are as many of each; where there
    are not, nobody knows which go together, so each counts for itself.
    """
    if result.reported != "each":
        return 0
    read = [limit.readings for limit in verdict.limits if limit.kind == "readings"]
    if len({len(readings) for readings in read}) == 1:
        return sum(any(each.word != "meets" for each in run) for run in zip(*read, strict=True))
    return sum(each.word != "meets" for readings in read for each in readings)


def failing_bound(runs: Runs, level: float, one_unit: Fraction) -> float:
    """One-sided upper bound of the probability of failure; runs on one unit show nothing below `one_unit`."""
    bound = upper_bound(runs.failures, runs.runs, level)
    return max(bound, float(one_unit)) if len(runs.units) < 2 else bound


def failure_free_runs(edge: Fraction, confidence: Fraction, *, strictly: bool = True) -> int:
    """Fewest runs without failure whose one-sided upper bound, 1 - (1 - C)^(1/n), lies below an edge.

    With `strictly=False` it may lie on the edge (the success-run sample size).
    """
    exact = math.log1p(-float(confidence)) / math.log1p(-float(edge))
    runs = max(1, math.ceil(exact - 1e-9))
    on_the_edge = abs(exact - runs) < 1e-9
    return runs + 1 if strictly and on_the_edge else runs


def as_written(p: float) -> Fraction:
    """The number that a float is written as: 0.01 is one in a hundred, and no hair above it."""
    return Fraction(repr(p))


def counted_runs(runs: int) -> str:
    """ "1 run", "20 runs"."""
    return "1 run" if runs == 1 else f"{runs} runs"


def percent(probability: float) -> str:
    """A probability as it is read: in percent down to one in ten thousand, below that as a power of ten."""
    share = probability * 100
    return f"{share:.3g} %" if share >= 99 else f"{share:.2g} %" if probability >= 1e-4 else f"{probability:.2g}"


def at_most(probability: float) -> str:
    """An upper bound as it is read, never rounded to the better side: 0.1391 is at most 14 %."""
    return _rounded(probability, up=True)


def at_least(proportion: float) -> str:
    """A lower bound as it is read, never rounded to the better side: 0.8609 is at least 86 %."""
    return _rounded(proportion, up=False)


def _rounded(share: float, *, up: bool) -> str:
    if share >= 0.99:
        return f"{_digits(share * 100, 3, up)} %"
    return f"{_digits(share * 100, 2, up)} %" if share >= 1e-4 else _digits(share, 2, up)


def _digits(value: float, digits: int, up: bool) -> str:
    # A hair above or below a decimal that was meant is that decimal.
    near = Decimal(f"{value:.10g}")
    return f"{Context(digits, ROUND_CEILING if up else ROUND_FLOOR).plus(near):g}"
