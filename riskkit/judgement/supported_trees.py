"""What evidence supports, by the logic of a fault tree where that stands on evidence.

Multiplying the bounds of controls says that all of them must fail. A tree knows which must fail together; where every
control in it is taken from evidence, its logic replaces the product. Causes have no evidence and are taken as there.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace

from riskkit.judgement.counted import as_written, at_most, percent
from riskkit.judgement.fault_trees import EventNumber, as_tree
from riskkit.judgement.scoring import HazardScore, place
from riskkit.judgement.support import Support, control_evidence
from riskkit.judgement.verdicts import ResultVerdict
from riskkit.judgement.walk import dependencies
from riskkit.model.fault_trees import FaultTree
from riskkit.model.policy import Policy
from riskkit.model.records import Hazard
from riskkit.model.register import Register


def with_trees(
    supported: Mapping[str, Support],
    register: Register,
    policy: Policy,
    scores: Mapping[str, HazardScore],
    by_test: Mapping[str, Sequence[ResultVerdict]],
) -> Mapping[str, Support]:
    """The support of each hazard, by its tree where every control of the tree is taken from evidence."""
    trees = [tree for tree in register.of(FaultTree) if tree.hazard in supported]
    if not trees:
        return supported
    needs = dependencies(register)
    found = dict(supported)
    for tree in trees:
        if not _stands_on_evidence(tree, needs):
            continue
        hazard = register.get(tree.hazard, Hazard)
        before = found[tree.hazard]
        if hazard is None or before.p is None or before.score is None:
            continue
        stated = scores[tree.hazard]
        worked = _by_tree(tree, register, policy, by_test, needs)
        if worked is None:
            continue
        p, because = worked
        level = policy.likelihood.band(as_written(p)).level
        score = place(before.score.severity, level, p, hazard, policy)
        found[tree.hazard] = replace(
            before, score=score, p=p, because=because, needed=_needed(before.needed, stated, level, p, tree, policy)
        )
    return found


def _stands_on_evidence(tree: FaultTree, needs: Mapping[str, frozenset[str]]) -> bool:
    """Whether each control in it is one event, taken from evidence, and no two of them share an element unsaid."""
    reached = tree.reached()
    events = [event for name, event in tree.events.items() if name in reached]
    controls = Counter(event.control for event in events if event.control is not None)
    if not controls or any(event.from_evidence is None for event in events if event.control is not None):
        return False
    if max(controls.values()) > 1:
        return False  # the bound is for the control as a whole, and not for each way in which it fails
    said = {element for event in events for element in event.elements}
    shared = Counter(element for control in controls for element in needs.get(control or "", ()))
    return all(count == 1 or element in said for element, count in shared.items())


def _by_tree(
    tree: FaultTree,
    register: Register,
    policy: Policy,
    by_test: Mapping[str, Sequence[ResultVerdict]],
    needs: Mapping[str, frozenset[str]],
) -> tuple[float, str] | None:
    """Upper bound of the top at the policy's confidence, and the sentence; None where it cannot be worked out exactly."""
    from riskkit.faults import FaultError, analyse

    rules = policy.evidence
    level = float(rules.confidence.exact)
    known = control_evidence(register, policy, by_test, (tree,)).get(tree.id, {})
    if not known:
        return None
    # All bounds together hold at the confidence of the policy where each holds at a root of it.
    known = control_evidence(register, policy, by_test, (tree,), level ** (1 / len(known))).get(tree.id, {})
    starts = _starts(tree, register)
    numbers, bounds = {}, {}
    for name, event in tree.events.items():
        p = 1.0
        if event.happens is not None:
            p = float(event.happens)
        elif event.control in known and not needs.get(event.control or "", frozenset()) & starts:
            p = bounds[event.control] = known[event.control or ""].bound
        numbers[name] = EventNumber(name, p, "", event=name)
    try:
        plain, _ = as_tree(tree.model_copy(update={"common_cause": ()}), numbers)
        top = analyse(plain, listed=1).exact
    except FaultError:
        return None
    if top is None or not bounds:
        return None
    share = float(rules.common_cause.exact) if len(bounds) > 1 else 0.0
    p = min(1.0, max(top + share * min(bounds.values()), float(rules.barriers.exact)))
    told = "; ".join(f"{control} fails with at most {at_most(bound)}" for control, bound in bounds.items())
    together = (
        f", all bounds holding at {rules.confidence.written} confidence and {percent(share)} of the better one's failures "
        "taken as common cause"
        if share
        else f", at {rules.confidence.written} confidence"
    )
    return p, f"by the logic of {tree.id}, with every cause taken as there: {told}; at most {at_most(p)}{together}"


def _starts(tree: FaultTree, register: Register) -> frozenset[str]:
    hazard = register.get(tree.hazard, Hazard)
    return frozenset() if hazard is None else frozenset({cause.by for cause in hazard.causes} | set(hazard.loss_of))


def _needed(before: str, stated: HazardScore, level: str, p: float, tree: FaultTree, policy: Policy) -> str:
    """What would carry the claim; empty where the tree carries it."""
    claimed = stated.claimed
    if claimed is None:
        return ""
    wanted, reached = policy.likelihood_rank(claimed.levels[0]), policy.likelihood_rank(level)
    falls_short = wanted > reached or (wanted == reached and claimed.p is not None and claimed.p[1] < as_written(p))
    if not falls_short:
        return ""
    return before or f"a control that stands beside those in {tree.id}, or a claim of what the tree supports"
