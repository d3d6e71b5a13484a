"""The bound without scipy is the bound with it."""

from __future__ import annotations

import pytest
from hypothesis import given, strategies as st
from scipy import stats

from riskkit.evidence.few_failures import upper_bound


@given(
    counts=st.integers(1, 10_000).flatmap(lambda runs: st.tuples(st.integers(0, min(runs, 50)), st.just(runs))),
    confidence=st.sampled_from([0.5, 0.8, 0.9, 0.95, 0.9746794344808963, 0.99, 0.999999]),
)
def test_it_agrees_with_scipy(counts: tuple[int, int], confidence: float) -> None:
    failures, runs = counts
    expected = 1.0 if failures == runs else stats.beta.ppf(confidence, failures + 1, runs - failures)
    assert upper_bound(failures, runs, confidence) == pytest.approx(expected, rel=1e-11)


def test_one_failure_in_twenty() -> None:
    # Clopper-Pearson 1 of 20, one-sided 95 %: 0.216 (standard table value, from memory).
    assert upper_bound(1, 20, 0.95) == pytest.approx(0.2161, abs=5e-5)
