"""Trees that do not fit: bounds that hold the exact value, cut sets in their right order, an end in time."""

from __future__ import annotations

import math
from time import perf_counter
from types import ModuleType

import pytest
from hypothesis import given, settings, strategies as st

from riskkit.faults import FaultError, Gate, Tree, analyse, smallest_cut_sets
from riskkit.faults.bounding import bounds_of
from riskkit.faults.circuits import circuit_of
from riskkit.faults.modules import blocks_of
from riskkit.faults.simulating import clopper_pearson_ends, hits_of


def tangled(events: int, least: int = 2) -> Tree:
    """Neighbours in a ring in pairs, and votes over events far apart: no independent parts."""
    names = [f"e{place}" for place in range(events)]
    gates = {f"p{i}": Gate("all", (names[i], names[(i * 7 + 3) % events])) for i in range(events) if i * 6 + 3 != 0}
    gates |= {
        f"v{i}": Gate("at least", tuple(dict.fromkeys(names[(i * k + k) % events] for k in (1, 5, 11, 17))), least)
        for i in range(0, events, 3)
    }
    gates["left"] = Gate("any", tuple(name for name in gates if name.startswith("p")))
    gates["right"] = Gate("any", tuple(name for name in gates if name.startswith("v")))
    gates["top"] = Gate("all", ("left", "right"))
    return Tree("top", gates, {name: 0.01 + 0.002 * (place % 7) for place, name in enumerate(names)})


def test_bounds_hold_the_exact_value_and_say_what_they_are(growing: ModuleType) -> None:
    for seed in range(12):
        tree = growing.grown(60, seed, 0.5)
        exact, answer = analyse(tree).exact, analyse(tree, nodes=20, seconds=3.0, trials=1)
        assert exact is not None
        if answer.exact is None:
            assert answer.bounds[0] <= exact <= answer.bounds[1]
            assert answer.bounds[1] - answer.bounds[0] <= 2e-4 * exact
            assert "bounds by factoring" in answer.method
            assert answer.importance == {}
            assert any("not counted" in note for note in answer.notes)
        assert answer.cut_sets[0] == analyse(tree).cut_sets[0]


def test_without_time_for_factoring_the_interval_of_a_simulation_narrows_the_bounds() -> None:
    tree = tangled(21)
    exact = analyse(tree).exact
    assert exact is not None
    answer = analyse(tree, nodes=20, seconds=0.05, trials=65_536, seed=3)
    assert answer.exact is None
    assert answer.bounds[0] <= exact <= answer.bounds[1]
    block = blocks_of(circuit_of(tree))[-1]
    assert len(block.inputs) == 21
    _, _, cases = bounds_of(block, *[[tree.probabilities[f"e{i}"] for i in range(21)]] * 2, until=0.0)
    assert cases == 1


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10**6), divisions=st.integers(0, 6), chance=st.floats(0.001, 0.999))
def test_bounds_hold_after_any_number_of_divisions(
    seed: int, divisions: int, chance: float, growing: ModuleType
) -> None:
    tree = growing.grown(16, seed, 0.9)
    tree = Tree(tree.top, tree.gates, dict.fromkeys(tree.probabilities, chance))
    exact = analyse(tree).exact
    circuit = circuit_of(tree)
    chances = dict.fromkeys(range(len(circuit.names)), chance)
    low, high = dict(chances), dict(chances)
    for block in blocks_of(circuit):
        lows, highs = [low[node] for node in block.inputs], [high[node] for node in block.inputs]
        low[block.output], high[block.output], _ = bounds_of(
            block, lows, highs, until=math.inf if divisions else 0.0, most=divisions
        )
    assert exact is not None
    assert low[block.output] <= exact * (1 + 1e-9)
    assert high[block.output] >= exact * (1 - 1e-9)


def test_cut_sets_found_by_search_are_those_of_the_diagram(growing: ModuleType) -> None:
    for seed in range(15):
        tree = growing.grown(40, seed, 0.6)
        whole, searched = analyse(tree, listed=20), analyse(tree, nodes=8, seconds=3.0, trials=1, listed=20)
        assert [one.probability for one in searched.cut_sets] == pytest.approx(
            [one.probability for one in whole.cut_sets], rel=1e-12
        )
        orders = [len(one.events) for one in smallest_cut_sets(tree, listed=20)]
        assert [len(one.events) for one in smallest_cut_sets(tree, nodes=8, seconds=3.0, listed=20)] == orders
        assert searched.single_points == whole.single_points


def test_simulation_is_not_biased() -> None:
    """4 standard errors; drawing a fixed number of failures was off by 20 of them in a trial (indices collide)."""
    tree = tangled(21)
    high = Tree(tree.top, tree.gates, {name: 5 * chance for name, chance in tree.probabilities.items()})
    exact = analyse(high).exact
    assert exact is not None
    circuit = circuit_of(high)
    hits, runs = hits_of(circuit, [high.probabilities[name] for name in circuit.names], 1_000_001, 7, math.inf)
    assert runs == 1_000_001
    assert hits / runs == pytest.approx(exact, abs=4 * math.sqrt(exact * (1 - exact) / runs))


@pytest.mark.parametrize("chance", [0.0, 1.0, 0.2, 0.24999, 0.25, 0.7])
def test_each_way_of_drawing_gives_the_probability(chance: float) -> None:
    circuit = circuit_of(Tree("e", {}, {"e": chance}))
    hits, runs = hits_of(circuit, [chance], 200_000, 1, math.inf)
    assert hits / runs == pytest.approx(chance, abs=4 * math.sqrt(chance * (1 - chance) / runs))


def test_interval_of_a_simulation() -> None:
    """0 of 20 and 1 of 20 at 90 % two-sided: upper ends 0.139 and 0.216 (usual tables of Clopper and Pearson)."""
    assert clopper_pearson_ends(0, 20, 0.9) == (0.0, pytest.approx(0.139, abs=5e-4))
    assert clopper_pearson_ends(1, 20, 0.9)[1] == pytest.approx(0.216, abs=5e-4)
    assert clopper_pearson_ends(20, 20, 0.9)[1] == 1.0


def test_an_impossible_tree_ends_in_time_with_bounds() -> None:
    tree = tangled(300)
    start = perf_counter()
    answer = analyse(tree, nodes=2000, seconds=15.0, trials=100_000)
    assert perf_counter() - start < 60.0  # a hang would be seen; how long it takes is measured in tests/bench
    assert answer.exact is None
    assert 0 < answer.bounds[0] < answer.bounds[1] < 1
    assert answer.cut_sets


def test_a_long_chain_of_gates_is_no_matter() -> None:
    """Deep nesting: neither the checks nor the diagrams run out of stack."""
    gates = {f"g{i}": Gate("any" if i % 2 else "all", (f"e{i}", f"g{i + 1}")) for i in range(5000)}
    gates["g5000"] = Gate("any", ("e5000", "e1"))
    answer = analyse(Tree("g0", gates, {f"e{i}": 0.3 for i in range(5001)}))
    assert answer.exact == pytest.approx(answer.bounds[0])
    assert answer.cut_set_count is not None


@pytest.mark.parametrize("wrong", [{"nodes": 0}, {"seconds": 0}, {"trials": -1}, {"listed": -1}, {"nodes": 1.5}])
def test_a_budget_that_is_none_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(FaultError, match=f"^{next(iter(wrong))} is"):
        analyse(Tree("a", {}, {"a": 0.1}), **wrong)  # type: ignore[arg-type]
