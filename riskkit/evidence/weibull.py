"""How many units or hours show a life, if the shape of its Weibull distribution is assumed."""

from __future__ import annotations

import math
from dataclasses import dataclass

from riskkit.evidence.answers import EvidenceError
from riskkit.evidence.beta import lower_end, upper_end
from riskkit.evidence.binomial import fewest_runs, more_than
from riskkit.evidence.given import complement, count, number_above_zero, probability


@dataclass(frozen=True, slots=True)
class WeibullPlan:
    """A test of units for a fixed time that shows a reliability at a life.

    Attributes:
        units: Units on test; each runs for `test_time` or until it fails, none is replaced.
        test_time: Time that each unit runs, in the unit of `life`.
        life: Life at which the reliability is shown.
        reliability: Proportion of units still working at `life`.
        confidence: One-sided confidence asked for.
        failures: Failures with which the test still shows it.
        shape: The assumed shape of the Weibull distribution.
        achieved_confidence: Confidence that the plan reaches under the assumption.
        assumption: What the plan rests on, as a sentence.
        method: How it was found.
    """

    units: int
    test_time: float
    life: float
    reliability: float
    confidence: float
    failures: int
    shape: float
    achieved_confidence: float
    assumption: str
    method: str = "exact binomial on units, time scaled by the assumed Weibull shape"


def weibull_units(
    life: float, test_time: float, shape: float, reliability: float, confidence: float, failures: int = 0
) -> WeibullPlan:
    """Units to run for a given time each, to show a reliability at a life.

    Without failure: n = ln(1 - C) / ((t / L)^shape ln R), rounded up.

    Args:
        life: Life L at which the reliability is to be shown; above 0.
        test_time: Time t that each unit runs, in the unit of `life`.
        shape: Assumed shape of the Weibull distribution (below 1 early failures, 1 constant rate, above 1 wear).
        reliability: Reliability R at L, between 0 and 1.
        confidence: One-sided confidence C between 0 and 1.
        failures: Failures with which the test still shows it.

    Raises:
        EvidenceError: for numbers that cannot be, and where more than 10^12 units would be needed.

    Source: zero-failure Weibull demonstration (Weibayes subject, IEC 61649); exact binomial for more failures.
    """
    life, test_time = number_above_zero(life, "life"), number_above_zero(test_time, "test time")
    shape, failures = number_above_zero(shape, "shape"), count(failures, "failures")
    reliability, confidence = probability(reliability, "reliability"), probability(confidence, "confidence")
    exponent = shape * math.log(test_time / life)
    # Beyond e^700 or below e^-700 the answer no longer changes: every unit fails, or none ever.
    log_working = math.exp(min(max(exponent, -700.0), 700.0)) * math.log1p(-complement(reliability))
    units = fewest_runs(log_working, complement(confidence), failures)
    achieved = more_than(failures, units, -math.expm1(log_working))
    return WeibullPlan(
        units, test_time, life, reliability, confidence, failures, shape, achieved, _assumption(shape, test_time, life)
    )


def weibull_test_time(
    units: int, life: float, shape: float, reliability: float, confidence: float, failures: int = 0
) -> WeibullPlan:
    """Time that each of the units must run, to show a reliability at a life.

    Without failure: t = L (ln(1 - C) / (n ln R))^(1 / shape).

    Args:
        units: Units on test, more than `failures`.
        life: Life L at which the reliability is to be shown; above 0.
        shape: Assumed shape of the Weibull distribution.
        reliability: Reliability R at L, between 0 and 1.
        confidence: One-sided confidence C between 0 and 1.
        failures: Failures with which the test still shows it.

    Raises:
        EvidenceError: for numbers that cannot be, for no more units than failures, or a time beyond any number.

    Source: as `weibull_units`.
    """
    units, life, failures = count(units, "units", least=1), number_above_zero(life, "life"), count(failures, "failures")
    shape, reliability = number_above_zero(shape, "shape"), probability(reliability, "reliability")
    confidence = probability(confidence, "confidence")
    if failures >= units:
        raise EvidenceError(
            f"{units} units of which {failures} may fail show nothing", "give more units than failures allowed"
        )
    ratio = _log_working(units, failures, complement(confidence)) / math.log1p(-complement(reliability))
    exponent = math.log(ratio) / shape + math.log(life)
    if abs(exponent) > 600:
        raise EvidenceError(
            f"with shape {shape:g} the time is beyond any number", "give more units, or a shape nearer to 1"
        )
    test_time = math.exp(math.log(ratio) / shape) * life if abs(exponent - math.log(life)) < 600 else math.exp(exponent)
    return WeibullPlan(
        units,
        test_time,
        life,
        reliability,
        confidence,
        failures,
        shape,
        confidence,
        _assumption(shape, test_time, life),
    )


def _log_working(units: int, failures: int, risk: float) -> float:
    """Logarithm of the working probability at which so many units pass with probability `risk`."""
    if failures == 0:
        return math.log(risk) / units
    failing = upper_end(failures + 1, units - failures, risk)
    return math.log1p(-failing) if failing < 0.5 else math.log(lower_end(units - failures, failures + 1, risk))


def _assumption(shape: float, test_time: float, life: float) -> str:
    said = (
        f"Life follows a Weibull distribution with shape {shape:g}; the shape is assumed, this test does not show it."
    )
    if test_time > life:
        return f"{said} Units run beyond the life: if the true shape is smaller, the test shows less than stated."
    if test_time < life:
        return f"{said} Units stop before the life: if the true shape is larger, the test shows less than stated."
    return f"{said} Units run for just the life, so that the shape does not matter."
