"""What is left without an event that decides nearly all keeps its digits; bounds bracket the exact value to the last one."""

from __future__ import annotations

import pytest

from riskkit.faults import Gate, Tree, analyse


@pytest.mark.parametrize("rare", [1e-3, 1e-9, 1e-15, 1e-18, 1e-300])
@pytest.mark.parametrize("often", [0.5, 0.3, 0.999])
def test_what_is_left_without_the_event_that_decides(rare: float, often: float) -> None:
    # By hand: P(a or b) / P(b), where the difference P(top) - P(a) has no digits left.
    found = analyse(Tree("top", {"top": Gate("any", ("a", "b"))}, {"a": often, "b": rare}))
    assert found.importance["a"].reduction_worth == pytest.approx((often + rare - often * rare) / rare, rel=1e-12)


@pytest.mark.parametrize("p", [0.25, 0.1, 1 / 3, 1e-7])
def test_bounds_bracket_the_exact_value_to_the_last_digit(p: float) -> None:
    found = analyse(Tree("top", {"top": Gate("any", ("a", "b", "c"))}, dict.fromkeys("abc", p)))
    assert found.exact is not None
    assert found.upper_bound is not None
    assert found.rare_event is not None
    assert found.exact <= found.upper_bound <= found.rare_event


def test_a_top_that_cannot_happen_has_a_plain_zero_as_its_bound() -> None:
    found = analyse(Tree("top", {"top": Gate("all", ("a", "b"))}, {"a": 0.5, "b": 0.0}))
    assert str(found.upper_bound) == "0.0"
