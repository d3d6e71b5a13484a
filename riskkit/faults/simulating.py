"""P(top) by simulation, where nothing exact fits: 64 runs in every word, failures drawn only where they fall."""

from __future__ import annotations

from collections.abc import Sequence
from math import log1p
from time import perf_counter
from typing import TYPE_CHECKING, Any

from riskkit.faults.circuits import Circuit

if TYPE_CHECKING:
    import numpy as np

BATCH = 1 << 16
"""Runs worked out at once; 8 kB for every node."""


def hits_of(circuit: Circuit, probabilities: Sequence[float], trials: int, seed: int, until: float) -> tuple[int, int]:
    """In how many runs the top event came about, and how many runs there were (whole batches, at least one).

    An event comes about in a run with its probability p exactly: the number of marks on n runs is drawn from Poisson
    with mean -n ln(1 - p) and every mark falls on any run, so that a run stays clear with probability 1 - p.
    """
    import numpy as np

    random = np.random.default_rng(seed)
    hits = runs = 0
    while runs < trials and (runs == 0 or perf_counter() < until):
        size = min(BATCH, trials - runs)
        hits += _batch(circuit, probabilities, random, size)
        runs += size
    return hits, runs


def _batch(circuit: Circuit, probabilities: Sequence[float], random: np.random.Generator, size: int) -> int:
    import numpy as np

    words = -(-size // 64)
    nodes: list[Any] = [_event(probability, random, size, words) for probability in probabilities]
    for least, inputs in circuit.gates:
        if least in (1, len(inputs)):
            join = np.bitwise_or if least == 1 else np.bitwise_and
            nodes.append(join.reduce([nodes[one] for one in inputs]))
            continue
        rows = [np.zeros(words, dtype=np.uint64) for _ in range(least)]
        for one in inputs:
            for needed in range(least - 1, 0, -1):
                rows[needed] |= rows[needed - 1] & nodes[one]
            rows[0] |= nodes[one]
        nodes.append(rows[-1])
    last = np.zeros(words * 8, dtype=np.uint8)
    last[: -(-size // 8)] = np.packbits(np.ones(size, dtype=bool))
    return int(np.bitwise_count(nodes[circuit.root] & last.view(np.uint64)).sum())


def _event(probability: float, random: np.random.Generator, size: int, words: int) -> np.ndarray[Any, Any]:
    import numpy as np

    if probability in (0, 1):
        return np.full(words, 0 if probability == 0 else np.iinfo(np.uint64).max, dtype=np.uint64)
    marked = np.zeros(words * 64, dtype=bool)
    if probability < 0.25:
        marked[random.integers(0, size, random.poisson(-size * log1p(-probability)))] = True
    else:
        marked[:size] = random.random(size) < probability
    return np.packbits(marked).view(np.uint64)


def clopper_pearson_ends(hits: int, runs: int, confidence: float) -> tuple[float, float]:
    """Exact two-sided interval for a probability from hits in independent runs (Clopper and Pearson, 1934)."""
    from scipy.special import betaincinv

    tail = (1 - confidence) / 2
    lower = 0.0 if hits == 0 else float(betaincinv(hits, runs - hits + 1, tail))
    upper = 1.0 if hits == runs else float(betaincinv(hits + 1, runs - hits, 1 - tail))
    return lower, upper
