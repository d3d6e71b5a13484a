"""The cheapest set of tests that speaks for every claim: a weighted set cover, solved exactly where that is possible."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from riskkit.evidence.answers import EvidenceError


@dataclass(frozen=True, slots=True)
class Cover:
    """Which tests to do.

    Attributes:
        chosen: Their names, in the order they were given.
        cost: What they cost together.
        at_least: No set of tests that speaks for every claim costs less than this.
        method: How it was found.
        uncovered: Claims that no test speaks for.
    """

    chosen: tuple[str, ...]
    cost: float
    at_least: float
    method: str
    uncovered: tuple[str, ...]

    @property
    def is_smallest(self) -> bool:
        """Whether nothing cheaper can exist."""
        return self.cost <= self.at_least * (1 + 1e-9) + 1e-9


def cheapest_cover(costs: Mapping[str, float], claims: Mapping[str, frozenset[str]], seconds: float = 5.0) -> Cover:
    """The cheapest tests of which at least one speaks for each claim; of equally cheap sets one with the fewest tests.

    Args:
        costs: Cost of each test, zero or more, such as minutes at the bench.
        claims: Claim -> tests that speak for it.
        seconds: Time for the solver; past it the best set so far is given, with the bound beside it.

    Raises:
        EvidenceError: for a negative cost, or a claim that names a test without a cost.

    Source: integer programme of the weighted set cover, solved by HiGHS through scipy.optimize.milp.
    """
    wrong = next((name for name, cost in costs.items() if not cost >= 0), None)
    if wrong is not None:
        raise EvidenceError(f"{wrong} costs {costs[wrong]:g}, and a cost cannot be negative", "give zero or more")
    stranger = next((test for tests in claims.values() for test in sorted(tests) if test not in costs), None)
    if stranger is not None:
        raise EvidenceError(f"{stranger} has no cost", "give a cost for each test")
    uncovered = tuple(claim for claim, tests in claims.items() if not tests)
    wanted = sorted({tests for tests in claims.values() if tests}, key=sorted)
    # A claim whose tests hold those of another one is spoken for with it.
    needed = [tests for tests in wanted if not any(other < tests for other in wanted)]
    alone = {next(iter(tests)) for tests in needed if len(tests) == 1}
    open_claims = [tests for tests in needed if not tests & alone]
    if not open_claims:
        chosen = tuple(name for name in costs if name in alone)
        cost = sum(costs[name] for name in chosen)
        return Cover(chosen, cost, cost, "each is the only test that speaks for some claim", uncovered)
    return _solved(costs, open_claims, alone, uncovered, seconds)


def _solved(
    costs: Mapping[str, float],
    claims: list[frozenset[str]],
    alone: set[str],
    uncovered: tuple[str, ...],
    seconds: float,
) -> Cover:
    import numpy as np
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_array

    names = [name for name in costs if any(name in tests for tests in claims)]
    place = {name: at for at, name in enumerate(names)}
    rows = [row for row, tests in enumerate(claims) for _ in tests]
    columns = [place[name] for tests in claims for name in sorted(tests)]
    matrix = csr_array((np.ones(len(rows)), (rows, columns)), shape=(len(claims), len(names)))
    # One part in 1e6 of the scale for each test: of equally cheap sets the smaller one.
    scale = max((costs[name] for name in names), default=0.0) or 1.0
    weights = np.array([costs[name] + 1e-6 * scale for name in names])
    found = milp(
        weights,
        integrality=np.ones(len(names)),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(matrix, lb=1),
        options={"time_limit": seconds, "mip_rel_gap": 0.0},
    )
    must = sum(costs[name] for name in alone)
    if found.x is None:
        chosen = alone | {min(tests, key=lambda name: (costs[name], name)) for tests in claims}
        least = must + max(min(costs[name] for name in tests) for tests in claims)
        method = "the cheapest test of each claim; the solver found nothing in its time"
    else:
        chosen = alone | {name for name, taken in zip(names, found.x, strict=True) if taken > 0.5}
        solved = found.status == 0
        least = sum(costs[name] for name in chosen) if solved else must + max(0.0, float(found.mip_dual_bound or 0.0))
        method = "integer programme, solved to the end" if solved else "integer programme, ended by its time"
    ordered = tuple(name for name in costs if name in chosen)
    cost = sum(costs[name] for name in ordered)
    return Cover(ordered, cost, min(least, cost), method, uncovered)
