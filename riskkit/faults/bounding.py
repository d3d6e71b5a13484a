"""Bounds on a block too large for a diagram: coherent functions of the same events never hinder each other.

For events that are associated (functions of independent events that only ever help) P(all) is at least the product and
at most the least probable, P(any) at least the most probable and at most 1 - prod(1 - P); source: Esary and Proschan,
Coherent structures of non-identical components, Technometrics 5 (1963), from memory.
Inputs that share nothing are exact.
The gap is narrowed by factoring: the shared event that spoils most is set to "comes about" and to "does not", both cases
are bounded, and the case with the widest remaining gap goes on, until the gap no longer matters or time is up.
"""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from itertools import count as counter
from math import fsum
from time import perf_counter

from riskkit.faults.modules import Block

Ends = tuple[float, float]

NARROW = 1e-4
"""Gap over lower bound that is narrow enough: no probability of an event is known that well."""


def bounds_of(
    block: Block, low: Sequence[float], high: Sequence[float], until: float, most: int = 1_000_000
) -> tuple[float, float, int]:
    """Lower and upper bound on P(block), and into how many cases it was divided.

    Args:
        block: The block.
        low: Least probability of each input.
        high: Greatest probability of each input.
        until: When to stop, as `time.perf_counter` counts.
        most: Most divisions.
    """
    shared = _met_twice(block)
    number = counter()
    settled_low, settled_high, cases = [], [], 1
    bottom, top, worst = _one_case(block, low, high, shared)
    heap = [(-(top - bottom), next(number), 1.0, 1.0, bottom, top, worst, list(low), list(high))]
    gap, lower = top - bottom, bottom  # of all cases together, kept as they change
    while heap and gap > NARROW * lower and cases <= most and perf_counter() < until:
        _, _, weight, heavy, bottom, top, worst, lows, highs = heapq.heappop(heap)
        if worst is None:
            settled_low.append(weight * bottom)
            settled_high.append(heavy * top)
            continue
        cases += 1
        gap -= heavy * top - weight * bottom
        lower -= weight * bottom
        for value in (0.0, 1.0):
            # Lower ends go with low probabilities throughout, upper ends with high ones: each is a sum over all cases.
            part_low = weight * (lows[worst] if value else 1 - lows[worst])
            now_low, now_high = lows[:], highs[:]
            now_low[worst] = now_high[worst] = value
            below, above, next_worst = _one_case(block, now_low, now_high, shared)
            part_high = heavy * (highs[worst] if value else 1 - highs[worst])
            gap += part_high * above - part_low * below
            lower += part_low * below
            entry = (-(part_high * above - part_low * below), next(number), part_low, part_high)
            heapq.heappush(heap, (*entry, below, above, next_worst, now_low, now_high))
    lower = fsum(settled_low) + fsum(one[2] * one[4] for one in heap)
    upper = fsum(settled_high) + fsum(one[3] * one[5] for one in heap)
    return max(0.0, lower * (1 - 1e-12)), min(1.0, upper * (1 + 1e-12)), cases


def _met_twice(block: Block) -> list[int]:
    """By input: a bit of its own if it is met in two ways from the top, else 0."""
    count = len(block.inputs)
    ways = [0] * count + [0] * (len(block.gates) - 1) + [1]
    for place in range(len(block.gates) - 1, -1, -1):
        for one in block.gates[place][1]:
            ways[one] += ways[count + place]
    return [1 << place if ways[place] > 1 else 0 for place in range(count)]


def _one_case(
    block: Block, lows: Sequence[float], highs: Sequence[float], shared: Sequence[int]
) -> tuple[float, float, int | None]:
    """Bounds with these probabilities, and the shared input that spoils them most; None where nothing is spoiled."""
    ends: list[Ends] = list(zip(lows, highs, strict=True))
    masks = [mask if ends[place] not in ((0, 0), (1, 1)) else 0 for place, mask in enumerate(shared)]
    spoiled: list[tuple[int, int]] = []
    for place, (least, children) in enumerate(block.gates):
        seen = twice = 0
        for one in children:
            mask = masks[one]
            twice |= seen & mask
            seen |= mask
        parts = [ends[one] for one in children]
        if not twice:
            low, high = _separate(least, [end[0] for end in parts]), _separate(least, [end[1] for end in parts])
        else:
            low, high = _entangled(least, parts, [masks[one] for one in children])
            if high > low:
                spoiled.append((place, twice))
        ends.append((low, high))
        masks.append(seen if (low, high) not in ((0, 0), (1, 1)) else 0)
    if not spoiled:
        return *ends[-1], None
    return *ends[-1], _worst(block, ends, spoiled)


def _separate(least: int, chances: Sequence[float]) -> float:
    """P(at least so many of independent events), by sums of positive terms."""
    if least == len(chances):
        product = 1.0
        for one in chances:
            product *= one
        return product
    if least == 1:
        chance = 0.0
        for one in chances:
            chance = one + (1 - one) * chance
        return chance
    row = [1.0] + [0.0] * least
    for one in chances:
        for needed in range(least, 0, -1):
            row[needed] = one * row[needed - 1] + (1 - one) * row[needed]
    return row[least]


def _entangled(least: int, parts: Sequence[Ends], masks: Sequence[int]) -> Ends:
    """Bounds where some parts share inputs: as if independent between groups that share nothing, as above within."""
    if least in (1, len(parts)):
        groups: list[tuple[int, float, float]] = []
        for (low, high), mask in zip(parts, masks, strict=True):
            apart = []
            for other, other_low, other_high in groups:
                if other & mask:
                    mask |= other
                    low = max(low, other_low) if least == 1 else low * other_low
                    high = high + (1 - high) * other_high if least == 1 else min(high, other_high)
                else:
                    apart.append((other, other_low, other_high))
            groups = [*apart, (mask, low, high)]
        wanted = 1 if least == 1 else len(groups)
        return _separate(wanted, [one[1] for one in groups]), _separate(wanted, [one[2] for one in groups])
    lows, highs = [1.0] + [0.0] * least, [1.0] + [0.0] * least
    for low, high in parts:
        for needed in range(least, 0, -1):
            lows[needed] = max(lows[needed], low * lows[needed - 1])
            joint = min(high, highs[needed - 1])
            highs[needed] = highs[needed] + (1 - highs[needed]) * joint
    return lows[least], min(highs[least], fsum(high for _, high in parts) / least)  # the mean number is a bound too


def _worst(block: Block, ends: Sequence[Ends], spoiled: Sequence[tuple[int, int]]) -> int:
    """The shared input with the widest gaps to answer for, each weighed by how far it reaches the top."""
    count = len(block.inputs)
    reach = [0.0] * len(ends)
    reach[-1] = 1.0
    for place in range(len(block.gates) - 1, -1, -1):
        weight = reach[count + place]
        if not weight:
            continue
        least, children = block.gates[place]
        gates = [one for one in children if one >= count]
        for one in gates:
            passed = weight
            if least > 1:
                others = sorted((ends[other][1] for other in children if other != one), reverse=True)[: least - 1]
                for other_high in others:
                    passed *= other_high
            reach[one] += passed
    scores: dict[int, float] = {}
    for place, twice in spoiled:
        low, high = ends[count + place]
        worth = (high - low) * reach[count + place]
        while twice:
            bit = twice & -twice
            twice ^= bit
            scores[bit] = scores.get(bit, 0.0) + worth
    return max(scores, key=lambda bit: (scores[bit], -bit)).bit_length() - 1
