"""P(top) as its inputs vary, against distributions that are known in closed form."""

from __future__ import annotations

import math
from types import ModuleType

import pytest

from riskkit.faults import Beta, FaultError, Gate, Lognormal, Tree, Uniform, analyse, top_uncertainty

AND = Tree("t", {"t": Gate("all", ("a", "b"))}, {"a": 1e-3, "b": 1e-2})


def test_a_product_of_lognormals_is_lognormal() -> None:
    """ln P is normal: median 1e-5, sigma^2 the sum of both; its percentiles and mean in closed form."""
    found = top_uncertainty(AND, {"a": Lognormal(3), "b": Lognormal(10)}, trials=40_000)
    sigma = math.hypot(math.log(3), math.log(10)) / 1.6448536269514722
    assert found.point == pytest.approx(1e-5)
    for share, z in ((5, -1.6448536), (50, 0.0), (95, 1.6448536)):
        exact = 1e-5 * math.exp(sigma * z)
        low, high = found.percentile_errors[share]
        assert low < found.percentiles[share] < high
        # 0.005 = standard error of the rank; the density makes it sigma x 0.011 in ln P at the tails: 4 of these
        assert math.log(found.percentiles[share] / exact) == pytest.approx(0, abs=4 * sigma * 0.011)
    assert found.mean == pytest.approx(1e-5 * math.exp(sigma**2 / 2), abs=4 * found.mean_error)
    assert found.seed == 1
    assert "40000 draws (seed 1)" in found.method


def test_mean_of_independent_inputs_is_the_tree_at_their_means() -> None:
    """P is linear in each input, so that means go through, also where an event stands in two places."""
    tree = Tree(
        "t",
        {"t": Gate("any", ("x", "y")), "x": Gate("all", ("a", "b")), "y": Gate("all", ("a", "c"))},
        dict.fromkeys("abc", 0.1),
    )
    found = top_uncertainty(tree, {"a": Uniform(0.1, 0.5), "b": Beta(2, 8), "c": Beta(0.5, 4.5)}, trials=20_000)
    at_means = analyse(Tree("t", tree.gates, {"a": 0.3, "b": 0.2, "c": 0.1})).exact
    assert found.mean == pytest.approx(at_means, abs=4 * found.mean_error)
    assert found.mean_error < 0.002


def test_the_same_seed_gives_the_same_answer_whatever_the_order(growing: ModuleType) -> None:
    tree = growing.grown(60, 1, 0.2)
    spreads = {name: Lognormal(3.0) for name in tree.probabilities}
    other = Tree(tree.top, tree.gates, dict(reversed(tree.probabilities.items())))
    first = top_uncertainty(tree, spreads, trials=500, seed=4)
    assert first == top_uncertainty(other, dict(reversed(spreads.items())), trials=500, seed=4)
    assert first.mean != top_uncertainty(tree, spreads, trials=500, seed=5).mean


def test_without_spreads_nothing_varies() -> None:
    found = top_uncertainty(AND, {}, trials=100)
    assert found.mean_error == pytest.approx(0, abs=1e-20)
    assert set(found.percentiles.values()) == {found.point}


def test_draws_above_one_are_reported() -> None:
    found = top_uncertainty(Tree("a", {}, {"a": 0.5}), {"a": Lognormal(10)}, trials=1000)
    assert found.percentiles[95] == 1.0
    assert "lay above 1" in found.notes[0]


@pytest.mark.parametrize(
    ("spread", "sentence"),
    [
        ({"a": Lognormal(0.5)}, "error factor from 1"),
        ({"a": Uniform(0.5, 0.1)}, "low first"),
        ({"a": Uniform(0.5, 1.1)}, "from 0 to 1"),
        ({"a": Beta(0, 1)}, "above zero"),
        ({"a": 3}, "Lognormal, Uniform or Beta"),
    ],
)
def test_a_wrong_spread_is_refused(spread: dict[str, Lognormal], sentence: str) -> None:
    with pytest.raises(FaultError) as refused:
        top_uncertainty(AND, spread)
    assert sentence in refused.value.help


def test_what_else_is_refused(growing: ModuleType) -> None:
    with pytest.raises(FaultError, match="no basic event"):
        top_uncertainty(AND, {"t": Lognormal(3)})
    with pytest.raises(FaultError, match="trials is 5"):
        top_uncertainty(AND, {}, trials=5)
    with pytest.raises(FaultError, match="between 0 and 100"):
        top_uncertainty(AND, {}, percentiles=(0.0,))
    with pytest.raises(FaultError, match="does not fit into the budget"):
        top_uncertainty(growing.grown(60, 3, 0.5), {}, nodes=5)
