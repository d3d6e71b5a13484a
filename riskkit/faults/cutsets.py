"""All minimal cut sets of a block as one zero-suppressed diagram: counted, summed and bounded without listing them.

Source of the method: Rauzy, New algorithms for fault trees analysis, Reliability Engineering and System Safety 40 (1993),
from memory: the sets that need an event are those of its high branch `without` what the low branch already covers.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from time import perf_counter
from typing import NamedTuple, TypeVar

from riskkit.faults.diagrams import SHIFT, Diagram, TooLarge, compact, deep
from riskkit.faults.modules import Block

Number = TypeVar("Number", int, float)

MOST_STEPS = 3_000_000
"""Node visits that the min-cut upper bound may take (a few seconds)."""

MOST_BITS = 1_000_000_000
"""All polynomials of a tree together, packed into whole numbers."""


def cut_sets_of(diagram: Diagram, given: Sequence[bool], never: Sequence[bool], most: int, until: float) -> Diagram:
    """Minimal cut sets as a diagram whose node 1 is the set of nothing and whose node 0 is no set at all.

    Args:
        diagram: The block.
        given: By input, whether it is certain (a house event that is on); it is not named in a cut set.
        never: By input, whether it cannot come about; no cut set holds it.
        most: Most nodes.
        until: When to give up, as `time.perf_counter` counts.

    Returns:
        The sets.

    Raises:
        TooLarge: when they do not fit.
    """
    count = len(diagram.order)
    level, low, high = [count, count], [0, 1], [0, 1]
    unique: dict[tuple[int, int, int], int] = {}
    known: dict[int, int] = {}
    limit, steps = most + 2, 4 * most + 1000

    def make(at: int, below: int, above: int) -> int:
        key = (at, below, above)
        node = unique.get(key)
        if node is None:
            node = len(level)
            if node >= limit or (not node & 1023 and perf_counter() > until):
                raise TooLarge
            unique[key] = node
            level.append(at)
            low.append(below)
            high.append(above)
        return node

    def without(f: int, g: int) -> int:
        """Sets of f that hold no set of g; both are minimal, so that only g = 1 holds the set of nothing."""
        if f == g or g == 1 or f == 0:
            return 0
        if f == 1 or g == 0:
            return f
        key = f << SHIFT | g
        found = known.get(key)
        if found is not None:
            return found
        at, other = level[f], level[g]
        if at > other:
            node = without(f, low[g])
        else:
            if at == other:
                below = without(low[f], low[g])
                above = without(high[f], high[g])
                if above:
                    above = without(above, low[g])
            else:
                below = without(low[f], g)
                above = without(high[f], g)
            node = make(at, below, above) if above else below
        known[key] = node
        if not len(known) & 4095 and (len(known) > steps or perf_counter() > until):
            raise TooLarge
        return node

    sets = [0, 1]
    with deep(count):
        for node in range(2, len(diagram.level)):
            at = diagram.level[node]
            one = diagram.order[at]
            below = sets[diagram.low[node]]
            if never[one]:
                sets.append(below)
            elif given[one]:
                sets.append(sets[diagram.high[node]])
            else:
                above = without(sets[diagram.high[node]], below)
                sets.append(make(at, below, above) if above else below)
    return compact(diagram.order, level, low, high, sets[diagram.root])


def weigh(sets: Diagram, weights: Sequence[Number], nothing: Number, one: Number) -> Number:
    """Sum over all sets of the product of the weights (by input) of their members."""
    by_level = [weights[place] for place in sets.order]
    value = [nothing, one]
    level, low, high = sets.level, sets.low, sets.high
    for node in range(2, len(level)):
        value.append(value[low[node]] + by_level[level[node]] * value[high[node]])
    return value[sets.root]


def together(chances: Sequence[float]) -> float:
    """1 - prod(1 - P), without losing what is small."""
    return 1.0 if 1 in chances else -math.expm1(math.fsum(math.log1p(-one) for one in chances))


class Parts(NamedTuple):
    """The cut sets of a whole tree, independent part by independent part.

    Attributes:
        blocks: The parts, inner ones first.
        sets: The cut sets of each over its own inputs.
    """

    blocks: Sequence[Block]
    sets: Sequence[Diagram]

    def weigh(self, events: Sequence[Number], nothing: Number, one: Number) -> Number:
        """Sum over all cut sets of the tree of the product of the weights of their events.

        A cut set of the tree is one of the last part with a cut set of each inner part it names put in its place.
        """
        whole: dict[int, Number] = dict(enumerate(events))
        for block, sets in zip(self.blocks, self.sets, strict=True):
            whole[block.output] = weigh(sets, [whole[node] for node in block.inputs], nothing, one)
        return whole[self.blocks[-1].output]

    @property
    def nodes(self) -> int:
        """Nodes of all diagrams of sets."""
        return sum(len(sets.level) - 2 for sets in self.sets)

    def count(self, events: int) -> int:
        """How many minimal cut sets, exactly."""
        return self.weigh([1] * events, 0, 1)

    def orders(self, events: int) -> dict[int, int]:
        """Number of events in a cut set -> how many have that many, exactly.

        One polynomial in one whole number, the coefficients far enough apart not to meet; where such numbers would fill
        the memory (long cut sets in a large diagram), term by term.
        """
        apart = self.count(events).bit_length() + 1
        if self.nodes * self._longest(events) * apart > MOST_BITS:
            return self._orders_by_term(events)
        packed = self.weigh([1 << apart] * events, 0, 1)
        found, order, mask = {}, 0, (1 << apart) - 1
        while packed:
            if packed & mask:
                found[order] = packed & mask
            packed >>= apart
            order += 1
        return found

    def _longest(self, events: int) -> int:
        """Number of events in the longest cut set."""
        whole = dict.fromkeys(range(events), 1)
        for block, sets in zip(self.blocks, self.sets, strict=True):
            length = [0, 0]
            for node in range(2, len(sets.level)):
                member = whole[block.inputs[sets.order[sets.level[node]]]]
                length.append(max(length[sets.low[node]], member + length[sets.high[node]]))
            whole[block.output] = length[sets.root]
        return whole[self.blocks[-1].output]

    def _orders_by_term(self, events: int) -> dict[int, int]:
        whole: dict[int, dict[int, int]] = {place: {1: 1} for place in range(events)}
        for block, sets in zip(self.blocks, self.sets, strict=True):
            terms: list[dict[int, int]] = [{}, {0: 1}]
            for node in range(2, len(sets.level)):
                sums = dict(terms[sets.low[node]])
                for order, count in terms[sets.high[node]].items():
                    for more, times in whole[block.inputs[sets.order[sets.level[node]]]].items():
                        sums[order + more] = sums.get(order + more, 0) + count * times
                terms.append(sums)
            whole[block.output] = terms[sets.root]
        return whole[self.blocks[-1].output]

    def rare_event(self, probabilities: Sequence[float]) -> float:
        """Sum of the probabilities of all cut sets."""
        return self.weigh(probabilities, 0.0, 1.0)

    def upper_bound(self, probabilities: Sequence[float], largest: float, until: float) -> float | None:
        """Min-cut upper bound 1 - prod(1 - P(cut set)) over all cut sets, none of them listed.

        -ln prod(1 - P) is the sum over k of (sum of P^k) / k, and the sum of P^k over all cut sets is that of the
        probabilities p^k. What is left out after K terms is at most S_K c / ((1 - c)(K + 1)) with c the largest P.

        Returns:
            The bound to double precision; None where that would take too long (a cut set close to certain).
        """
        if largest >= 1:
            return 1.0
        total, powers, visits = 0.0, list(probabilities), self.nodes + len(self.blocks)
        for term in range(1, max(2, MOST_STEPS // (visits + 1))):
            power_sum = self.rare_event(powers)
            total += power_sum / term
            left = power_sum * largest / (1 - largest) / (term + 1)
            if left <= 1e-16 * total or total > 40:
                return -math.expm1(-total)
            if perf_counter() > until:
                return None
            powers = [power * one for power, one in zip(powers, probabilities, strict=True)]
        return None
