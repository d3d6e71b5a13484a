"""A fault tree as plain values: gates over gates and basic events, which may be shared anywhere."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

from riskkit.diagnostics import RiskkitError

GateKind = Literal["all", "any", "at least"]


class FaultError(RiskkitError, ValueError):
    """A tree that cannot be worked out: one sentence, and what to change."""


@dataclass(frozen=True, slots=True)
class Gate:
    """A gate: AND (`all`), OR (`any`), or k-of-n (`at least`, with `least` = k)."""

    kind: GateKind
    inputs: tuple[str, ...]
    least: int = 0


@dataclass(frozen=True)
class Tree:
    """A coherent fault tree.

    Attributes:
        top: Name of the top event, a gate or a basic event.
        gates: Gates by name.
        probabilities: Basic events by name, each with its probability; a house event has 0 or 1.
    """

    top: str
    gates: Mapping[str, Gate]
    probabilities: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class CutSet:
    """Basic events that together bring the top event about, none of them spare; the product of their probabilities."""

    events: tuple[str, ...]
    probability: float


@dataclass(frozen=True, slots=True)
class Importance:
    """What one basic event weighs.

    Attributes:
        birnbaum: P(top | event) - P(top | no event).
        criticality: birnbaum x P(event) / P(top).
        fussell_vesely: Share of P(top) in which a cut set with the event is at work: 1 - P(top without those) / P(top).
        achievement_worth: P(top | event) / P(top).
        reduction_worth: P(top) / P(top | no event); infinite where nothing is left.
    """

    birnbaum: float
    criticality: float
    fussell_vesely: float
    achievement_worth: float
    reduction_worth: float


@dataclass(frozen=True)
class Analysis:
    """What a tree says.

    Attributes:
        tree: The tree.
        exact: P(top); None where it was not worked out exactly.
        bounds: Where P(top) lies: both ends equal `exact` where there is one; else stated bounds, or an interval.
        method: How it was worked out, with node counts, cut-offs or trials, and the level of an interval.
        rare_event: Sum of the probabilities of all minimal cut sets; None where they could not be summed.
        upper_bound: Min-cut upper bound 1 - prod(1 - P(cut set)); None likewise.
        cut_set_count: Number of minimal cut sets, exact; None where not counted.
        cut_sets: The most probable minimal cut sets, in order.
        orders: Number of events in a cut set -> how many minimal cut sets have that many; empty where not counted.
        single_points: Basic events that bring the top about alone.
        importance: By basic event; empty where not worked out exactly.
        notes: What was cut off, split, or given up, one sentence each.
    """

    tree: Tree
    exact: float | None
    bounds: tuple[float, float]
    method: str
    rare_event: float | None
    upper_bound: float | None
    cut_set_count: int | None
    cut_sets: tuple[CutSet, ...]
    orders: Mapping[int, int] = field(default_factory=lambda: MappingProxyType({}))
    single_points: tuple[str, ...] = ()
    importance: Mapping[str, Importance] = field(default_factory=lambda: MappingProxyType({}))
    notes: tuple[str, ...] = ()
