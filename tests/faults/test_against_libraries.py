"""The same trees through two general-purpose diagram libraries: dd (its own Python one and CUDD) and oxidd."""

from __future__ import annotations

from types import ModuleType
from typing import Any

import pytest
from dd import autoref, cudd
from oxidd.bdd import BDDManager

from riskkit.faults import Tree, analyse

SIZES = [(20, 0.5), (40, 0.4), (80, 0.2), (150, 0.1)]


def recursive(node: Any, chances: dict[str, float], known: dict[Any, float], opened: Any) -> float:
    """P(node) from its variable and both branches as `opened` gives them; ends give a number."""
    if node not in known:
        name, low, high = opened(node)
        known[node] = (
            float(low)
            if name is None
            else (1 - chances[name]) * recursive(low, chances, known, opened)
            + chances[name] * recursive(high, chances, known, opened)
        )
    return known[node]


def by_dd(tree: Tree, library: Any, growing: ModuleType) -> tuple[Any, Any, dict[str, Any]]:
    manager = library.BDD()
    manager.configure(reordering=False)
    order = growing.left_most(tree)
    manager.declare(*order)
    variables = {name: manager.var(name) for name in order}
    return manager, growing.in_library(tree, variables, manager.false, manager.true), variables


def probability_by_dd(manager: Any, top: Any, chances: dict[str, float]) -> float:
    def opened(node: Any) -> tuple[Any, Any, Any]:
        if node in (manager.true, manager.false):
            return None, node == manager.true, None
        name = node.var
        return name, manager.let({name: False}, node), manager.let({name: True}, node)

    return recursive(top, chances, {}, opened)


@pytest.mark.parametrize("library", [autoref, cudd], ids=["dd.autoref", "dd.cudd"])
@pytest.mark.parametrize(("events", "share"), SIZES[:3])
def test_like_dd(library: Any, events: int, share: float, growing: ModuleType) -> None:
    for seed in range(10):
        tree = growing.grown(events, seed, share)
        answer = analyse(tree)
        manager, top, _ = by_dd(tree, library, growing)
        chances = dict(tree.probabilities)
        assert answer.exact == pytest.approx(probability_by_dd(manager, top, chances), rel=1e-11)
        name = sorted(chances)[seed]
        with_it = probability_by_dd(manager, top, chances | {name: 1.0})
        without = probability_by_dd(manager, top, chances | {name: 0.0})
        assert answer.importance[name].birnbaum == pytest.approx(with_it - without, rel=1e-9, abs=1e-13)
        for one in answer.cut_sets:  # each brings the top about, and none of its members is spare
            chosen = dict.fromkeys(chances, False) | dict.fromkeys(one.events, True)
            assert manager.let(chosen, top) == manager.true
            for spare in one.events:
                assert manager.let(chosen | {spare: False}, top) == manager.false
        del manager, top, _


@pytest.mark.parametrize(("events", "share"), SIZES)
def test_like_oxidd(events: int, share: float, growing: ModuleType) -> None:
    for seed in range(20):
        tree = growing.grown(events, seed, share)
        manager = BDDManager(1 << 18, 1 << 16, 1)
        order = growing.left_most(tree)
        numbers = manager.add_vars(len(order))
        variables = {name: manager.var(number) for name, number in zip(order, numbers, strict=True)}
        top = growing.in_library(tree, variables, manager.false(), manager.true())

        def opened(node: Any, order: list[str] = order) -> tuple[Any, Any, Any]:
            level = node.node_level()
            if level is None:
                return None, node.satisfiable(), None
            high, low = node.cofactors()
            return order[level], low, high

        found = recursive(top, dict(tree.probabilities), {}, opened)
        assert analyse(tree).exact == pytest.approx(found, rel=1e-11)
