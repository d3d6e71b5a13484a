"""Common causes of a tree as typed, made into events of their own: each group as a whole, whatever the top needs of it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from riskkit.model.fault_trees import CommonCause as StatedCause, TreeSheet

if TYPE_CHECKING:
    from riskkit.faults import CommonCause, Tree


def causes_of(sheet: TreeSheet) -> Mapping[str, StatedCause]:
    """Common causes by what they are called, where the top needs two or more of what they strike."""
    reached = sheet.reached()
    return {each.called: each for each in sheet.common_cause if len(reached.intersection(each.of)) > 1}


def counted_events(sheet: TreeSheet) -> frozenset[str]:
    """Events whose numbers count: those that the top needs, and all that share a common cause with two of them."""
    tied = (each.of for each in causes_of(sheet).values())
    return sheet.reached().union(*tied) & sheet.events.keys()


def with_common_causes(tree: Tree, stated: Mapping[str, StatedCause]) -> Tree:
    """The tree with common causes as events, without what the top does not need.

    Raises:
        FaultError: where one cannot be taken apart.
    """
    from riskkit.faults import Tree, expand
    from riskkit.faults.sharing import reached

    expanded = expand(tree, [_group(name, each) for name, each in stated.items()])
    needed = frozenset(reached(expanded))
    chances = {name: p for name, p in expanded.probabilities.items() if name in needed}
    for name in {member for each in stated.values() for member in each.of} & needed:
        if tree.probabilities[name] == 1:
            # What is certain stays certain: (1 - beta) x 1 and beta x 1 together would be less.
            chances[f"{name} alone"] = 1.0
    return Tree(expanded.top, {name: gate for name, gate in expanded.gates.items() if name in needed}, chances)


def _group(name: str, stated: StatedCause) -> CommonCause:
    from riskkit.faults import CommonCause

    return CommonCause(
        name,
        stated.of,
        None if stated.beta is None else float(stated.beta.exact),
        None if stated.must_work is None else (stated.must_work, len(stated.of)),
        stated.alphas or (),
        stated.staggered,
    )
