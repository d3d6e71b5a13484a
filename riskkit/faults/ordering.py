"""In which order a decision diagram asks for the events: the order decides its size."""

from __future__ import annotations

from riskkit.faults.modules import Block


def orders_of(block: Block) -> list[list[int]]:
    """Orders worth trying: depth first left-most, and depth first with the smaller part first; the same one once."""
    left_most = depth_first(block)
    weighted = depth_first(block, smaller_first=True)
    return [left_most] if weighted == left_most else [weighted, left_most]


def depth_first(block: Block, *, smaller_first: bool = False) -> list[int]:
    """Inputs as a walk from the top meets them; `smaller_first` enters the child with fewer leaves below it first."""
    count = len(block.inputs)
    weight = [1] * count
    for _, children in block.gates:
        weight.append(1 + sum(weight[one] for one in children))
    seen: set[int] = set()
    order, stack = [], [count + len(block.gates) - 1]
    while stack:
        node = stack.pop()
        if node in seen:
            continue
        seen.add(node)
        if node < count:
            order.append(node)
            continue
        children = block.gates[node - count][1]
        if smaller_first:
            children = tuple(sorted(children, key=weight.__getitem__))
        stack += reversed(children)
    return order
