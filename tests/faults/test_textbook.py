"""Textbook results that follow from P(top): mean time to failure, and the bounds of inclusion and exclusion."""

from __future__ import annotations

import math
from itertools import combinations

import pytest
from scipy import integrate

from riskkit.faults import CommonCause, Gate, Tree, analyse, expand


def exact(tree: Tree) -> float:
    found = analyse(tree).exact
    assert found is not None
    return found


def test_mean_time_to_failure_of_two_out_of_three() -> None:
    # 5 / (6 lambda), less than the 1 / lambda of one unit; equal to one unit where R = 0.5. Textbook, from memory (CV-15).
    def works(t: float) -> float:
        q = -math.expm1(-t)
        return 1 - exact(Tree("top", {"top": Gate("at least", ("a", "b", "c"), 2)}, dict.fromkeys("abc", q)))

    mean, _ = integrate.quad(works, 0, 40, epsabs=1e-9)
    assert mean == pytest.approx(5 / 6, rel=1e-7)
    assert works(math.log(2)) == pytest.approx(0.5, rel=1e-12)


def test_inclusion_and_exclusion_close_in_from_both_sides() -> None:
    # 0.6, 0.49, 0.496 after one, two, three terms; elementary (CV-21).
    chances = {"a": 0.1, "b": 0.2, "c": 0.3}
    whole = analyse(Tree("top", {"top": Gate("any", tuple(chances))}, chances))
    total, found = 0.0, []
    for count in (1, 2, 3):
        terms = sum(
            exact(Tree("top", {"top": Gate("all", some)}, {name: chances[name] for name in some}))
            for some in combinations(chances, count)
        )
        total += terms if count % 2 else -terms
        found.append(total)
    assert found == pytest.approx([0.6, 0.49, 0.496], rel=1e-12)
    assert found[0] == pytest.approx(whole.rare_event)
    assert found[2] == pytest.approx(whole.exact)


def test_a_member_that_cannot_fail_takes_nothing_from_the_others() -> None:
    tree = Tree("top", {"top": Gate("any", ("a", "b"))}, {"a": 1e-2, "b": 0.0})
    assert exact(expand(tree, [CommonCause("lot", ("a", "b"), beta=0.1)])) == pytest.approx(1e-2, rel=1e-12)
