"""Groups that fail together. Sources beside the checks; the standards were not at hand: from memory."""

from __future__ import annotations

from typing import Any

import pytest

from riskkit.faults import CommonCause, FaultError, Gate, Tree, analyse, beta_by_score, expand


def of(count: int, least: int, q: float = 1e-2) -> Tree:
    names = tuple(f"c{place}" for place in range(1, count + 1))
    return Tree("top", {"top": Gate("at least", names, least)}, dict.fromkeys(names, q))


def chance(tree: Tree, *groups: CommonCause) -> float:
    exact = analyse(expand(tree, groups)).exact
    assert exact is not None
    return exact


def test_two_in_an_and() -> None:
    """Two of 1e-2 with beta 0.05: 1e-4 becomes 5.9e-4 (constructed by IEC 61508-6 Annex D)."""
    assert chance(of(2, 2)) == pytest.approx(1e-4, rel=1e-14)
    assert chance(of(2, 2), CommonCause("ccf", ("c1", "c2"), beta=0.05)) == pytest.approx(5.9e-4, rel=1e-3)
    exact = 5e-4 + (1 - 5e-4) * 9.5e-3**2
    assert chance(of(2, 2), CommonCause("ccf", ("c1", "c2"), beta=0.05)) == pytest.approx(exact, rel=1e-14)


def test_the_shared_event_is_a_cut_set_of_its_own() -> None:
    answer = analyse(expand(of(3, 3), [CommonCause("supply", ("c1", "c2", "c3"), beta=0.1)]))
    assert answer.single_points == ("supply in common",)
    assert answer.cut_sets[0].events == ("supply in common",)
    assert answer.cut_sets[0].probability == pytest.approx(1e-3)
    assert answer.cut_sets[1].events == ("c1 alone", "c2 alone", "c3 alone")


@pytest.mark.parametrize(("m", "n", "factor"), [(1, 2, 1.0), (1, 3, 0.5), (2, 3, 1.5), (3, 4, 1.75)])
def test_votes_multiply_beta(m: int, n: int, factor: float) -> None:
    """IEC 61508-6 Table D.5, from memory (medium confidence)."""
    names = tuple(f"c{place}" for place in range(1, n + 1))
    tree = expand(of(n, n - m + 1), [CommonCause("ccf", names, beta=0.02, votes=(m, n))])
    assert tree.probabilities["ccf in common"] == pytest.approx(factor * 0.02 * 1e-2, rel=1e-14)
    assert tree.probabilities["c1 alone"] == pytest.approx(0.98e-2, rel=1e-14)


@pytest.mark.parametrize(
    ("score", "logic", "field"),
    [(130, 0.005, 0.01), (120, 0.005, 0.01), (119.9, 0.01, 0.02), (70, 0.01, 0.02), (69, 0.02, 0.05), (45, 0.02, 0.05),
     (44, 0.05, 0.10), (0, 0.05, 0.10)],
)  # fmt: skip
def test_beta_by_score(score: float, logic: float, field: float) -> None:
    """IEC 61508-6 Table D.4, from memory (high confidence)."""
    assert beta_by_score(score, "logic") == logic
    assert beta_by_score(score, "field") == field


@pytest.mark.parametrize("staggered", [False, True])
def test_alpha_factors_keep_the_probability_of_each_member(staggered: bool) -> None:
    """NUREG/CR-5485, from memory: sum over k of C(n-1, k-1) Q_k is q (exactly so for both ways of testing)."""
    group = CommonCause("ccf", ("c1", "c2", "c3"), alphas=(0.95, 0.03, 0.02), staggered=staggered)
    tree = expand(of(3, 2), [group])
    q = tree.probabilities
    pair = q["ccf in common: c1, c2"]
    assert q["c1 alone"] + 2 * pair + q["ccf in common"] == pytest.approx(1e-2, rel=1e-12)
    if not staggered:  # Q_2 = 2 alpha_2 q / (C(2, 1) alpha_t), alpha_t = 0.95 + 0.06 + 0.06
        assert pair == pytest.approx(0.03 * 1e-2 / 1.07, rel=1e-12)
    # two of three fail: by the triple, by a pair's event (3), or by two alone (3)
    assert analyse(tree).cut_set_count == 7


def test_alpha_factors_of_two_are_a_beta_factor() -> None:
    """beta = 2 alpha_2 / (alpha_1 + 2 alpha_2), elementary."""
    by_alpha = chance(of(2, 2), CommonCause("ccf", ("c1", "c2"), alphas=(0.96, 0.04)))
    by_beta = chance(of(2, 2), CommonCause("ccf", ("c1", "c2"), beta=0.08 / 1.04))
    assert by_alpha == pytest.approx(by_beta, rel=1e-12)


def test_a_member_may_stand_anywhere_in_the_tree() -> None:
    gates = {"top": Gate("all", ("left", "c1")), "left": Gate("any", ("c2", "other"))}
    tree = Tree("top", gates, {"c1": 1e-2, "c2": 1e-2, "other": 1e-3})
    assert chance(tree, CommonCause("x", ("c1", "c2"), beta=0.1)) > chance(tree)
    assert chance(tree, CommonCause("x", ("c1", "c2"), beta=0.0)) == pytest.approx(chance(tree), rel=1e-14)
    assert chance(tree, CommonCause("x", ("c1", "c2"), beta=1.0)) == pytest.approx(1e-2, rel=1e-14)


@pytest.mark.parametrize(
    ("groups", "sentence"),
    [
        ([{"events": ("c1", "nowhere"), "beta": 0.1}], "`nowhere`, which is not defined"),
        ([{"events": ("c1", "top"), "beta": 0.1}], "`top`, which is a gate"),
        ([{"events": ("c1",), "beta": 0.1}], "two or more"),
        ([{"events": ("c1", "c1"), "beta": 0.1}], "two or more different"),
        ([{"events": ("c1", "c2")}], "either a beta factor or alpha factors"),
        ([{"events": ("c1", "c2"), "beta": 0.1, "alphas": (0.9, 0.1)}], "either a beta factor or alpha"),
        ([{"events": ("c1", "c2"), "beta": 1.1}], "must lie from 0 to 1"),
        ([{"events": ("c1", "c2"), "beta": float("nan")}], "must lie from 0 to 1"),
        ([{"events": ("c1", "c2"), "beta": 0.1, "votes": (2, 3)}], "votes 2oo3"),
        ([{"events": ("c1", "c2"), "alphas": (0.9, 0.2)}], "add up to 1"),
        ([{"events": ("c1", "c2"), "alphas": (1.0,)}], "1 alpha factors"),
        ([{"events": ("c1", "c2"), "beta": 0.1}, {"events": ("c2", "c3"), "beta": 0.1}], "is in the groups"),
    ],
)
def test_a_wrong_group_is_refused(groups: list[dict[str, Any]], sentence: str) -> None:
    with pytest.raises(FaultError) as refused:
        expand(of(3, 2), [CommonCause(f"x{place}", **group) for place, group in enumerate(groups)])
    assert sentence in refused.value.headline


def test_a_score_that_is_none_is_refused() -> None:
    with pytest.raises(FaultError, match="no beta factor"):
        beta_by_score(-1, "logic")
