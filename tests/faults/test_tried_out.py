"""Everything an analysis says, against trying every combination of events of small random trees."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given, settings, strategies as st

from riskkit.faults import Gate, Tree, analyse, smallest_cut_sets

CHANCES = st.one_of(st.floats(1e-6, 1 - 1e-6), st.sampled_from((0.0, 1.0, 0.5, 1e-3)))


@st.composite
def trees(draw: st.DrawFn, most: int = 7, chances: st.SearchStrategy[float] = CHANCES) -> Tree:
    """Gates over anything before them, so that events and gates are shared at will."""
    count = draw(st.integers(1, most))
    chance = {f"e{place}": draw(chances) for place in range(count)}
    names, gates = list(chance), dict[str, Gate]()
    for place in range(draw(st.integers(1, 7))):
        kind = draw(st.sampled_from(("all", "any", "at least")))
        inputs = tuple(draw(st.lists(st.sampled_from(names), min_size=1, max_size=5, unique=True)))
        gates[f"g{place}"] = Gate(kind, inputs, draw(st.integers(1, len(inputs))) if kind == "at least" else 0)
        names.append(f"g{place}")
    return Tree(names[-1], gates, chance)


def close(value: float) -> Any:
    return pytest.approx(value, rel=1e-10, abs=1e-15)


@settings(max_examples=250, deadline=None)
@given(tree=trees())
def test_all_answers_are_those_of_the_truth_table(tree: Tree, tried: Any) -> None:
    answer, table = analyse(tree), tried(tree)
    top = table.probability()
    assert answer.exact == close(top)
    sets = table.cut_sets()
    assert {one.events for one in answer.cut_sets} == sets
    assert answer.cut_set_count == len(sets) == len(answer.cut_sets)
    assert sum(answer.orders.values()) == len(sets)
    for order, count in answer.orders.items():
        assert sum(len(one) == order for one in sets) == count
    chances = {one: math.prod(tree.probabilities[name] for name in one) for one in sets}
    assert {one.events: one.probability for one in answer.cut_sets} == close(chances)
    assert answer.rare_event == close(math.fsum(chances.values()))
    assert answer.upper_bound == close(1 - math.prod(1 - one for one in chances.values()))
    assert answer.single_points == tuple(sorted(one[0] for one in sets if len(one) == 1))
    assert list(answer.cut_sets) == sorted(answer.cut_sets, key=lambda one: -one.probability)
    assert [len(one.events) for one in smallest_cut_sets(tree)] == sorted(map(len, sets))


@settings(max_examples=150, deadline=None)
@given(tree=trees())
def test_importance_is_what_setting_the_event_says(tree: Tree, tried: Any) -> None:
    answer, table = analyse(tree), tried(tree)
    top = table.probability()
    for name, found in answer.importance.items():
        with_it, without = table.probability(**{name: 1.0}), table.probability(**{name: 0.0})
        assert found.birnbaum == close(with_it - without)
        assert found.birnbaum >= 0
        if top:
            share = (top - without) / top
            assert found.criticality == pytest.approx(share, rel=1e-9, abs=1e-9)
            assert found.fussell_vesely == found.criticality
            assert found.achievement_worth == pytest.approx(with_it / top, rel=1e-9)
        else:
            assert (found.criticality, found.fussell_vesely) == (0, 0)
            assert found.achievement_worth == (math.inf if with_it else 1)
        if without == 0:
            assert found.reduction_worth == (math.inf if top else 1)
        elif without > 1e-6 * top:
            assert found.reduction_worth == pytest.approx(top / without, rel=1e-9)


@settings(max_examples=25, deadline=None)
@given(tree=trees(most=14, chances=st.floats(1e-4, 0.4)))
def test_up_to_fourteen_events(tree: Tree, tried: Any) -> None:
    answer, table = analyse(tree), tried(tree)
    assert answer.exact == close(table.probability())
    assert answer.cut_set_count == len(table.cut_sets())


@settings(max_examples=100, deadline=None)
@given(tree=trees(), data=st.data())
def test_more_of_an_event_is_never_less_of_the_top(tree: Tree, data: st.DataObject) -> None:
    name = data.draw(st.sampled_from(sorted(tree.probabilities)))
    more = data.draw(st.floats(tree.probabilities[name], 1.0))
    raised = Tree(tree.top, tree.gates, {**tree.probabilities, name: more})
    before, after = analyse(tree).exact, analyse(raised).exact
    assert before is not None
    assert after is not None
    assert after >= before * (1 - 1e-12)


@settings(max_examples=100, deadline=None)
@given(tree=trees(), data=st.data())
def test_order_in_the_file_and_names_change_nothing(tree: Tree, data: st.DataObject) -> None:
    new = dict(
        zip(tree.gates | tree.probabilities, data.draw(st.permutations([f"n{i}" for i in range(30)])), strict=False)
    )

    def mixed(items: Any) -> list[Any]:
        return data.draw(st.permutations(list(items)))

    other = Tree(
        new[tree.top],
        {
            new[name]: Gate(gate.kind, tuple(new[one] for one in mixed(gate.inputs)), gate.least)
            for name, gate in mixed(tree.gates.items())
        },
        {new[name]: chance for name, chance in mixed(tree.probabilities.items())},
    )
    first, second = analyse(tree), analyse(other)
    assert second.exact == close(first.exact or 0.0)
    assert second.orders == first.orders
    assert {frozenset(one.events) for one in second.cut_sets} == {
        frozenset(new[name] for name in one.events) for one in first.cut_sets
    }
    for name, weight in first.importance.items():
        assert second.importance[new[name]].birnbaum == close(weight.birnbaum)


@settings(max_examples=100, deadline=None)
@given(tree=trees(chances=st.floats(1e-4, 0.5)))
def test_the_approximations_lie_where_they_must(tree: Tree) -> None:
    answer = analyse(tree)
    assert answer.exact is not None
    assert answer.upper_bound is not None
    assert answer.rare_event is not None
    biggest = max(one.probability for one in answer.cut_sets)
    slack = 1 + 1e-12
    assert biggest <= answer.exact * slack
    assert answer.exact <= answer.upper_bound * slack
    assert answer.upper_bound <= answer.rare_event * slack
