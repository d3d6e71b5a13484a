"""Trees for many tests: grown at random, and worked out by trying every combination of events."""

from __future__ import annotations

import importlib.util
import itertools
import math
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType

import pytest

from riskkit.faults import Tree


@pytest.fixture(scope="session")
def growing() -> ModuleType:
    """The generator of the benchmarks."""
    spec = importlib.util.spec_from_file_location(
        "grown_trees", Path(__file__).parent.parent / "bench" / "grown_trees.py"
    )
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@dataclass(frozen=True)
class Tried:
    """Everything from a truth table of 2^n rows, one bit a row."""

    tree: Tree

    def names(self) -> list[str]:
        return sorted(self.tree.probabilities)

    def table(self) -> int:
        names = self.names()
        rows = 1 << len(names)
        value: dict[str, int] = {}
        for place, name in enumerate(names):
            period = ((1 << (1 << place)) - 1) << (1 << place)
            value[name] = sum(period << start for start in range(0, rows, 2 << place))

        def of(name: str) -> int:
            if name not in value:
                gate = self.tree.gates[name]
                inputs = [of(one) for one in gate.inputs]
                needed = {"any": 1, "all": len(inputs)}.get(gate.kind, gate.least)
                value[name] = 0
                for chosen in itertools.combinations(inputs, needed):
                    together = (1 << rows) - 1
                    for one in chosen:
                        together &= one
                    value[name] |= together
            return value[name]

        return of(self.tree.top)

    def failing(self) -> list[int]:
        """Combinations (bit i for event i by name) that bring the top about."""
        bits = bin(self.table())[:1:-1]
        return [row for row, bit in enumerate(bits) if bit == "1"]

    def probability(self, **fixed: float) -> float:
        chances = [fixed.get(name, self.tree.probabilities[name]) for name in self.names()]
        return math.fsum(
            math.prod(chance if row >> place & 1 else 1 - chance for place, chance in enumerate(chances))
            for row in self.failing()
        )

    def cut_sets(self) -> set[tuple[str, ...]]:
        """Minimal combinations, where what is certain counts as given and what is impossible never happens."""
        names, chances = self.names(), self.tree.probabilities
        given = sum(1 << place for place, name in enumerate(names) if chances[name] == 1)
        never = sum(1 << place for place, name in enumerate(names) if chances[name] == 0)
        rows = {row & ~given for row in self.failing() if row & given == given and not row & never}
        minimal: list[int] = []
        for row in sorted(rows, key=int.bit_count):
            if not any(one & row == one for one in minimal):
                minimal.append(row)
        return {tuple(name for place, name in enumerate(names) if row >> place & 1) for row in minimal}


@pytest.fixture(scope="session")
def tried() -> type[Tried]:
    return Tried
