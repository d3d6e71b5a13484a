"""How far P(top) can be off because the probabilities of the events are not known: Monte Carlo over the inputs."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from time import perf_counter
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from riskkit.faults.checking import refuse_wrong
from riskkit.faults.circuits import circuit_of
from riskkit.faults.diagrams import Diagram
from riskkit.faults.modules import Block, blocks_of
from riskkit.faults.stages import Budget, all_diagrams
from riskkit.faults.trees import FaultError, Tree

if TYPE_CHECKING:
    import numpy as np

    Numbers = np.ndarray[Any, np.dtype[np.float64]]

Z95 = 1.6448536269514722
"""95th percentile of the standard normal distribution."""

AT_ONCE = 1000
"""Draws that go through a diagram at once."""


@dataclass(frozen=True, slots=True)
class Lognormal:
    """Known to a factor: the tree's probability is the median, and 95 % lie below it times the error factor.

    Draws above 1 count as 1 and are reported.
    """

    error_factor: float


@dataclass(frozen=True, slots=True)
class Uniform:
    """Anything from low to high, all alike; the tree's own probability is not used."""

    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Beta:
    """A beta distribution, such as the posterior of a failure probability; the tree's own probability is not used."""

    a: float
    b: float


Spread = Lognormal | Uniform | Beta


@dataclass(frozen=True, slots=True)
class TopUncertainty:
    """P(top) as its inputs vary.

    Attributes:
        point: P(top) with the probabilities of the tree.
        mean: Mean over the draws.
        mean_error: Standard error of the mean by the simulation.
        percentiles: Per cent -> P(top) below which so many draws lie.
        percentile_errors: Per cent -> 95 % interval of that percentile by the simulation (from order statistics).
        trials: Number of draws.
        seed: Seed.
        method: How, in words.
        notes: What was cut off.
    """

    point: float
    mean: float
    mean_error: float
    percentiles: Mapping[float, float]
    percentile_errors: Mapping[float, tuple[float, float]]
    trials: int
    seed: int
    method: str
    notes: tuple[str, ...] = ()


def top_uncertainty(
    tree: Tree,
    spreads: Mapping[str, Spread],
    *,
    trials: int = 10_000,
    seed: int = 1,
    percentiles: Sequence[float] = (5.0, 50.0, 95.0),
    nodes: int = 400_000,
    seconds: float = 20.0,
) -> TopUncertainty:
    """Mean and percentiles of P(top) when the probabilities vary independently of each other; exact for every draw.

    Args:
        tree: The tree; events without a spread keep their probability.
        spreads: By basic event, how its probability varies.
        trials: Number of draws, 100 or more.
        seed: Seed of the draws.
        percentiles: Per cents between 0 and 100.
        nodes: Most nodes of the decision diagrams.
        seconds: Most time for building them.

    Raises:
        FaultError: when the tree or a spread is wrong, or the tree does not fit into the budget.
    """
    import numpy as np

    refuse_wrong(tree)
    _refuse_spreads(tree, spreads)
    if isinstance(trials, bool) or not isinstance(trials, int) or trials < 100:
        raise FaultError(f"trials is {trials}, and must be a whole number from 100", "such as 10000")
    if not all(0 < one < 100 for one in percentiles):
        raise FaultError("percentiles must lie between 0 and 100, ends left out", "such as 5, 50, 95")
    circuit = circuit_of(tree)
    blocks = blocks_of(circuit)
    diagrams = all_diagrams(blocks, Budget(nodes, perf_counter(), seconds))
    known = [one for one in diagrams if one]
    if len(known) < len(blocks):
        raise FaultError(
            "the tree does not fit into the budget, and its uncertainty is worked out exactly or not at all",
            "give more nodes or seconds",
        )
    random = np.random.default_rng(seed)
    point = float(_values(blocks, known, [np.array([tree.probabilities[name]]) for name in circuit.names])[0])
    drawn, cut = {}, 0
    for name in sorted(set(spreads) & set(circuit.names)):  # by name, so that the order in a file changes nothing
        drawn[name], above = _draw(spreads[name], tree.probabilities[name], trials, random)
        cut += above
    found = np.concatenate(
        [
            _values(
                blocks,
                known,
                [
                    drawn[name][start : start + AT_ONCE]
                    if name in drawn
                    else np.full(min(AT_ONCE, trials - start), float(tree.probabilities[name]))
                    for name in circuit.names
                ],
            )
            for start in range(0, trials, AT_ONCE)
        ]
    )
    found.sort()
    return TopUncertainty(
        point=point,
        mean=float(found.mean()),
        mean_error=float(found.std(ddof=1)) / math.sqrt(trials),
        percentiles=MappingProxyType({one: float(np.quantile(found, one / 100)) for one in percentiles}),
        percentile_errors=MappingProxyType({one: _between(found, one / 100) for one in percentiles}),
        trials=trials,
        seed=seed,
        method=f"Monte Carlo over {len(drawn)} uncertain event{'' if len(drawn) == 1 else 's'}, {trials} draws (seed {seed}), exact for each draw",
        notes=(f"{cut} draws lay above 1 and counted as 1",) if cut else (),
    )


def _values(blocks: Sequence[Block], diagrams: Sequence[Diagram], events: Sequence[Numbers]) -> Numbers:
    """P(top) for many draws at once, part by part."""
    import numpy as np

    whole = dict(enumerate(events))
    size = len(events[0])
    for block, diagram in zip(blocks, diagrams, strict=True):
        chance = [whole[block.inputs[one]] for one in diagram.order]
        value = [np.zeros(size), np.ones(size)]
        for node in range(2, len(diagram.level)):
            at = chance[diagram.level[node]]
            value.append((1 - at) * value[diagram.low[node]] + at * value[diagram.high[node]])
        whole[block.output] = np.minimum(1.0, value[diagram.root])
    return whole[blocks[-1].output]


def _draw(spread: Spread, chance: float, trials: int, random: np.random.Generator) -> tuple[Numbers, int]:
    import numpy as np

    if isinstance(spread, Uniform):
        return random.uniform(spread.low, spread.high, trials), 0
    if isinstance(spread, Beta):
        return random.beta(spread.a, spread.b, trials), 0
    drawn = chance * np.exp(random.standard_normal(trials) * (math.log(spread.error_factor) / Z95))
    return np.minimum(1.0, drawn), int((drawn > 1).sum())


def _between(found: Numbers, share: float) -> tuple[float, float]:
    """95 % interval of a percentile: draws whose ranks hold it, the number of draws below being binomial."""
    middle, half = share * len(found), 1.96 * math.sqrt(len(found) * share * (1 - share))
    first, last = math.floor(middle - half) - 1, math.ceil(middle + half)
    return float(found[max(0, first)]), float(found[min(len(found) - 1, last)])


def _refuse_spreads(tree: Tree, spreads: Mapping[str, Spread]) -> None:
    for name, spread in spreads.items():
        if name not in tree.probabilities:
            raise FaultError(f"a spread is given for `{name}`, which is no basic event", "name a basic event")
        if isinstance(spread, Lognormal):
            right, words = spread.error_factor >= 1 and math.isfinite(spread.error_factor), "an error factor from 1"
        elif isinstance(spread, Uniform):
            right, words = 0 <= spread.low <= spread.high <= 1, "low and high from 0 to 1, low first"
        elif isinstance(spread, Beta):
            right, words = all(0 < one < math.inf for one in (spread.a, spread.b)), "a and b above zero"
        else:
            right, words = False, "Lognormal, Uniform or Beta"
        if not right:
            raise FaultError(f"the spread of `{name}` is {spread}", f"give {words}")
