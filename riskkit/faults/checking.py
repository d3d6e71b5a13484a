"""What is wrong with a tree as written, said before anything is worked out."""

from __future__ import annotations

import math
from collections.abc import Sequence

from riskkit.faults.trees import FaultError, Gate, Tree

KINDS = ("all", "any", "at least")


def refuse_wrong(tree: Tree) -> tuple[str, ...]:
    """Sentences about events that nothing uses, if the tree can be worked out.

    Raises:
        FaultError: naming the first thing that is wrong: a name used twice, an input that is nowhere defined, an empty
            gate, k out of range, a circle, a probability outside 0 to 1.
    """
    both = sorted(set(tree.gates) & set(tree.probabilities))
    if both:
        raise FaultError(f"`{both[0]}` is both a gate and a basic event", "give one of them another name")
    if tree.top not in tree.gates and tree.top not in tree.probabilities:
        raise FaultError(
            f"the top event `{tree.top}` is neither a gate nor a basic event", "define it, or name another top event"
        )
    for name, gate in tree.gates.items():
        _refuse_gate(tree, name, gate)
    for name, probability in tree.probabilities.items():
        _refuse_probability(name, probability)
    _refuse_circle(tree)
    used = _reached(tree)
    return tuple(
        f"{named(left_out, kind)} not lead to `{tree.top}` and {'was' if len(left_out) == 1 else 'were'} left out"
        for kind, names in (("gate", tree.gates), ("event", tree.probabilities))
        if (left_out := sorted(name for name in names if name not in used))
    )


def named(names: Sequence[str], kind: str) -> str:
    """The first few by name and the number of others, with "does" or "do"."""
    if len(names) == 1:
        return f"{kind} `{names[0]}` does"
    shown = ", ".join(f"`{name}`" for name in names[:5])
    return f"{kind}s {shown}{f' and {len(names) - 5} more' if len(names) > 5 else ''} do"


def _refuse_gate(tree: Tree, name: str, gate: Gate) -> None:
    if gate.kind not in KINDS:
        raise FaultError(
            f"gate `{name}` is of the unknown kind `{gate.kind}`",
            "give one of all, any, at least; a NOT has no place here: it would let a failure make things better",
        )
    if not gate.inputs:
        raise FaultError(f"gate `{name}` has no inputs", "give it inputs, or make it a basic event")
    for one in gate.inputs:
        if one not in tree.gates and one not in tree.probabilities:
            raise FaultError(
                f"gate `{name}` names `{one}`, which is neither a gate nor a basic event", f"define `{one}`"
            )
    if gate.kind != "at least":
        return
    if isinstance(gate.least, bool) or not isinstance(gate.least, int) or not 1 <= gate.least <= len(gate.inputs):
        raise FaultError(
            f"gate `{name}` asks for at least {gate.least} of its {len(gate.inputs)} inputs",
            f"give a whole number from 1 to {len(gate.inputs)}",
        )
    if len(set(gate.inputs)) < len(gate.inputs):
        twice = next(one for one in gate.inputs if gate.inputs.count(one) > 1)
        raise FaultError(f"gate `{name}` counts `{twice}` twice", "name every input of an at-least gate once")


def _refuse_probability(name: str, probability: float) -> None:
    number = isinstance(probability, (int, float)) and not isinstance(probability, bool)
    if not number or math.isnan(probability) or not 0 <= probability <= 1:
        raise FaultError(
            f"the probability of `{name}` is {probability}, and must lie from 0 to 1", "give a number such as 1e-3"
        )


def _refuse_circle(tree: Tree) -> None:
    """Depth first over all gates, without recursion; `path` holds the gates that are being entered."""
    done: set[str] = set()
    for start in tree.gates:
        if start in done:
            continue
        path, waiting = {start: None}, [iter(tree.gates[start].inputs)]
        while waiting:
            below = next((one for one in waiting[-1] if one in tree.gates and one not in done), None)
            if below is None:
                waiting.pop()
                done.add(path.popitem()[0])
            elif below in path:
                names = list(path)
                circle = [*names[names.index(below) :], below]
                shown = circle if len(circle) <= 12 else [*circle[:6], f"... {len(circle) - 9} more ...", *circle[-3:]]
                raise FaultError(
                    f"gates stand in a circle: {' -> '.join(shown)}", "a gate cannot be among its own causes; cut one"
                )
            else:
                path[below] = None
                waiting.append(iter(tree.gates[below].inputs))


def _reached(tree: Tree) -> set[str]:
    seen, waiting = {tree.top}, [tree.top]
    while waiting:
        gate = tree.gates.get(waiting.pop())
        for one in gate.inputs if gate else ():
            if one not in seen:
                seen.add(one)
                waiting.append(one)
    return seen
