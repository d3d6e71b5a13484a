"""The first cut sets by probability or by order, best first; never all of them."""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Sequence
from itertools import count as counter
from math import inf
from time import perf_counter

from riskkit.faults.diagrams import Diagram
from riskkit.faults.modules import Block

Costed = tuple[float, tuple[int, ...]]
"""What a cut set costs (-ln of its probability, or its order), and its members."""

Pending = tuple[tuple[int, int, int], ...]
"""Gates still to be brought about: gate, the next of its inputs to decide on, and how many it still needs."""


def cheapest_sets(sets: Diagram, costs: Sequence[float]) -> Iterator[Costed]:
    """Sets of a diagram in order of their cost, the sum of the costs of their members (by input)."""
    by_level = [costs[one] for one in sets.order]
    ahead = [inf, 0.0]  # the least that still has to be paid
    for node in range(2, len(sets.level)):
        ahead.append(min(ahead[sets.low[node]], by_level[sets.level[node]] + ahead[sets.high[node]]))
    number = counter()
    heap: list[tuple[float, int, float, int, tuple[int, ...]]] = [(ahead[sets.root], next(number), 0.0, sets.root, ())]
    while heap and heap[0][0] < inf:
        _, _, paid, node, members = heapq.heappop(heap)
        while node > 1:  # the better branch at once, the other one later
            low, high = sets.low[node], sets.high[node]
            at = sets.level[node]
            without, with_it = paid + ahead[low], paid + by_level[at] + ahead[high]
            if without <= with_it:
                if with_it < inf:
                    more = (*members, sets.order[at])
                    heapq.heappush(heap, (with_it, next(number), paid + by_level[at], high, more))
                node = low
            else:
                if without < inf:
                    heapq.heappush(heap, (without, next(number), paid, low, members))
                paid += by_level[at]
                members = (*members, sets.order[at])
                node = high
        yield paid, members


def cheapest_found(
    block: Block,
    costs: Sequence[float],
    given: Sequence[bool],
    never: Sequence[bool],
    until: float,
    most: int = 200_000,
) -> Iterator[Costed]:
    """Minimal cut sets of a block in order of their cost, searched for in its gates where no diagram fits.

    A state is what has been chosen and which gates are still to be brought about. What these will cost is never
    estimated too high, since whatever is met in two ways counts as free; so sets come out in order, and a set that holds an
    earlier one is not minimal. Ends early when time is up or too many states wait: what came out is still right.
    """
    size = len(block.inputs)
    ways = [0] * size + [0] * (len(block.gates) - 1) + [1]  # by how many ways from the top a node is met
    for place in range(len(block.gates) - 1, -1, -1):
        for one in block.gates[place][1]:
            ways[one] += ways[size + place]
    ahead = [inf if never[i] else 0.0 if given[i] or ways[i] > 1 else costs[i] for i in range(size)]
    possible = [not never[i] for i in range(size)]
    for place, (least, children) in enumerate(block.gates):
        cheapest = sorted(ahead[one] for one in children)[:least]
        possible.append(sum(possible[one] for one in children) >= least)
        ahead.append(inf if not possible[-1] else 0.0 if ways[size + place] > 1 else sum(cheapest))

    def estimate(gate: int, place: int, needed: int) -> float:
        children = block.gates[gate - size][1][place:]
        return sum(sorted(ahead[one] for one in children)[:needed]) if needed <= len(children) else inf

    certain = sum(1 << i for i in range(size) if given[i])
    number = counter()
    start: Pending = ((len(block.gates) - 1 + size, 0, block.gates[-1][0]),)
    heap: list[tuple[float, int, int, float, int, Pending]] = [(ahead[-1], 0, next(number), 0.0, certain, start)]
    emitted: list[int] = []
    seen: set[tuple[int, Pending]] = set()
    while heap and len(heap) < most and perf_counter() < until:
        _, _, _, paid, chosen, pending = heapq.heappop(heap)
        if any(one & chosen == one for one in emitted):
            continue
        if not pending:
            emitted.append(chosen)
            yield paid, tuple(i for i in range(size) if chosen >> i & 1 and not given[i])
            continue
        (gate, place, needed), rest = pending[0], pending[1:]
        least_children = block.gates[gate - size][1]
        one = least_children[place]
        branches: list[tuple[int, float, Pending]] = []
        later: Pending = ((gate, place + 1, needed - 1), *rest) if needed > 1 else rest
        if one >= size:
            inner: Pending = ((one, 0, block.gates[one - size][0]),)
            branches.append((chosen, paid, later if inner[0] in later else inner + later))
        elif not never[one]:
            has = chosen >> one & 1
            branches.append((chosen | 1 << one, paid if has else paid + costs[one], later))
        if needed <= len(least_children) - place - 1 and not (one < size and chosen >> one & 1):
            branches.append((chosen, paid, ((gate, place + 1, needed), *rest)))
        for now, cost, waits in branches:
            total = cost + sum(estimate(*item) for item in waits)
            state = (now, waits)
            if total < inf and state not in seen:
                seen.add(state)
                heapq.heappush(heap, (total, now.bit_count(), next(number), cost, now, waits))


def first_filled_in(stream: Iterator[Costed], inner: Sequence[Sequence[Costed]], listed: int) -> list[Costed]:
    """The first sets of the whole: those of a block with a set of each independent part put in its place.

    Args:
        stream: Sets of the block over its inputs, each costed with the cheapest filling, in order.
        inner: By input of the block, its own sets in order; an event is one set of one member.
        listed: How many.
    """
    found: list[Costed] = []
    heap: list[tuple[float, int, tuple[int, ...], tuple[int, ...], int]] = []
    number = counter()
    coming = next(stream, None)
    while len(found) < listed and (coming or heap):
        if coming and (not heap or coming[0] <= heap[0][0]):
            cost, members = coming
            heapq.heappush(heap, (cost, next(number), members, (0,) * len(members), 0))
            coming = next(stream, None)
            continue
        cost, _, members, ranks, last = heapq.heappop(heap)
        events: list[int] = []
        for member, rank in zip(members, ranks, strict=True):
            events += inner[member][rank][1]
        found.append((cost, tuple(events)))
        for place in range(last, len(members)):
            options, rank = inner[members[place]], ranks[place]
            if rank + 1 < len(options):
                more = cost - options[rank][0] + options[rank + 1][0]
                heapq.heappush(
                    heap, (more, next(number), members, (*ranks[:place], rank + 1, *ranks[place + 1 :]), place)
                )
    return found
