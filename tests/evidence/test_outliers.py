"""Outliers are flagged against published examples and tables, and never dropped."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy import stats

from riskkit.evidence.answers import EvidenceError
from riskkit.evidence.outliers import QUESTION, grubbs, rosner

# NIST e-Handbook 1.3.5.17.1, masses by spectrometer (Tietjen and Moore), from memory, high confidence.
MASSES = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]

# NIST e-Handbook 1.3.5.17.3, data of Rosner (1983), from memory, high confidence.
ROSNER = [
    -0.25, 0.68, 0.94, 1.15, 1.20, 1.26, 1.26, 1.34, 1.38, 1.43, 1.49, 1.49, 1.55, 1.56, 1.58, 1.65, 1.69, 1.70,
    1.76, 1.77, 1.81, 1.91, 1.94, 1.96, 1.99, 2.06, 2.09, 2.10, 2.14, 2.15, 2.23, 2.24, 2.26, 2.35, 2.37, 2.40,
    2.47, 2.54, 2.62, 2.64, 2.90, 2.92, 2.92, 2.93, 3.21, 3.26, 3.30, 3.59, 3.68, 4.30, 4.64, 5.34, 5.42, 6.01,
]  # fmt: skip
DISTANCES = [3.119, 2.943, 3.179, 2.810, 2.816, 2.848, 2.279, 2.310, 2.102, 2.067]
CRITICAL = [3.159, 3.151, 3.144, 3.136, 3.128, 3.120, 3.112, 3.103, 3.094, 3.085]


def test_the_mass_example_of_the_handbook() -> None:
    found = grubbs(MASSES, 0.05, "upper")
    (step,) = found.steps
    assert step.statistic == pytest.approx(2.4687, abs=1e-4)  # 2.46876: the last digit is cut there, not rounded
    assert step.critical == pytest.approx(2.032, abs=5e-4)
    assert [look.value for look in found.flagged] == [245.57]
    assert found.flagged[0].place == 8
    assert found.values == tuple(MASSES), "nothing is dropped"
    assert QUESTION in found.because


def test_the_example_of_rosner() -> None:
    found = rosner(ROSNER, 10)
    assert [look.statistic for look in found.steps] == pytest.approx(DISTANCES, abs=6e-4)
    assert [look.critical for look in found.steps] == pytest.approx(CRITICAL, abs=6e-4)
    # Trap: the first two distances are below their critical values; the third decides for all three.
    assert found.steps[0].statistic < found.steps[0].critical
    assert [look.value for look in found.flagged] == [6.01, 5.42, 5.34]
    assert grubbs(ROSNER).flagged == (), "Grubbs alone is blinded by outliers that hide each other"
    assert found.values == tuple(ROSNER)
    assert found.caution == ""
    assert QUESTION in found.because


# Critical values of Grubbs' test, from memory, high confidence: two-sided as ISO 5725-2 prints them, then one-sided.
@pytest.mark.parametrize(
    ("readings", "significance", "sides", "critical"),
    [
        (3, 0.05, "two-sided", 1.155), (5, 0.05, "two-sided", 1.715), (10, 0.05, "two-sided", 2.290),
        (20, 0.05, "two-sided", 2.709), (10, 0.01, "two-sided", 2.482), (20, 0.01, "two-sided", 3.001),
        (10, 0.05, "upper", 2.176), (20, 0.05, "upper", 2.557), (10, 0.05, "lower", 2.176),
    ],
)  # fmt: skip
def test_critical_values_of_the_tables(readings: int, significance: float, sides: str, critical: float) -> None:
    (step,) = grubbs(range(readings), significance, sides).steps  # type: ignore[arg-type]
    assert step.critical == pytest.approx(critical, abs=1.1e-3)


@pytest.mark.parametrize("readings", [3, 10, 1000, 100_000])
@pytest.mark.parametrize("significance", [0.5, 0.05, 1e-6, 1e-12])
def test_critical_values_agree_with_scipy_stats(readings: int, significance: float) -> None:
    (step,) = grubbs(range(readings), significance).steps
    t = stats.t.isf(significance / readings / 2, readings - 2)
    outside = (readings - 1) / math.sqrt(readings) * math.sqrt(t * t / (readings - 2 + t * t))
    assert step.critical == pytest.approx(outside, rel=1e-9)


def test_sides_are_kept_apart() -> None:
    low = [5.0, 5.1, 4.9, 5.05, 4.95, 5.0, 2.0]
    assert grubbs(low, sides="lower").flagged[0].value == 2.0
    assert grubbs(low, sides="two-sided").flagged[0].value == 2.0
    assert grubbs(low, sides="upper").flagged == ()
    assert grubbs([-value for value in low], sides="upper").flagged[0].value == -2.0


def test_false_flags_are_as_rare_as_promised() -> None:
    random = np.random.default_rng(5725)
    draws = 2000
    samples = random.normal(size=(draws, 30))
    for sides in ("two-sided", "upper"):
        seen = sum(bool(grubbs(row.tolist(), 0.05, sides).flagged) for row in samples) / draws  # type: ignore[arg-type]
        assert abs(seen - 0.05) < 4 * math.sqrt(0.05 * 0.95 / draws)  # four Monte Carlo errors
    seen = sum(bool(rosner(row.tolist(), 3, 0.05).flagged) for row in samples[:1000]) / 1000
    assert abs(seen - 0.05) < 4 * math.sqrt(0.05 * 0.95 / 1000) + 0.01  # the level of the test is itself approximate


def test_equal_readings_hold_no_outlier() -> None:
    found = grubbs([17.3] * 6)
    assert found.flagged == found.steps == ()
    assert "all readings are the same" in found.because
    assert grubbs([0.3 - 0.2, 0.1, 0.1]).flagged == (), "the last binary digit is no spread"
    found = rosner([1.0] * 9 + [2.0], 3)
    assert [look.value for look in found.flagged] == [2.0]
    assert len(found.steps) == 1
    assert "approximate" in found.caution


def test_nothing_flagged_is_said_so() -> None:
    found = rosner([1.0, 2.0, 3.0, 4.0], 2)
    assert found.flagged == ()
    assert "no reading stands out" in found.because
    assert len(found.values) == 4


@pytest.mark.parametrize(
    "ask",
    [
        lambda: grubbs([1, 2]),
        lambda: grubbs([]),
        lambda: grubbs([1, 2, math.inf]),
        lambda: grubbs([1, 2, 3], 0),
        lambda: grubbs([1, 2, 3], 0.05, "up"),  # type: ignore[arg-type]
        lambda: rosner([1, 2, 3], 2),
        lambda: rosner([1, 2, 3], 0),
        lambda: rosner([1, 2, 3, 4], 1.5),  # type: ignore[arg-type]
        lambda: rosner([1, 2, 3, 4], math.nan),  # type: ignore[arg-type]
    ],
)
def test_what_cannot_be_tested_is_refused(ask: Callable[[], object]) -> None:
    with pytest.raises(EvidenceError) as refused:
        ask()
    assert refused.value.help
