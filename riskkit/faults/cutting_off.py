"""The cheapest cut sets of a block too large for a diagram: all of them down to a cut-off, which falls step by step.

A cut set that costs no more than the cut-off is made of cut sets of inner gates that cost no more either; so whatever
costs more is dropped at every gate, and what is left at the top is complete down to the cut-off.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf
from time import perf_counter

from riskkit.faults.diagrams import TooLarge
from riskkit.faults.listing import Costed
from riskkit.faults.modules import Block

MOST_SETS = 20_000
"""Cut sets that a gate may have above the cut-off."""


def cheapest_within(
    block: Block, costs: Sequence[float], given: Sequence[bool], never: Sequence[bool], wanted: int, until: float
) -> tuple[list[Costed], bool]:
    """The cheapest minimal cut sets of a block in order of their cost, and whether as many as wanted or all there are.

    Args:
        block: The block.
        costs: By input, -ln of its probability, or 1 where the number of events counts.
        given: By input, whether it is certain.
        never: By input, whether it cannot come about.
        wanted: How many.
        until: When to give up, as `time.perf_counter` counts; what was complete by then is the answer.
    """
    prices = [inf if off else 0.0 if on else cost for cost, on, off in zip(costs, given, never, strict=True)]
    limit, step = max(1.0, _least(block, prices)), 1.0
    found: list[Costed] = []
    while len(found) < wanted:
        try:
            sets, dropped = _down_to(block, prices, limit, until)
        except TooLarge:
            return found, False
        found = sets
        if not dropped:
            return found, True
        limit += step
        step *= 1.25 if not found else 1.0
    return found, True


def _least(block: Block, prices: Sequence[float]) -> float:
    """No set costs less: the dearest of what an AND needs, the cheapest of what an OR does."""
    least = list(prices)
    for needed, children in block.gates:
        least.append(sorted(least[one] for one in children)[needed - 1])
    return least[-1] if least[-1] < inf else 1.0


def _down_to(block: Block, prices: Sequence[float], limit: float, until: float) -> tuple[list[Costed], bool]:
    """All minimal cut sets that cost no more than the limit, and whether any dearer ones were dropped."""
    members = [place for place, price in enumerate(prices) if 0 < price < inf]
    dropped = False
    sets: list[dict[int, float]] = []  # by node: members as bits -> cost
    for place, price in enumerate(prices):
        sets.append({1 << place: price} if 0 < price <= limit else {0: 0.0} if price == 0 else {})
        dropped |= limit < price < inf

    def joined(first: dict[int, float], second: dict[int, float]) -> dict[int, float]:
        nonlocal dropped
        made: dict[int, float] = {}
        for one, cost in first.items():
            if perf_counter() > until or len(made) > MOST_SETS:
                raise TooLarge
            for other, more in second.items():
                both = one | other
                if both in made:
                    continue
                shared = one & other
                total = cost + more
                while shared:
                    bit = shared & -shared
                    shared ^= bit
                    total -= prices[bit.bit_length() - 1]
                if total <= limit * (1 + 1e-12):
                    made[both] = total
                else:
                    dropped = True
        return made

    for needed, children in block.gates:
        rows: list[dict[int, float]] = [{0: 0.0}] + [{} for _ in range(needed)]
        for at, child in enumerate(children):
            for still in range(min(needed, at + 1), max(0, needed - len(children) + at), -1):
                added = joined(rows[still - 1], sets[child])
                if added:
                    rows[still] = _minimal({**rows[still], **added}, until)
        sets.append(rows[needed])
    top = sorted((cost, mask) for mask, cost in sets[-1].items())
    return [(max(0.0, cost), tuple(one for one in members if mask >> one & 1)) for cost, mask in top], dropped


def _minimal(sets: dict[int, float], until: float) -> dict[int, float]:
    """Without those that hold another one; looked for only among sets that share its lowest member."""
    by_lowest: dict[int, list[int]] = {}
    kept: dict[int, float] = {}
    for mask in sorted(sets, key=int.bit_count):
        if not mask:
            return {0: 0.0}
        rest = mask
        spare = False
        while rest and not spare:
            lowest = rest & -rest
            rest ^= lowest
            spare = any(one & mask == one for one in by_lowest.get(lowest, ()))
        if not spare:
            by_lowest.setdefault(mask & -mask, []).append(mask)
            kept[mask] = sets[mask]
            if len(kept) > MOST_SETS or (not len(kept) & 255 and perf_counter() > until):
                raise TooLarge
    return kept
