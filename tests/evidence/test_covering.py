"""The cheapest set of tests against every set there is."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given, settings, strategies as st

from riskkit.evidence.answers import EvidenceError
from riskkit.evidence.covering import cheapest_cover

NAMES = [f"T{number}" for number in range(8)]
COSTS = st.dictionaries(st.sampled_from(NAMES), st.integers(0, 90).map(float), min_size=1)


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_no_set_of_tests_is_cheaper(data: st.DataObject) -> None:
    costs = data.draw(COSTS)
    sets = st.frozensets(st.sampled_from(sorted(costs)), max_size=4)
    claims = {f"claim {number}": tests for number, tests in enumerate(data.draw(st.lists(sets, max_size=7)))}
    found = cheapest_cover(costs, claims)
    wanted = [tests for tests in claims.values() if tests]
    covering = [
        sum(costs[name] for name in chosen)
        for count in range(len(costs) + 1)
        for chosen in combinations(costs, count)
        if all(tests & set(chosen) for tests in wanted)
    ]
    assert all(tests & set(found.chosen) for tests in wanted)
    assert found.cost == pytest.approx(min(covering))
    assert found.is_smallest
    assert found.at_least == pytest.approx(found.cost)
    assert found.uncovered == tuple(claim for claim, tests in claims.items() if not tests)


def test_a_textbook_cover_where_the_greedy_choice_is_wrong() -> None:
    # The classical example (constructed): greedy takes the large middle set first and needs three, two are enough.
    claims = {str(number): frozenset() for number in range(6)}
    speaks = {"left": {0, 1, 2}, "right": {3, 4, 5}, "middle": {0, 1, 3, 4}}
    covered = {claim: frozenset(test for test, told in speaks.items() if int(claim) in told) for claim in claims}
    assert set(cheapest_cover(dict.fromkeys(speaks, 1.0), covered).chosen) == {"left", "right"}


def test_of_equally_cheap_sets_the_smaller_one_is_taken() -> None:
    costs = {"T1": 10.0, "T2": 20.0, "T3": 30.0}
    claims = {"a": frozenset({"T1", "T3"}), "b": frozenset({"T2", "T3"})}
    assert cheapest_cover(costs, claims).chosen == ("T3",)


@pytest.mark.parametrize(
    ("costs", "claims", "words"),
    [
        ({"T1": -1.0}, {"a": frozenset({"T1"})}, "negative"),
        ({"T1": 1.0}, {"a": frozenset({"T2"})}, "T2 has no cost"),
    ],
)
def test_what_cannot_be_weighed_is_refused(
    costs: dict[str, float], claims: dict[str, frozenset[str]], words: str
) -> None:
    with pytest.raises(EvidenceError, match=words):
        cheapest_cover(costs, claims)
