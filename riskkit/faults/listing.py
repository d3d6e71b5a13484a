"""The first cut sets by probability or by order, best first; never all of them."""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Sequence
from itertools import count as counter
from math import inf

from riskkit.faults.diagrams import Diagram

Costed = tuple[float, tuple[int, ...]]
"""What a cut set costs (-ln of its probability, or its order), and its members."""


def cheapest_sets(sets: Diagram, costs: Sequence[float]) -> Iterator[Costed]:
    """Sets of a diagram in order of their cost, the sum of the costs of their members (by input)."""
    by_level = [costs[one] for one in sets.order]
    ahead = [inf, 0.0]  # the least that still has to be paid
    for node in range(2, len(sets.level)):
        ahead.append(min(ahead[sets.low[node]], by_level[sets.level[node]] + ahead[sets.high[node]]))
    number = counter()
    chosen: list[tuple[int, int]] = [(-1, -1)]  # each member with the place of the one before: paths share their start
    heap: list[tuple[float, int, float, int, int]] = [(ahead[sets.root], next(number), 0.0, sets.root, 0)]
    while heap and heap[0][0] < inf:
        _, _, paid, node, path = heapq.heappop(heap)
        while node > 1:  # the better branch at once, the other one later
            low, high = sets.low[node], sets.high[node]
            at = sets.level[node]
            without, with_it = paid + ahead[low], paid + by_level[at] + ahead[high]
            if without <= with_it:
                if with_it < inf:
                    chosen.append((sets.order[at], path))
                    heapq.heappush(heap, (with_it, next(number), paid + by_level[at], high, len(chosen) - 1))
                node = low
            else:
                if without < inf:
                    heapq.heappush(heap, (without, next(number), paid, low, path))
                paid += by_level[at]
                chosen.append((sets.order[at], path))
                path, node = len(chosen) - 1, high
        members = []
        while path:
            one, path = chosen[path]
            members.append(one)
        yield paid, tuple(reversed(members))


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
        if coming and (not heap or coming[0] < heap[0][0]):  # of equals the one at hand: there may be no end of them
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
