"""Agreement of two results, two methods and two people."""

from __future__ import annotations

import math
import subprocess
import sys
from collections.abc import Callable

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.inter_rater import cohens_kappa

from riskkit.evidence.agreement import compare_results, kappa, limits_of_agreement
from riskkit.evidence.answers import EvidenceError


def test_two_results_within_their_joint_uncertainty() -> None:
    # Constructed on the 3-4-5 triangle: U 0.3 and 0.4 give 0.5 together.
    edge = compare_results(10.0, 0.3, 10.5, 0.4, unit="hPa")
    assert edge.joint_uncertainty == pytest.approx(0.5)
    assert edge.normalised_error == pytest.approx(-1)
    assert edge.word == "agree"
    assert "0.5 hPa" in edge.because
    apart = compare_results(10.0, 0.3, 10.51, 0.4)
    assert apart.word == "disagree"
    assert apart.difference == pytest.approx(-0.51)
    # ISO 13528: E_n = (x - X) / sqrt(U_x^2 + U_X^2), agreement for |E_n| <= 1.
    assert apart.normalised_error == pytest.approx(-1.02)


def test_what_both_share_makes_the_difference_sharper() -> None:
    for correlation in (-1, -0.5, 0, 0.5, 0.9, 0.999999):
        joint = compare_results(1, 0.3, 2, 0.4, correlation).joint_uncertainty
        assert joint == pytest.approx(math.sqrt(0.09 + 0.16 - 2 * correlation * 0.12))
    # Trap: treating a shared instrument as independent hides a real difference.
    assert compare_results(1, 0.3, 1.3, 0.3).word == "agree"
    assert compare_results(1, 0.3, 1.3, 0.3, 0.9).word == "disagree"
    assert compare_results(1, 0.3, 1.05, 0.4, 1).joint_uncertainty == pytest.approx(0.1)


def test_limits_of_agreement_of_two_flow_meters() -> None:
    # CV-43: n 17, mean -2.1, s 38.8 -> upper limit 73.9, 95 % CI (48.9, 120.0). Carkeet 2015 p. e74 on Bland and
    # Altman 1986; read in a public copy.
    found = limits_of_agreement(mean=-2.1, spread=38.8, pairs=17, unit="l/min")
    assert found.upper.estimate == pytest.approx(73.9, abs=0.06)
    assert (found.upper.lower, found.upper.upper) == pytest.approx((48.9, 120.0), abs=0.06)
    assert found.upper.method.startswith("exact")
    # The lower limit is the mirror image about the mean.
    assert found.lower.estimate is not None
    assert found.lower.estimate + found.upper.estimate == pytest.approx(-4.2)
    assert found.lower.lower + found.upper.upper == pytest.approx(-4.2)
    # Trap: the symmetric approximation s sqrt(3/n) of 1986 is not what the exact interval gives.
    assert found.upper.upper - found.upper.estimate > found.upper.estimate - found.upper.lower + 15


@pytest.mark.parametrize("pairs", [2, 3, 17, 400, 50_000])
@pytest.mark.parametrize("confidence", [0.5, 0.95, 0.999])
def test_limits_agree_with_scipy_stats(pairs: int, confidence: float) -> None:
    found = limits_of_agreement(mean=0, spread=1, pairs=pairs, confidence=confidence, proportion=0.9)
    shift = stats.norm.ppf(0.95) * math.sqrt(pairs)
    for level, end in (((1 - confidence) / 2, found.upper.lower), ((1 + confidence) / 2, found.upper.upper)):
        assert end == pytest.approx(stats.nct.ppf(level, pairs - 1, shift) / math.sqrt(pairs), rel=1e-9)
    low, high = stats.t.interval(confidence, pairs - 1, 0, 1 / math.sqrt(pairs))
    assert (found.bias.lower, found.bias.upper) == pytest.approx((low, high), rel=1e-9)


def test_pairs_and_their_summary_give_the_same() -> None:
    first, second = [10.0, 12.5, 9.0, 11.0], [9.5, 12.0, 9.4, 10.1]
    one = limits_of_agreement(first, second)
    off = np.subtract(first, second)
    two = limits_of_agreement(mean=float(off.mean()), spread=float(off.std(ddof=1)), pairs=4)
    assert one.upper.upper == pytest.approx(two.upper.upper)
    assert one.bias.estimate == pytest.approx(off.mean())
    assert "no spread" in limits_of_agreement([1, 2, 3], [0.5, 1.5, 2.5]).caution


def test_kappa_of_a_textbook_table() -> None:
    # The usual textbook table of 50 proposals: both yes 20, both no 15 -> agreement 0.7, chance 0.5, kappa 0.4. From memory.
    found = kappa([[20, 5], [10, 15]])
    assert (found.agreement, found.chance_agreement) == pytest.approx((0.7, 0.5))
    assert found.kappa is not None
    assert found.kappa.estimate == pytest.approx(0.4)
    assert "70 %" in found.because


TABLES = [
    [[20, 5], [10, 15]],
    [[44, 5, 1], [7, 20, 3], [9, 5, 6]],
    [[0, 7], [9, 0]],
    [[1, 0, 0, 0], [0, 5, 1, 0], [2, 0, 0, 3], [0, 0, 0, 10]],
    [[3000, 1, 0], [2, 50, 8], [0, 4, 900]],
]


@pytest.mark.parametrize("table", TABLES)
@pytest.mark.parametrize("confidence", [0.95, 0.8])
def test_kappa_agrees_with_statsmodels(table: list[list[int]], confidence: float) -> None:
    outside = cohens_kappa(table)
    found = kappa(table, confidence=confidence)
    assert found.kappa is not None
    assert found.kappa.estimate == pytest.approx(outside.kappa, rel=1e-9)
    assert found.standard_error == pytest.approx(outside.std_kappa, rel=1e-9)
    z = stats.norm.ppf((1 + confidence) / 2)
    assert found.kappa.lower == pytest.approx(max(-1, outside.kappa - z * outside.std_kappa), rel=1e-9)
    assert found.kappa.upper == pytest.approx(min(1, outside.kappa + z * outside.std_kappa), rel=1e-9)


def test_two_lists_are_counted_into_the_same_table() -> None:
    first = ["a"] * 25 + ["b"] * 25
    second = ["a"] * 20 + ["b"] * 5 + ["a"] * 10 + ["b"] * 15
    found = kappa(first, second)
    assert found.categories == ("a", "b")
    assert found.kappa == kappa([[20, 5], [10, 15]]).kappa
    assert kappa([1, 2, 3], [1, 2, 3]).kappa.estimate == 1  # type: ignore[union-attr]
    assert "not certainty" in kappa([1, 2, 3], [1, 2, 3]).because


def test_one_category_leaves_kappa_without_a_value() -> None:
    for found in (kappa(["low"] * 4, ["low"] * 4), kappa([[9]]), kappa([[0, 0], [0, 12]])):
        assert found.kappa is None
        assert found.standard_error is None
        assert found.agreement == 1
        assert "one category only" in found.because
    # One person with one category and the other with two: kappa is zero, and has a value.
    assert kappa([1, 1, 1, 1], [1, 1, 2, 2]).kappa.estimate == pytest.approx(0)  # type: ignore[union-attr]


def test_results_and_people_are_compared_without_numpy() -> None:
    code = "import sys\nfrom riskkit.evidence.agreement import compare_results, kappa\ncompare_results(1, .1, 2, .1); kappa([[3, 1], [1, 3]])\nprint('numpy' in sys.modules, 'scipy' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False", "False"]


@pytest.mark.parametrize(
    "ask",
    [
        lambda: compare_results(1, 0, 2, 0.1),
        lambda: compare_results(1, 0.1, 2, -0.1),
        lambda: compare_results(1, 0.1, math.nan, 0.1),
        lambda: compare_results(1, 0.1, 2, 0.1, 1.2),
        lambda: compare_results(1, 0.1, 2, 0.1, 1),
        lambda: limits_of_agreement([1], [2]),
        lambda: limits_of_agreement([1, 2, 3], [2, 3]),
        lambda: limits_of_agreement([1, 2, 3]),
        lambda: limits_of_agreement([1, 2], [1, 2], mean=0),
        lambda: limits_of_agreement(mean=0, spread=1, pairs=1),
        lambda: limits_of_agreement(mean=0, spread=1, pairs=2.5),  # type: ignore[arg-type]
        lambda: limits_of_agreement(mean=0, spread=-1, pairs=3),
        lambda: limits_of_agreement([1, 2], [1, 3], 1.0),
        lambda: kappa([]),
        lambda: kappa([[1, 2]]),
        lambda: kappa([[1, 2], [3]]),
        lambda: kappa([[0, 0], [0, 0]]),
        lambda: kappa([[1, -2], [3, 4]]),
        lambda: kappa([[1, 2.5], [3, 4]]),  # type: ignore[list-item]
        lambda: kappa([[1, math.nan], [3, 4]]),  # type: ignore[list-item]
        lambda: kappa([1, 2], None),  # type: ignore[list-item]
        lambda: kappa([1, 2], [1]),
        lambda: kappa([], []),
        lambda: kappa(["a", None], ["a", "b"]),
        lambda: kappa("ab", "ab"),
        lambda: kappa([[1], [2]], [[1], [2]]),
    ],
)
def test_what_cannot_be_compared_is_refused(ask: Callable[[], object]) -> None:
    with pytest.raises(EvidenceError) as refused:
        ask()
    assert refused.value.headline
    assert refused.value.help


def test_an_interval_without_width_is_called_no_certainty() -> None:
    for table in ([[5, 0], [0, 5]], [[0, 5], [5, 0]]):
        assert "no width, which is not certainty" in kappa(table).because
    assert "no width" not in kappa([[20, 5], [10, 15]]).because
