"""Events that fail together for one reason: groups are written into the tree as shared events.

Sources, all from memory: IEC 61508-6:2010 Annex D (beta factor, tables D.4 and D.5), NUREG/CR-5485 (1998) (alpha factors).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations
from math import comb, prod
from types import MappingProxyType
from typing import Literal

from riskkit.faults.trees import FaultError, Gate, Tree

VOTING_FACTORS = MappingProxyType(
    {
        (1, 2): 1.0,
        (1, 3): 0.5,
        (1, 4): 0.3,
        (1, 5): 0.2,
        (2, 3): 1.5,
        (2, 4): 0.6,
        (2, 5): 0.4,
        (3, 4): 1.75,
        (3, 5): 0.8,
        (4, 5): 2.0,
    }
)
"""(M, N) -> what beta is multiplied by where M of N channels must work. IEC 61508-6:2010 Table D.5, from memory."""

MOST_IN_ALPHA_GROUP = 8
"""Every subset of an alpha group is an event: 247 for eight members."""


@dataclass(frozen=True, slots=True)
class CommonCause:
    """Events that one cause can bring about together; give either a beta factor or alpha factors.

    Attributes:
        name: What the group is called; the shared event is named after it.
        events: Basic events, two or more, each in one group only.
        beta: Share of each event's probability that comes from the common cause, which then hits all of them.
        votes: (M, N), where the group is N channels of which M must work: beta is multiplied as VOTING_FACTORS says,
            so that the shared event stands for all that defeats the vote. Left out, all fail together with beta itself.
        alphas: Alpha factors, the share of events in which exactly 1, 2, ... members fail; as many as members.
        staggered: Whether the alpha factors go with staggered tests (members tested in turn).
    """

    name: str
    events: tuple[str, ...]
    beta: float | None = None
    votes: tuple[int, int] | None = None
    alphas: tuple[float, ...] = ()
    staggered: bool = False


def expand(tree: Tree, groups: Iterable[CommonCause]) -> Tree:
    """The tree with every member of a group as "fails alone OR fails with the others".

    A member keeps its name and becomes a gate over `NAME alone` and the shared events. With a beta factor these are
    (1 - beta) q and one event of beta q for all, named `GROUP in common`; where the members' q differ, their geometric
    mean counts in the shared event. With alpha factors there is one event for every two, three ... members.

    Raises:
        FaultError: when a group names something that is no basic event, overlaps another, or has no usable factor.
    """
    gates, chances = dict(tree.gates), dict(tree.probabilities)
    taken: dict[str, str] = {}
    for group in groups:
        _refuse_wrong(tree, group, taken)
        single, shared = _by_beta(tree, group) if group.beta is not None else _by_alphas(tree, group)
        for name in group.events:
            taken[name] = group.name
            del chances[name]
            together = tuple(event for event, (members, _) in shared.items() if name in members)
            gates[name] = Gate("any", (f"{name} alone", *together))
        new = {f"{name} alone": chance for name, chance in single.items()}
        new |= {event: chance for event, (_, chance) in shared.items()}
        clash = next((name for name in new if name in chances or name in gates), None)
        if clash:
            raise FaultError(f"`{clash}` is taken already", f"rename it, or the common cause group `{group.name}`")
        chances |= new
    return Tree(tree.top, gates, chances)


Shared = dict[str, tuple[tuple[str, ...], float]]


def _by_beta(tree: Tree, group: CommonCause) -> tuple[dict[str, float], Shared]:
    beta = group.beta or 0.0
    factor = VOTING_FACTORS[group.votes] if group.votes else 1.0
    chances = [tree.probabilities[name] for name in group.events]
    mean = chances[0] if len(set(chances)) == 1 else prod(chances) ** (1 / len(chances))
    together = beta * factor * mean
    if together > 1:
        raise FaultError(
            f"group `{group.name}` fails together with probability {together:.3g}, above 1", "check beta and votes"
        )
    # Where a member cannot fail, nothing strikes them all, and the others keep what they have.
    alone = 1 - beta if together else 1.0
    single = {name: alone * chance for name, chance in zip(group.events, chances, strict=True)}
    return single, {f"{group.name} in common": (group.events, together)}


def _by_alphas(tree: Tree, group: CommonCause) -> tuple[dict[str, float], Shared]:
    """Q_k = alpha_k / C(n-1, k-1) x q where staggered, else k alpha_k / (C(n-1, k-1) x sum of j alpha_j) x q."""
    size, chance = len(group.events), tree.probabilities[group.events[0]]
    total = sum(k * alpha for k, alpha in enumerate(group.alphas, 1))
    of_size = [
        alpha * (1 if group.staggered else k / total) * chance / comb(size - 1, k - 1)
        for k, alpha in enumerate(group.alphas, 1)
    ]
    shared: Shared = {}
    for k in range(2, size + 1):
        for members in combinations(group.events, k):
            name = f"{group.name} in common" if k == size else f"{group.name} in common: {', '.join(members)}"
            shared[name] = (members, of_size[k - 1])
    return dict.fromkeys(group.events, of_size[0]), shared


def _refuse_wrong(tree: Tree, group: CommonCause, taken: dict[str, str]) -> None:
    what = f"common cause group `{group.name}`"
    for name in group.events:
        if name not in tree.probabilities:
            kind = "a gate" if name in tree.gates else "not defined"
            raise FaultError(f"{what} names `{name}`, which is {kind}", "name basic events")
        if name in taken:
            raise FaultError(f"`{name}` is in the groups `{taken[name]}` and `{group.name}`", "put it in one of them")
    if len(group.events) < 2 or len(set(group.events)) < len(group.events):
        raise FaultError(f"{what} needs two or more different events", "name each member once")
    if (group.beta is None) == (not group.alphas):
        raise FaultError(f"{what} needs either a beta factor or alpha factors", "give one of the two")
    if group.beta is not None and not 0 <= group.beta <= 1:
        raise FaultError(f"the beta factor of {what} is {group.beta}, and must lie from 0 to 1", "such as 0.05")
    if group.votes and (group.votes not in VOTING_FACTORS or group.votes[1] != len(group.events)):
        known = ", ".join(f"{m}oo{n}" for m, n in VOTING_FACTORS)
        raise FaultError(
            f"{what} has {len(group.events)} members and votes {group.votes[0]}oo{group.votes[1]}",
            f"give a vote over its members, one of {known}, or leave it out: then all fail together with beta",
        )
    if group.alphas:
        _refuse_alphas(tree, group, what)


def _refuse_alphas(tree: Tree, group: CommonCause, what: str) -> None:
    if len(group.events) > MOST_IN_ALPHA_GROUP:
        raise FaultError(
            f"{what} has {len(group.events)} members, more than {MOST_IN_ALPHA_GROUP}", "use a beta factor"
        )
    if len(group.alphas) != len(group.events):
        raise FaultError(
            f"{what} has {len(group.events)} members and {len(group.alphas)} alpha factors", "give each one"
        )
    if not all(0 <= alpha <= 1 for alpha in group.alphas) or abs(sum(group.alphas) - 1) > 1e-6:
        raise FaultError(f"the alpha factors of {what} must lie from 0 to 1 and add up to 1", "such as 0.95, 0.05")
    if len({tree.probabilities[name] for name in group.events}) > 1:
        raise FaultError(f"the members of {what} have different probabilities", "alpha factors need the same for all")
    if group.votes:
        raise FaultError(
            f"{what} has votes beside alpha factors", "leave the votes out: the tree counts subsets itself"
        )


BETA_BY_SCORE = ((120.0, 0.005, 0.01), (70.0, 0.01, 0.02), (45.0, 0.02, 0.05), (0.0, 0.05, 0.10))
"""Score from which on, beta of logic, beta of sensors and final elements. IEC 61508-6 Table D.4, from memory."""


def beta_by_score(score: float, part: Literal["logic", "field"]) -> float:
    """Beta factor for a score of the standard's questions.

    Args:
        score: Sum of the scores, 0 or more.
        part: "logic", or "field" for sensors and final elements.

    Raises:
        FaultError: for a negative score or another part.
    """
    if not score >= 0 or part not in ("logic", "field"):
        raise FaultError(f"no beta factor for a score of {score} and `{part}`", "give a score from 0; logic or field")
    return next(logic if part == "logic" else field for least, logic, field in BETA_BY_SCORE if score >= least)
