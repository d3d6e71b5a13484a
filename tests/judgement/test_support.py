"""The likelihood that evidence supports, against exact binomial bounds and the kinds of evidence of the policy."""

from __future__ import annotations

import math
from collections.abc import Callable
from fractions import Fraction

import pytest
from scipy import stats

from riskkit import shelves
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


READ = "T01: {title: v, proves: [C01], shows: effectiveness, limit: {what: p, at_most: 18 hPa}}"


def read(id: str, readings: str, fields: str = "", test: str = "T01") -> str:
    return f"{id}: {{test: {test}, on: 2026-11-02, readings: {{p: [{readings}]}}, uncertainty: {{p: 0.3 hPa}}{fields}}}"


def test_an_inherent_limit_needs_calculation_and_measurement(project: Project) -> None:
    fields = {"controls": LIMIT, "more": "calculations:\n  K01: {title: dead-head pressure}\n", "tests": READ}
    shown = support(project(register(results=read("R01", "17 hPa"), **fields)))
    assert shown.score is not None
    assert shown.score.levels[0] == "C"
    assert not shown.falls_short
    for results in (
        runs("R01", "T01", 1),  # counted, and not measured
        read("R01", "19 hPa"),
        f"{read('R01', '17 hPa')}\n{read('R02', '19 hPa')}",  # one measurement against it is enough
        read("R01", "17.9 hPa"),
    ):
        failed = support(project(register(results=results, **fields)))
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


def counted(found: Support) -> tuple[int, int]:
    assert found.barriers[0].counted is not None
    return found.barriers[0].counted.runs, found.barriers[0].counted.failures


# Constructed, with the counts done by hand; the words of docs/explanation/supported.md are the source of the rules.
@pytest.mark.parametrize(
    ("results", "seen"),
    [
        # Twenty readings outside are twenty failed runs, whatever was counted beside them.
        (read("R01", ", ".join(["19 hPa"] * 20), ", runs: 20, failures: 0"), (20, 20)),
        (read("R01", "17 hPa, 17.9 hPa, 17 hPa", ", runs: 3, failures: 0"), (3, 1)),
        (read("R01", "19 hPa", ", runs: 20, failures: 0, reported: worst"), (20, 1)),
        # More failures than runs can only mean that all failed.
        # Runs alone do not say how many failed: the two readings speak.
        (read("R01", "17 hPa, 17 hPa", ", runs: 30"), (2, 0)),
    ],
)
def test_readings_outside_are_failed_runs(project: Project, results: str, seen: tuple[int, int]) -> None:
    assert counted(support(project(register(results=results, tests=READ)))) == seen


@pytest.mark.parametrize(
    ("flows", "seen"),
    [
        ("20 L/min, 20 L/min, 20 L/min, 40 L/min", (4, 2)),  # the third run fails one limit, the fourth the other
        ("20 L/min, 20 L/min, 40 L/min, 20 L/min", (4, 1)),
        ("40 L/min, 40 L/min", (4, 3)),  # nobody knows in which runs these were read
    ],
)
def test_a_run_fails_where_any_limit_fails(project: Project, flows: str, seen: tuple[int, int]) -> None:
    tests = READ.replace("{what: p, at_most: 18 hPa}", "[{what: p, at_most: 18 hPa}, {what: f, at_most: 30 L/min}]")
    result = (
        "R01: {test: T01, on: 2026-11-02, readings: {p: [17 hPa, 17 hPa, 19 hPa, 17 hPa], f: [%s]}, "
        "uncertainty: {p: 0.3 hPa, f: 1 L/min}}"
    )
    assert counted(support(project(register(results=result % flows, tests=tests)))) == seen


def test_runs_at_another_setting_or_with_a_limit_unread_support_nothing(project: Project) -> None:
    setting = READ.replace("limit:", "conditions: {flow: 60 L/min}, limit:")
    fields = "R01: {test: T01, on: 2026-11-02, unit: U01, runs: 1000, failures: 0%s}"
    for more in ("", ", conditions: {flow: 20 L/min}"):
        assert support(project(register(results=fields % more, tests=setting))).p is None
    assert support(
        project(register(results=fields % ", conditions: {flow: 60 L/min}", tests=setting))
    ).p == pytest.approx(0.01)
    two = READ.replace("{what: p, at_most: 18 hPa}", "[{what: p, at_most: 18 hPa}, {what: f, at_most: 30 L/min}]")
    assert support(project(register(results=read("R01", "17 hPa", ", runs: 300, failures: 0"), tests=two))).p is None


def test_runs_of_a_test_without_a_limit_support_nothing(project: Project) -> None:
    tests = "T01: {title: v, proves: [C01], shows: effectiveness}"
    assert support(project(register(results=runs("R01", "T01", 1000), tests=tests))).p is None
    assert support(project(register(results=runs("R01", "T01", 10, 5), tests=tests))).barriers[0].bound > 0.5


def test_a_result_without_a_unit_is_no_second_unit(project: Project) -> None:
    unnamed = "R02: {test: T01, on: 2026-11-02, runs: 2500, failures: 0}"
    found = support(project(register(results=f"{runs('R01', 'T01', 2500)}\n{unnamed}")))
    assert found.p == pytest.approx(0.01)
    assert found.falls_short


def test_information_whose_test_failed_supports_nothing(project: Project) -> None:
    card = {"controls": "C01: {title: card, kind: information}", "severity": 2}
    failed = support(project(register(results=runs("R01", "T01", 3, 3), **card)))
    assert failed.score is not None
    assert failed.score.levels[0] == "A"
    # 1 of 100 at 95 %: at most 0.0466 (scipy.stats.binomtest), which lies one band down by itself.
    assert stats.binomtest(1, 100, alternative="less").proportion_ci(0.95, method="exact").high < 0.1
    rarely = support(project(register(results=runs("R01", "T01", 100, 1), **card)))
    assert rarely.score is not None
    assert rarely.score.levels[0] == "B"


BOUGHT = (
    "C01:\n  title: valve\n  kind: protective\n  depends_on: [P01]\n"
    "  rests_on: {kind: bought part, fails: %s, document: sheet}"
)


def test_data_of_a_part_stand_back_where_its_own_test_contradicts_them(project: Project) -> None:
    # 10 of 20: at 95 % at least 0.302 fail, far above one in a million (scipy.stats.binomtest).
    low = stats.binomtest(10, 20, alternative="greater").proportion_ci(0.95, method="exact").low
    high = stats.binomtest(10, 20, alternative="less").proportion_ci(0.95, method="exact").high
    assert low > 0.3
    failed = support(project(register(results=runs("R01", "T01", 20, 10), controls=BOUGHT % "1e-6")))
    assert failed.p == pytest.approx(high, rel=1e-9)
    agrees = support(project(register(results=runs("R01", "T01", 20, 10), controls=BOUGHT % "0.4")))
    assert agrees.p == pytest.approx(0.4)
    holds = support(project(register(results=runs("R01", "T01", 20), controls=BOUGHT % "1e-6")))
    assert holds.p == pytest.approx(1e-6)
    assert "confidence" not in holds.because


def test_no_data_show_that_a_part_never_fails(project: Project) -> None:
    found = support(project(register(results=runs("R01", "T01", 20), controls=BOUGHT % "0")))
    assert found.p == pytest.approx(0.139108, abs=1e-6)
    assert ("C01", "no data of a part can show that it never fails") in found.set_aside


def test_a_poor_control_beside_a_good_one_does_not_make_it_worse(project: Project) -> None:
    # 0 of 29 alone: 1 - 0.05^(1/29) = 0.0981, below 0.1 (success-run theorem 95/90: 29).
    found = support(project(register(results=f"{runs('R01', 'T01', 29)}\n{runs('R02', 'T02', 2, 1)}", **TWO)))
    assert found.p == pytest.approx(-math.expm1(math.log(0.05) / 29), rel=1e-12)
    assert [barrier.control for barrier in found.barriers] == ["C01"]
    # Two good ones and a poor third: as the two alone.
    three = {
        "controls": f"{TWO['controls']}\nC03: {{title: flap, kind: protective, depends_on: [P09]}}",
        "named": "[C01, C02, C03]",
        "tests": f"{TWO['tests']}\nT03: {{title: flap, proves: [C03], shows: effectiveness, limit: {{shows: open}}}}",
        "causes": "[]",
    }
    good = f"{runs('R01', 'T01', 59)}\n{runs('R02', 'T02', 59)}"
    two = support(project(register(results=good, **three)))
    poor = support(project(register(results=f"{good}\n{runs('R03', 'T03', 2, 1)}", **three)))
    assert len(two.barriers) == 2
    assert poor.p == two.p
    assert poor.set_aside[0][0] == "C03"


def test_nothing_below_the_floor_of_barriers_is_shown_by_runs(project: Project) -> None:
    # 95 % at 1e-4: ln 0.05 / ln 0.9999 = 29956 runs; twice as many still support no more than 1e-4.
    many = f"{runs('R01', 'T01', 30000)}\n{runs('R02', 'T01', 30000, unit='U02')}"
    found = support(project(register(results=many, claimed="{p: 5e-5, because: many runs}")))
    assert found.p == pytest.approx(1e-4)
    assert "no bench test supports E" in found.needed


def test_a_control_that_does_not_stand_or_fails_leaves_the_harm_as_it_was(project: Project) -> None:
    control = "C01: {title: relief, kind: protective, depends_on: [%s], changes_harm: true}"
    smaller = "{level: B, severity: 2, because: smaller}"
    for part, results, severity in (
        ("P01", runs("R01", "T01", 59), "2"),
        ("P09", runs("R01", "T01", 59), "4"),  # P09 starts the hazard
        ("P01", f"{runs('R01', 'T01', 59)}\n{runs('R02', 'T01', 5, 5)}", "4"),
    ):
        found = support(project(register(results=results, controls=control % part, claimed=smaller)))
        assert found.score is not None
        assert found.score.severity == severity


def test_a_failure_outweighs_passes_in_other_situations(project: Project) -> None:
    tests = "\n".join(
        f"T0{n}: {{title: v{n}, proves: [C01], shows: effectiveness, limit: {{shows: open}}}}" for n in (1, 2, 3)
    )
    results = f"{runs('R01', 'T01', 300)}\n{runs('R02', 'T02', 20, 10)}\n{runs('R03', 'T03', 3)}"
    text = register(results=results, tests=tests).replace("  controls: [C01]\n", "  controls: [C01]\n  tests: [T03]\n")
    assert "tests: [T03]" in text
    assert support(project(text)).barriers[0].bound > 0.5


def test_a_function_stands_on_the_parts_that_do_it(project: Project) -> None:
    more = "functions:\n  F01: {title: sense the pressure, parts: [P02]}\n"
    sensing = TWO | {"controls": TWO["controls"].replace("[P01]", "[F01]"), "more": more}
    both = f"{runs('R01', 'T01', 59)}\n{runs('R02', 'T02', 59)}"
    assert len(support(project(register(results=both, **sensing))).barriers) == 1
    started = support(project(register(results=both, causes="[P02]", **sensing)))
    assert started.p is None
    assert [control for control, _ in started.set_aside] == ["C01", "C02"]


GONE_FIRST = """
policy:
  title: gone first
  severity: [{level: 1, word: small}, {level: 2, word: large}]
  likelihood:
    exposure: per use
    levels:
      - {level: gone, word: eliminated, eliminated: true}
      - {level: often, word: frequent, above: 0.1}
      - {level: rare, word: seldom, above: 0.001}
      - {level: never, word: improbable}
  regions: [{name: act}, {name: none}]
  matrix:
    gone: {1: none, 2: none}
    often: {1: act, 2: act}
    rare: {1: act, 2: act}
    never: {1: act, 2: act}
"""


def test_opinion_is_never_called_gone_wherever_the_policy_lists_that_state(project: Project) -> None:
    text = register(results=runs("R01", "T01", 1, 1), severity=2, claimed="{level: rare, because: it is}")
    found = support(project(text.replace("level: B", "level: often"), policy=GONE_FIRST))
    assert found.score is not None
    assert (found.score.levels[0], found.score.region) == ("often", "act")
    bare = register(results="{}", severity=2, claimed="{level: often, because: it is}").replace("results:\n  {}\n", "")
    opinion = support(project(bare.replace("level: B", "level: often"), policy=GONE_FIRST))
    assert opinion.score is not None
    assert (opinion.score.levels[0], opinion.score.region) == ("often", "act")
    assert opinion.because == "nothing but opinion stands behind it"


def test_what_is_needed_follows_the_edges_of_the_policy(project: Project) -> None:
    # Rows of Decision 2010/15/EU say "greater than": exactly 1/100 is in row 4, and 299 runs on one unit carry it
    # (success-run sample size 95/99, from memory); exactly 1/10 000 is in row 6.
    europe = (shelves.data_dir("catalogs") / "policies" / "eu-2010-15.yaml").read_text()

    def found(results: str, level: int) -> Support:
        text = register(results=results, claimed=f"{{level: {level}, because: it is}}").replace("level: B", "level: 2")
        return support(project(text, policy=europe))

    assert found(runs("R01", "T01", 298), 4).needed == "299 runs of T01 without a failure would carry 4 (below 1/100)"
    assert not found(runs("R01", "T01", 299), 4).falls_short
    many = f"{runs('R01', 'T01', 30000)}\n{runs('R02', 'T01', 30000, unit='U02')}"
    assert not found(many, 6).falls_short
    assert "29956 runs of T01 without a failure on more than one unit" in found(runs("R01", "T01", 298), 6).needed
    assert "no bench test supports 7" in found(many, 7).needed


def test_more_failures_than_runs_are_refused_at_their_line(project: Project) -> None:
    assessment = project(register(results="R01: {test: T01, on: 2026-11-02, runs: 3, failures: 5}"))
    (found,) = assessment.report.broken
    assert "5 failures are more than the 3 runs" in found.headline
