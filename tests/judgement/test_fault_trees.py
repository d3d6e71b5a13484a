"""Fault trees of a register: numbers of events, drafts from the graph, drift, likelihoods that come from a tree."""

from __future__ import annotations

import datetime
import math
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, strategies as st
from scipy import integrate, stats

from riskkit import load
from riskkit.assess import Assessment, assess
from riskkit.judgement.dormancy import dormant_unavailability_exact
from riskkit.judgement.fault_drafts import draft
from riskkit.judgement.fault_trees import idle_words, uncertainty_of, work_out_tree
from riskkit.model.fault_trees import FaultTree, TreeSheet
from riskkit.model.records import Hazard

Project = Callable[..., Assessment]
HOOD = Path(__file__).parent.parent.parent / "catalogs" / "examples" / "hood"


@cache
def hood() -> Assessment:
    return assess(load(HOOD), today=datetime.date(2026, 11, 25))


def sheet(events: str | dict[str, object], gates: dict[str, object] | None = None, **more: object) -> TreeSheet:
    return TreeSheet.model_validate({"top": "top", "gates": gates or {}, "events": events, **more})


def number(**event: object) -> float:
    worked = work_out_tree(sheet({"top": event}))
    assert worked.exact is not None
    return worked.exact


# -- how likely an event is -----------------------------------------------------------------------


def test_a_rate_over_a_mission_is_the_exponential_distribution() -> None:
    # Constructed, CV-108: three 1e-5/h in series over 1000 h.
    worked = work_out_tree(
        sheet(
            {name: {"rate": "1e-5 1/h", "mission": "1000 h"} for name in "abc"},
            {"top": {"any_of": ["a", "b", "c"]}},
        )
    )
    assert worked.exact == pytest.approx(0.0295544665, abs=5e-11)
    assert number(rate="1e-5 1/h", mission="1000 h") == pytest.approx(stats.expon.cdf(1e-2), rel=1e-12)


def test_two_parallel_parts_over_a_mission() -> None:
    # Constructed, CV-108: two parallel parts of 1e-5/h over 1000 h.
    events = {name: {"rate": "1e-5 1/h", "mission": "1000 h"} for name in "ab"}
    worked = work_out_tree(sheet(events, {"top": {"all_of": ["a", "b"]}}))
    assert worked.exact == pytest.approx(9.900581e-5, rel=1e-6)


@given(st.floats(1e-12, 50))
def test_a_dormant_failure_is_there_for_the_average_of_its_probability_over_the_interval(expected: float) -> None:
    # The mean of the exponential distribution function over the interval, by scipy's integrator.
    mean, _ = integrate.quad(lambda part: -math.expm1(-expected * part), 0, 1, epsabs=0, epsrel=1e-12)
    assert dormant_unavailability_exact(expected, 1.0) == pytest.approx(mean, rel=1e-9)


def test_half_the_rate_times_the_interval_where_that_is_small() -> None:
    # IEC 61508-6: PFDavg = lambda T / 2 for one channel, small lambda T (from memory).
    assert number(rate="1e-6 1/h", test_interval="1000 h") == pytest.approx(5e-4, rel=1e-3)


def test_the_rate_of_a_part_is_taken_by_its_failure_mode(project: Project) -> None:
    assessment = project("""
parts:
  P11: {title: blow-off, fails: [{mode: disc sticks, rate: 1e-4 1/h, source: data sheet}]}
hazards:
  H01: {title: overpressure, condition: normal, harm: {text: injury, severity: 4}}
fault_trees:
  FT01:
    hazard: H01
    top: shut
    events: {shut: {part: P11, mode: disc sticks, test_interval: 100 h}}
""")
    event = assessment.trees["FT01"].events["shut"]
    assert event.probability == pytest.approx(0.00498337, rel=1e-5)  # 1 - (1 - exp(-0.01)) / 0.01, by hand
    assert event.source == "data sheet"


def test_a_beta_factor_takes_part_of_the_failures_of_both(project: Project) -> None:
    # Constructed: beta 0.05 on two of 1e-2: (0.95e-2)^2 + 5e-4 = 5.9025e-4, exactly 1 - (1 - 5e-4)(1 - 9.025e-5).
    worked = work_out_tree(
        sheet({"a": 1e-2, "b": 1e-2}, {"top": {"all_of": ["a", "b"]}}, common_cause=[{"of": ["a", "b"], "beta": 0.05}])
    )
    assert worked.exact == pytest.approx(5e-4 + (1 - 5e-4) * 9.025e-5, rel=1e-12)
    assert worked.analysis is not None
    assert worked.analysis.rare_event == pytest.approx(5.9025e-4, rel=1e-12)
    assert worked.single_points == ("failure of a, b in common",)


def test_a_common_cause_counts_as_a_whole_where_the_top_needs_a_part_of_it() -> None:
    # Constructed, by hand: alphas 0.95, 0.04, 0.01 of 0.1 for a, b, c; the top is a AND b, c leads nowhere. With
    # sum k alpha_k = 1.06: alone 0.95 / 1.06 x 0.1, each pair 2 x 0.04 / (2 x 1.06) x 0.1, all three 3 x 0.01 / 1.06 x 0.1.
    group = {"of": ["a", "b", "c"], "alphas": [0.95, 0.04, 0.01]}
    gates: dict[str, object] = {"top": {"all_of": ["a", "b"]}}
    worked = work_out_tree(sheet(dict.fromkeys("abc", 0.1), gates, common_cause=[group]))
    alone, pair, three = 0.095 / 1.06, 0.004 / 1.06, 0.003 / 1.06
    apart = 1 - (1 - alone) * (1 - pair)  # alone, or with c
    assert worked.exact == pytest.approx(1 - (1 - pair) * (1 - three) * (1 - apart**2), rel=1e-12)
    assert "c alone" not in worked.events
    # The vote is over all three members: 1.5 beta, IEC 61508-6 Table D.5, from memory (CV-104).
    voted = {"of": ["a", "b", "c"], "beta": 0.05, "must_work": 2}
    worked = work_out_tree(sheet(dict.fromkeys("abc", 0.1), gates, common_cause=[voted]))
    assert worked.exact == pytest.approx(1 - (1 - 0.0075) * (1 - 0.095**2), rel=1e-12)
    unsaid = work_out_tree(sheet({"a": 0.1, "b": 0.1, "c": {}}, gates, common_cause=[voted]))
    assert (unsaid.exact, unsaid.unknown) == (None, ("c",))


def test_what_is_certain_stays_certain_beside_a_common_cause() -> None:
    group = {"of": ["a", "b"], "beta": 0.05}
    gates: dict[str, object] = {"top": {"all_of": ["a", "b"]}}
    assert work_out_tree(sheet({"a": 1, "b": 1}, gates, common_cause=[group])).exact == 1


def test_an_event_without_a_number_leaves_the_cut_sets() -> None:
    worked = work_out_tree(sheet({"a": {}, "b": 0.5}, {"top": {"all_of": ["a", "b"]}}))
    assert worked.exact is None
    assert worked.at_least is None
    assert worked.unknown == ("a",)
    assert worked.analysis is not None
    assert [each.events for each in worked.analysis.cut_sets] == [("a", "b")]


def test_what_is_too_small_for_a_number_still_stands_in_its_cut_set() -> None:
    # 0.1^400 is below every double; the one cut set holds all 400, so that none of them is idle.
    names = [f"e{number}" for number in range(400)]
    assert not work_out_tree(sheet(dict.fromkeys(names, 0.1), {"top": {"all_of": names}})).idle
    # a OR (a AND b) is a, by absorption; of two that are certain, neither is idle.
    gates: dict[str, object] = {"top": {"any_of": ["a", "both"]}, "both": {"all_of": ["a", "b"]}}
    assert work_out_tree(sheet({"a": 0.1, "b": 0.1}, gates)).idle == ("b",)
    certain = work_out_tree(sheet({"a": 1, "b": 1, "c": 0.1}, {"top": {"any_of": ["a", "b", "c"]}}))
    assert "a" not in certain.idle
    assert "b" not in certain.idle
    many = [f"b{number}" for number in range(9)]
    absorbed = {"top": {"any_of": ["a", "all"]}, "all": {"all_of": ["a", *many]}}
    told = list(idle_words(work_out_tree(sheet(dict.fromkeys(["a", *many], 0.1), dict(absorbed)))))
    assert len(told) == 1
    assert "and 4 more stand in no cut set" in told[0]


def test_a_house_event_is_no_single_point() -> None:
    worked = work_out_tree(sheet({"a": {"happens": True}, "b": 0.5}, {"top": {"all_of": ["a", "b"]}}))
    assert worked.exact == 0.5
    assert worked.single_points == ("b",)


# -- from the graph -------------------------------------------------------------------------------

SHARED = """
parts:
  P05: {title: controller, supplied_by: [P01]}
  P01: {title: supply}
  P11: {title: blow-off}
hazards:
  H01:
    title: overpressure
    condition: single fault
    causes: [{by: P05, mode: drives to full speed}]
    harm: {text: injury, severity: 4}
    controls: [C01, C02, C03]
controls:
  C01: {title: cut, kind: protective, depends_on: [P05]}
  C02: {title: blow-off, kind: protective, depends_on: [P11]}
  C03: {title: old alarm, kind: protective, withdrawn: {on: 2026-01-01, because: useless}}
"""


def drafted(assessment: Assessment, id: str = "H01") -> FaultTree:
    hazard = assessment.register.get(id, Hazard)
    assert hazard is not None
    return FaultTree.model_validate({"id": "FT01", **draft(hazard, assessment.register)})


def test_a_draft_says_what_a_hand_analysis_says(project: Project) -> None:
    # By hand: P05 starts it and takes C01 with it (as the loss of P01 would, but that alone starts nothing). What is left
    # is C02, which falls by itself or with P11. So there are two pairs, and C01 is worth nothing.
    worked = work_out_tree(drafted(project(SHARED)))
    assert worked.analysis is not None
    assert {frozenset(each.events) for each in worked.analysis.cut_sets} == {
        frozenset({"P05 drives to full speed", "C02 fails by itself"}),
        frozenset({"P05 drives to full speed", "P11 fails"}),
    }
    assert set(worked.idle) == {"C01 fails by itself", "P01 fails"}


@pytest.mark.parametrize("hazard", [each.id for each in hood().register.hazards])
def test_the_draft_of_every_hazard_of_the_demo_matches_its_own_graph(hazard: str) -> None:
    from riskkit.judgement.fault_drafts import drifts

    assessment = hood()
    tree = drafted(assessment, hazard)
    worked = work_out_tree(tree)
    assert not worked.problem
    assert list(drifts(tree, assessment.register)) == []
    # Single points by the tree are elements that leave nothing by the walk, and the other way round.
    alone = {element for name in worked.single_points for element in tree.events[name].elements}
    walked = {
        fault.element for fault in assessment.faults for on in fault.hazards if on.hazard == hazard and not on.left
    }
    assert walked <= alone


@pytest.mark.parametrize(
    ("was", "now", "words"),
    [
        ("controls: [C01, C02, C03]", "controls: [C01, C02, C03, C04]", "no event for C04"),
        ("causes: [{", "causes: [{by: P01}, {", "no event for P01"),
        (
            "depends_on: [P11]}",
            "depends_on: [P11], withdrawn: {on: 2026-11-01, because: gone}}",
            "C02, which is withdrawn",
        ),
        ("controls: [C01, C02, C03]", "controls: [C01]", "C02, which does not answer H01"),
    ],
)
def test_a_later_edit_of_the_register_is_told(project: Project, was: str, now: str, words: str) -> None:
    tree = """
  C04: {title: alarm, kind: protective, depends_on: [P11, P05]}
fault_trees:
  FT01:
    hazard: H01
    top: hood bursts
    gates:
      hood bursts: {all_of: [runs away, no cut, shut]}
      no cut: {any_of: [cut fails, runs away]}
    events:
      runs away: {part: P05, probability: 1e-3, source: guess}
      cut fails: {control: C01, probability: 1e-2, source: guess}
      shut: {control: C02, probability: 1e-2, source: guess}
"""
    assert was in SHARED
    before = [each.headline for each in project(SHARED + tree).report if each.rule == "tree-out-of-step"]
    after = [
        each.headline for each in project(SHARED.replace(was, now, 1) + tree).report if each.rule == "tree-out-of-step"
    ]
    assert before == []
    assert any(words in each for each in after), after


# -- the demo -------------------------------------------------------------------------------------


def test_the_overpressure_of_the_demo_with_and_without_its_blow_off() -> None:
    # By hand. The run-away is a cause of its own and takes the firmware cut with it, so that the cut is in no set; the
    # outflow must be shut in one of two ways, the blow-off must stay shut in one of two, the resistor must be wrong:
    # 1 x 2 x 2 x 1 = 4 sets of four. Without the blow-off its factor falls away: 2 sets of three.
    tree = hood().register.get("FT02", FaultTree)
    assert tree is not None
    away, ceiling = "runs to full speed", "wrong resistor"
    with_it = work_out_tree(tree).analysis
    assert with_it is not None
    assert {frozenset(each.events) for each in with_it.cut_sets} == {
        frozenset({away, shut, stays, ceiling})
        for shut in ("valve stuck shut", "outlet covered")
        for stays in ("disc sticks", "case on its side")
    }
    data = tree.model_dump(by_alias=True, exclude_none=True, exclude_defaults=True)
    top = data["gates"][tree.top]
    top["all_of"] = [each for each in top["all_of"] if each != "blow-off stays shut"]
    without = work_out_tree(
        TreeSheet.model_validate({each: data[each] for each in ("top", "gates", "events")})
    ).analysis
    assert without is not None
    assert {frozenset(each.events) for each in without.cut_sets} == {
        frozenset({away, shut, ceiling}) for shut in ("valve stuck shut", "outlet covered")
    }


def test_the_three_controls_of_the_demo_are_two() -> None:
    """Planted gap 5: the firmware cut of H05 goes with its cause, and the tree shows it as worth nothing."""
    assert hood().trees["FT02"].idle == ("cut does not act",)


def test_the_top_of_the_demo_by_hand() -> None:
    # Constructed by hand from the numbers in the file; hang h is in two branches, so that the sum is split over it.
    h = -math.expm1(-8e-4)
    power = -math.expm1(-1.6e-3) * 2e-2
    other = 1 - (1 - 2 / 51) * (1 - 5e-3) * (1 - power) * (1 - 1e-2) * (1 - 1e-2)
    flaps = 0.01 + 0.99 * 0.09**2
    deaf = 1 - (1 - 1e-2) * (1 - 2e-3) * (1 - 5e-2) * (1 - 0.1)
    by_hand = flaps * (h + (1 - h) * other * deaf)
    assert hood().trees["FT01"].exact == pytest.approx(by_hand, rel=1e-9)


# -- likelihood from a tree -----------------------------------------------------------------------

CLAIM = """
hazards:
  H01:
    title: overpressure
    condition: normal
    harm: {text: injury, severity: 4}
    controls: [C01]
    likelihood:
      before: {tree: FT01}
      claimed: {tree: FT01, p2: 0.5, because: half are asleep}
controls:
  C01: {title: cut, kind: protective}
fault_trees:
  FT01:
    hazard: H01
    top: bursts
    gates: {bursts: {all_of: [runs away, no cut]}}
    events:
      runs away: {probability: 1e-3, source: guess}
      no cut: {control: C01, probability: 1e-2, source: guess}
"""


def test_a_likelihood_comes_from_the_tree(project: Project) -> None:
    score = project(CLAIM).scores["H01"]
    assert score.before is not None
    assert score.claimed is not None
    assert score.before.p is not None
    assert score.claimed.p is not None
    assert float(score.before.p[1]) == pytest.approx(1e-3)  # the control taken as failed
    assert float(score.claimed.p[1]) == pytest.approx(0.5e-5)


def test_a_tree_without_numbers_scores_nothing_and_says_so(project: Project) -> None:
    assessment = project(CLAIM.replace("probability: 1e-3, source: guess", "title: runs away"))
    assert assessment.scores["H01"].claimed is None
    assert any("FT01" in each.headline and "no probability" in each.headline for each in assessment.report)


def test_an_event_from_evidence_takes_the_bound_that_the_runs_support(project: Project) -> None:
    # 0 of 20: one-sided 95 % Clopper-Pearson bound 1 - 0.05^(1/20) = 0.1391 (closed form).
    text = CLAIM.replace("probability: 1e-2, source: guess", "from_evidence: true").replace(
        "controls: [C01]", "controls: [C01]\n    tests: [T01]"
    )
    tested = """
tests:
  T01: {title: cut, proves: [C01], shows: effectiveness, limit: {shows: it cuts}}
results:
  R01: {test: T01, on: 2026-11-01, runs: 20, failures: 0, unit: U01}
  R02: {test: T01, on: 2026-11-01, runs: 20, failures: 0, unit: U02}
units:
  U01: {title: first}
  U02: {title: second}
"""
    nothing, something = project(text), project(text + tested)
    assert nothing.trees["FT01"].exact == pytest.approx(1e-3)
    event = something.trees["FT01"].events["no cut"]
    assert event.probability == pytest.approx(1 - 0.05 ** (1 / 40), rel=1e-6)
    assert any(each.rule == "event-without-origin" for each in nothing.report)
    assert not any(each.rule == "event-without-origin" for each in something.report)


# -- further ways in which an event is likely ------------------------------------------------------


def test_an_error_of_a_person_by_heart() -> None:
    # Worked example of the method, from memory (CV-105): factors 1.8, 6.0, 3.4, 2.2, 1.12 on 0.003 give 0.27.
    conditions = [
        {"effect": 3, "share": 0.4, "because": "inexperience"},
        {"effect": 6, "share": 1.0, "because": "opposite technique"},
        {"effect": 4, "share": 0.8, "because": "risk misperceived"},
        {"effect": 2.5, "share": 0.8, "because": "objectives in conflict"},
        {"effect": 1.2, "share": 0.6, "because": "low morale"},
    ]
    assert number(heart={"task": "F", "conditions": conditions}) == pytest.approx(
        0.003 * 1.8 * 6.0 * 3.4 * 2.2 * 1.12, rel=1e-12
    )
    assert round(number(heart={"task": "F", "conditions": conditions}), 2) == 0.27


def test_three_channels_of_which_two_must_work() -> None:
    # IEC 61508-6 Table D.5, from memory (CV-104): beta of a 2oo3 vote is 1.5 beta. By hand: 0.05 x 1.5 x 1e-2 strikes them
    # together, and two of three fail alone with 0.95e-2 each.
    group = {"of": ["a", "b", "c"], "beta": 0.05, "must_work": 2}
    worked = work_out_tree(
        sheet(dict.fromkeys("abc", 1e-2), {"top": {"at_least": 2, "of": ["a", "b", "c"]}}, common_cause=[group])
    )
    together, alone = 0.05 * 1.5 * 1e-2, 0.95e-2
    by_hand = together + (1 - together) * (3 * alone**2 * (1 - alone) + alone**3)
    assert worked.exact == pytest.approx(by_hand, rel=1e-12)


def test_the_mean_after_runs_with_its_spread(project: Project) -> None:
    # Jeffreys posterior Beta(0.5, 40.5) of 0 in 40; its percentiles by scipy.
    text = CLAIM.replace("probability: 1e-2, source: guess", "from_evidence: posterior").replace(
        "probability: 1e-3, source: guess", "happens: true"
    )
    assessment = project(
        text
        + """
tests:
  T01: {title: cut, proves: [C01], shows: effectiveness, limit: {shows: it cuts}}
results:
  R01: {test: T01, on: 2026-11-01, runs: 20, failures: 0, unit: U01}
  R02: {test: T01, on: 2026-11-01, runs: 20, failures: 0, unit: U02}
units:
  U01: {title: first}
  U02: {title: second}
"""
    )
    worked = assessment.trees["FT01"]
    assert worked.exact == pytest.approx(stats.beta.mean(0.5, 40.5), rel=1e-12)
    spread = uncertainty_of(worked)
    assert spread is not None
    low, high = spread.percentile_errors[95.0]
    assert low * 0.97 <= stats.beta.ppf(0.95, 0.5, 40.5) <= high * 1.03


def test_nothing_spreads_where_nothing_is_said_to_vary() -> None:
    assert uncertainty_of(work_out_tree(sheet({"top": 0.1}))) is None


def test_an_error_factor_is_the_95_percent_point_over_the_median() -> None:
    # Definition of the error factor, NUREG/CR-1278: 95th percentile over median of a lognormal.
    spread = uncertainty_of(work_out_tree(sheet({"top": {"probability": 1e-3, "error_factor": 3}})), trials=100_000)
    assert spread is not None
    assert spread.percentiles[50.0] == pytest.approx(1e-3, rel=0.01)
    assert spread.percentiles[95.0] == pytest.approx(3e-3, rel=0.02)


# -- supported by the logic of a tree --------------------------------------------------------------

TWO = """
hazards:
  H01:
    title: overpressure
    condition: normal
    harm: {text: injury, severity: 4}
    controls: [C01, C02]
    tests: [T01, T02]
    likelihood: {claimed: {p: 1e-3, because: guess}}
controls:
  C01: {title: cut, kind: protective}
  C02: {title: blow-off, kind: protective}
tests:
  T01: {title: cut, proves: [C01], shows: effectiveness, limit: {shows: it cuts}}
  T02: {title: blow, proves: [C02], shows: effectiveness, limit: {shows: it blows}}
results:
  R01: {test: T01, on: 2026-11-01, runs: 20, failures: 0, unit: U01}
  R02: {test: T01, on: 2026-11-01, runs: 20, failures: 0, unit: U02}
  R03: {test: T02, on: 2026-11-01, runs: 40, failures: 0, unit: U01}
  R04: {test: T02, on: 2026-11-01, runs: 40, failures: 0, unit: U02}
units:
  U01: {title: first}
  U02: {title: second}
fault_trees:
  FT01:
    hazard: H01
    top: bursts
    gates: {bursts: {all_of: [runs away, unprotected]}, unprotected: {GATE: [no cut, shut]}}
    events:
      runs away: {probability: 1e-3, source: guess}
      no cut: {control: C01, from_evidence: bound}
      shut: {control: C02, from_evidence: bound}
"""


def test_the_logic_of_a_tree_replaces_the_product_of_the_bounds(project: Project) -> None:
    # By hand: both bounds at 0.95^(1/2); b(n) = 1 - (1 - 0.95^0.5)^(1/n); 5 % of the better one as common cause.
    first, second = (1 - (1 - 0.95**0.5) ** (1 / n) for n in (40, 80))
    both = project(TWO.replace("GATE", "all_of")).supports["H01"]
    either = project(TWO.replace("GATE", "any_of")).supports["H01"]
    assert both.p == pytest.approx(first * second + 0.05 * second, rel=1e-6)
    assert either.p == pytest.approx(first + second - first * second + 0.05 * second, rel=1e-6)
    assert "by the logic of FT01" in either.because
    assert either.needed


def test_a_tree_with_an_opinion_about_a_control_supports_nothing(project: Project) -> None:
    text = TWO.replace("GATE", "any_of")
    opinion = project(
        text.replace("{control: C02, from_evidence: bound}", "{control: C02, probability: 1e-6, source: guess}")
    )
    assert "FT01" not in opinion.supports["H01"].because


def test_controls_that_share_an_element_are_not_multiplied_by_a_tree_either(project: Project) -> None:
    text = TWO.replace("GATE", "all_of").replace("kind: protective}", "kind: protective, depends_on: [P01]}")
    shared = project(text + "parts:\n  P01: {title: controller}\n")
    assert "FT01" not in shared.supports["H01"].because


# -- the story of a hazard names its trees ------------------------------------------------------------


def told(assessment: Assessment) -> list[str]:
    return [sentence for sentence in assessment.story("H01") if "ault tree " in sentence]


def test_the_story_of_a_hazard_gives_the_number_of_its_tree(project: Project) -> None:
    text = TWO.replace("GATE", "all_of").replace("from_evidence: bound", "probability: 1e-2, source: guess")
    # By hand: 1e-3 x 1e-2 x 1e-2; three events stand in the only cut set.
    assert told(project(text)) == [
        "By the numbers given in it, fault tree FT01 comes to 1e-07 per use for `bursts`; no event alone brings it about, "
        "at least three must happen together."
    ]


def test_the_story_of_a_hazard_names_what_brings_it_about_alone(project: Project) -> None:
    text = TWO.replace("GATE", "any_of").replace("from_evidence: bound", "probability: 1e-2, source: guess")
    text = text.replace("all_of: [runs away, unprotected]", "any_of: [runs away, unprotected]")
    [sentence] = told(project(text))
    assert sentence.endswith("; `no cut`, `runs away` and `shut` bring it about alone.")


def test_the_story_of_a_hazard_shows_no_number_where_an_event_has_none(project: Project) -> None:
    text = TWO.replace("GATE", "all_of").replace("probability: 1e-3, source: guess", "title: full speed")
    assert told(project(text)) == [
        "Fault tree FT01 gives no number for `bursts`: 1 of its events has none; no event alone brings it about, "
        "at least three must happen together."
    ]


def test_the_story_of_a_hazard_says_what_is_certain_and_what_cannot_be_worked_out(project: Project) -> None:
    text = TWO.replace("GATE", "all_of")
    for event in ("probability: 1e-3, source: guess", "control: C01, from_evidence: bound"):
        text = text.replace(event, "happens: true")
    text = text.replace("control: C02, from_evidence: bound", "happens: true")
    assert told(project(text))[0].endswith("nothing has to fail for it: it comes about by what is taken as certain.")
    shared = text + "    common_cause: {of: [no cut, shut], beta: 5 %, source: guess}\n"
    assert told(project(shared))[0].startswith("Fault tree FT01 cannot be worked out: ")


# -- found, announced, repaired --------------------------------------------------------------------

# IEC 61508-6 Annex B, Table B.2, from memory (CV-17): one channel, proof test every 4380 h, repair 8 h; two digits printed.
PROOF_TESTED = [
    ("0.5e-7", (1.1e-4, 4.4e-5, 1.1e-5, 1.5e-6)),
    ("2.5e-7", (5.5e-4, 2.2e-4, 5.7e-5, 7.5e-6)),
    ("0.5e-6", (1.1e-3, 4.4e-4, 1.1e-4, 1.5e-5)),
]


@pytest.mark.parametrize(("rate", "printed"), PROOF_TESTED)
def test_one_channel_with_a_proof_test_and_announced_failures(rate: str, printed: tuple[float, ...]) -> None:
    for share, expected in zip(("0 %", "60 %", "90 %", "99 %"), printed, strict=True):
        found = number(rate=f"{rate} 1/h", test_interval="4380 h", repair="8 h", announced=share)
        assert found == pytest.approx(expected, rel=0.05)


def test_a_failure_that_announces_itself_is_down_while_it_is_repaired() -> None:
    # Two-state availability, elementary: rate x repair / (1 + rate x repair).
    assert number(rate="1e-3 1/h", repair="10 h") == pytest.approx(0.01 / 1.01, rel=1e-12)


@pytest.mark.parametrize(
    "event",
    [
        {"rate": "1e-3 1/h", "mission": "8 h", "repair": "10 h"},
        {"rate": "1e-3 1/h", "test_interval": "8 h", "announced": "50 %"},
        {"probability": 0.1, "repair": "10 h"},
    ],
)
def test_a_repair_beside_what_knows_none_is_refused(event: dict[str, object]) -> None:
    with pytest.raises(ValueError, match=r"given twice|needs a `test_interval`"):
        sheet({"top": event})
