"""The likelihood that evidence supports, against exact binomial bounds and the kinds of evidence of the policy."""

from __future__ import annotations

import math
from collections.abc import Callable
from fractions import Fraction

import pytest
from scipy import stats

from riskkit.assess import Assessment
from riskkit.judgement.counted import failure_free_runs
from riskkit.judgement.support import Support

Project = Callable[..., Assessment]


def register(
    *,
    results: str,
    claimed: str = "{level: C, because: it does}",
    controls: str = "C01: {title: relief valve, kind: protective, depends_on: [P01]}",
    named: str = "[C01]",
    tests: str = "T01: {title: valve opens, proves: [C01], shows: effectiveness, limit: {shows: open}}",
    severity: int = 4,
    causes: str = "[P09]",
    more: str = "",
) -> str:
    def block(name: str, lines: str) -> str:
        return f"{name}:\n" + "".join(f"  {line}\n" for line in lines.strip().splitlines())

    hazard = (
        f"H01:\n  title: overpressure\n  condition: single fault\n  causes: {causes}\n"
        f"  harm: {{text: injury, severity: {severity}}}\n  controls: {named}\n"
        f"  likelihood:\n    before: {{level: B}}\n    claimed: {claimed}"
    )
    return (
        block("parts", "P01: {title: disc}\nP02: {title: board}\nP09: {title: blower}")
        + block("units", "U01: {title: first}\nU02: {title: second}")
        + block("hazards", hazard)
        + block("controls", controls)
        + block("tests", tests)
        + block("results", results)
        + more
    )


def support(assessment: Assessment) -> Support:
    return assessment.supports["H01"]


def runs(id: str, test: str, number: int, failed: int = 0, unit: str = "U01") -> str:
    return f"{id}: {{test: {test}, on: 2026-11-02, unit: {unit}, runs: {number}, failures: {failed}}}"


def test_twenty_runs_without_a_failure_allow_fourteen_in_a_hundred(project: Project) -> None:
    # Clopper-Pearson, one-sided upper, 0 of 20 at 95 %: 1 - 0.05^(1/20) = 0.1391 (NIST e-Handbook 7.2.4.1, formula).
    found = support(project(register(results=runs("R01", "T01", 20))))
    assert found.p == pytest.approx(0.139108, abs=1e-6)
    assert found.score is not None
    assert found.score.levels == ("A", "A")
    assert "at most 14 %" in found.because
    assert "299 runs of T01" in found.needed


def test_299_runs_carry_one_in_a_hundred_and_298_do_not(project: Project) -> None:
    # Success-run sample size 95/99: 299 (standard value, from memory).
    number = "{p: 1e-2, because: it does}"
    assert support(project(register(results=runs("R01", "T01", 298), claimed=number))).falls_short
    assert not support(project(register(results=runs("R01", "T01", 299), claimed=number))).falls_short
    assert support(project(register(results=runs("R01", "T01", 20), claimed=number))).falls_short


def test_one_unit_supports_nothing_below_one_in_a_hundred(project: Project) -> None:
    one = support(project(register(results=runs("R01", "T01", 5000))))
    assert one.p == pytest.approx(0.01)
    assert one.falls_short
    two = support(project(register(results=f"{runs('R01', 'T01', 2500)}\n{runs('R02', 'T01', 2500, unit='U02')}")))
    assert two.p == pytest.approx(-math.expm1(math.log(0.05) / 5000), rel=1e-12)
    assert not two.falls_short


def test_failures_count_by_the_exact_binomial(project: Project) -> None:
    # Against scipy.stats.binomtest: 2 failures of 40, one-sided upper 95 %.
    test = "T01: {title: v, proves: [C01], shows: effectiveness, limit: {shows: open}, plan: {allowed_failures: 5}}"
    found = support(project(register(results=runs("R01", "T01", 40, 2), tests=test)))
    exact = stats.binomtest(2, 40, alternative="less").proportion_ci(0.95, method="exact").high
    assert found.p == pytest.approx(exact, rel=1e-9)


TWO = {
    "controls": "C01: {title: relief, kind: protective, depends_on: [P01]}\n"
    "C02: {title: cut, kind: protective, depends_on: [P02]}",
    "named": "[C01, C02]",
    "tests": "T01: {title: relief opens, proves: [C01], shows: effectiveness, limit: {shows: open}}\n"
    "T02: {title: cut acts, proves: [C02], shows: effectiveness, limit: {shows: off}}",
}


def test_two_independent_controls_multiply_and_keep_a_common_cause_share(project: Project) -> None:
    # Each bound at the square root of 95 %, so that both hold together at 95 %: 0 of 59 twice.
    found = support(project(register(results=f"{runs('R01', 'T01', 59)}\n{runs('R02', 'T02', 59)}", **TWO)))
    one = -math.expm1(math.log(1 - math.sqrt(0.95)) / 59)
    assert found.p == pytest.approx(one * one + 0.05 * one, rel=1e-12)
    assert [barrier.control for barrier in found.barriers] == ["C01", "C02"]
    assert all(barrier.confidence == pytest.approx(math.sqrt(0.95)) for barrier in found.barriers)


def test_controls_that_share_an_element_count_once(project: Project) -> None:
    shared = TWO | {"controls": TWO["controls"].replace("[P02]", "[P01, P02]")}
    found = support(project(register(results=f"{runs('R01', 'T01', 59)}\n{runs('R02', 'T02', 20)}", **shared)))
    assert [barrier.control for barrier in found.barriers] == ["C01"]
    assert ("C02", "it shares P01 with C01") in found.set_aside
    assert found.p == pytest.approx(-math.expm1(math.log(0.05) / 59), rel=1e-12)


def test_a_control_that_the_cause_disables_carries_nothing(project: Project) -> None:
    found = support(project(register(results=runs("R01", "T01", 59), causes="[P01]")))
    assert found.p is None
    assert found.set_aside == (("C01", "it stands on P01, which starts H01"),)


def test_one_test_of_two_controls_counts_once(project: Project) -> None:
    together = TWO | {"tests": "T01: {title: both, proves: [C01, C02], shows: effectiveness, limit: {shows: off}}"}
    found = support(project(register(results=runs("R01", "T01", 59), **together)))
    assert len(found.barriers) == 1


def test_readings_count_as_runs_and_what_cannot_be_told_counts_as_failed(project: Project) -> None:
    tests = "T01: {title: v, proves: [C01], shows: effectiveness, limit: {what: p, at_most: 18 hPa}}"
    read = "R01: {test: T01, on: 2026-11-02, unit: U01, readings: {p: [%s]}, uncertainty: {p: 0.3 hPa}}"
    good = support(project(register(results=read % "17 hPa, 17.1 hPa, 17.2 hPa", tests=tests)))
    assert good.barriers[0].counted is not None
    assert (good.barriers[0].counted.runs, good.barriers[0].counted.failures) == (3, 0)
    bad = support(project(register(results=read % "17 hPa, 17.1 hPa, 17.9 hPa", tests=tests)))
    assert bad.barriers[0].counted is not None
    assert bad.barriers[0].counted.failures == 1


def test_information_supports_one_band_and_nothing_where_harm_is_severe(project: Project) -> None:
    card = "C01: {title: card, kind: information}"
    mild = support(project(register(results=runs("R01", "T01", 9), controls=card, severity=2)))
    assert mild.score is not None
    assert mild.score.levels[0] == "B"
    severe = support(project(register(results=runs("R01", "T01", 9000), controls=card, severity=5)))
    assert severe.score is not None
    assert severe.score.levels[0] == "A"
    assert severe.needed == "a measure that is more than information"


LIMIT = (
    "C01:\n  title: blower cannot\n  kind: design\n  depends_on: [P01]\n"
    "  rests_on: {kind: inherent limit, calculation: K01}"
)


def test_an_inherent_limit_needs_calculation_and_measurement(project: Project) -> None:
    more = "calculations:\n  K01: {title: dead-head pressure}\n"
    shown = support(project(register(results=runs("R01", "T01", 1), controls=LIMIT, more=more)))
    assert shown.score is not None
    assert shown.score.levels[0] == "C"
    assert not shown.falls_short
    failed = support(project(register(results=runs("R01", "T01", 1, 1), controls=LIMIT, more=more)))
    assert failed.score is not None
    assert failed.score.levels[0] == "A"


def test_field_records_support_their_chi_square_bound(project: Project) -> None:
    # Garwood: 0 events, one-sided upper 95 % is 2.9957 (standard table, from memory), over 10 000 exposures.
    controls = (
        "C01:\n  title: valve\n  kind: protective\n  depends_on: [P01]\n"
        "  rests_on: {kind: field records, failures: %d, exposures: 10000, document: log of the ward}"
    )
    none = support(project(register(results="{}", controls=controls % 0).replace("results:\n  {}\n", "")))
    assert none.p == pytest.approx(2.9957e-4, rel=1e-4)
    assert not none.falls_short
    three = support(project(register(results="{}", controls=controls % 3).replace("results:\n  {}\n", "")))
    assert three.p == pytest.approx(stats.chi2.ppf(0.95, 8) / 2 / 10000, rel=1e-9)


def test_no_bench_test_supports_one_in_a_million(project: Project) -> None:
    found = support(project(register(results=runs("R01", "T01", 20), claimed="{p: 1e-6, because: surely}")))
    assert "no bench test supports E" in found.needed


def test_opinion_supports_nothing(project: Project) -> None:
    found = support(project(register(results="{}").replace("results:\n  {}\n", "")))
    assert found.score is not None
    assert (found.score.levels[0], found.because) == ("A", "nothing but opinion stands behind it")


@pytest.mark.parametrize(
    ("proportion", "confidence", "runs_needed"),
    # Standard success-run values, from memory: ceil(ln(1 - C) / ln R).
    [("0.95", "0.95", 59), ("0.9", "0.9", 22), ("0.99", "0.95", 299), ("0.8", "0.8", 8), ("0.999", "0.95", 2995)],
)
def test_runs_needed_without_a_failure(proportion: str, confidence: str, runs_needed: int) -> None:
    edge = 1 - Fraction(proportion)
    assert failure_free_runs(edge, Fraction(confidence), strictly=False) == runs_needed


def test_an_edge_that_is_met_exactly_is_not_below() -> None:
    # One run at 50 % confidence bounds the failure probability by exactly one half.
    assert failure_free_runs(Fraction(1, 2), Fraction(1, 2), strictly=False) == 1
    assert failure_free_runs(Fraction(1, 2), Fraction(1, 2)) == 2
