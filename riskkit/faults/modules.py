"""Independent parts of a tree: a part that shares nothing with the rest counts as one event there.

Source of the linear-time method: Dutuit and Rauzy, A linear-time algorithm to find modules of fault trees,
IEEE Transactions on Reliability 45 (1996), from memory.
"""

from __future__ import annotations

from collections import Counter
from typing import NamedTuple

from riskkit.faults.circuits import Circuit, Vote


class Block(NamedTuple):
    """An independent part.

    Attributes:
        output: Its number in the whole, as an input of later blocks.
        inputs: Numbers of its inputs in the whole: events, and outputs of earlier blocks.
        gates: Its gates, children first, over local numbers: inputs are 0 to len(inputs) - 1, then gates.
    """

    output: int
    inputs: tuple[int, ...]
    gates: tuple[Vote, ...]

    @property
    def is_one_gate(self) -> bool:
        """Whether it is one gate over different inputs."""
        return len(self.gates) == 1 and len(self.inputs) == len(self.gates[0][1])


def blocks_of(circuit: Circuit) -> list[Block]:
    """The independent parts, inner ones first; the last is the top event."""
    circuit = _private_inputs_grouped(circuit)
    first = len(circuit.names)
    alone = _modules(circuit)
    blocks = []
    if circuit.root < first:
        return [Block(first, (circuit.root,), ((1, (0,)),))]
    for place in range(len(circuit.gates)):
        if alone[place]:
            blocks.append(_block(circuit, first + place, alone))
    return blocks


def _block(circuit: Circuit, output: int, alone: list[bool]) -> Block:
    """Everything below a module down to events and other modules, in depth-first left-most order."""
    first = len(circuit.names)
    least, children = circuit.gates[output - first]
    if len(set(children)) == len(children) and all(one < first or alone[one - first] for one in children):
        return Block(output, children, ((least, tuple(range(len(children)))),))
    inputs: dict[int, int] = {}
    inner: list[int] = []
    seen: set[int] = set()
    stack = [(output, False)]
    while stack:
        node, entered = stack.pop()
        if entered:
            inner.append(node)
        elif node not in seen:
            seen.add(node)
            if node != output and (node < first or alone[node - first]):
                inputs[node] = len(inputs)
            else:
                stack.append((node, True))
                stack += [(one, False) for one in reversed(circuit.gates[node - first][1])]
    local = dict(inputs)
    for place, node in enumerate(inner):
        local[node] = len(inputs) + place
    gates = tuple(
        (least, tuple(local[one] for one in children)) for least, children in (circuit.gates[n - first] for n in inner)
    )
    return Block(output, tuple(inputs), gates)


def _modules(circuit: Circuit) -> list[bool]:
    """Whether each gate shares nothing with what is outside: all visits of its descendants lie between its own."""
    first = len(circuit.names)
    total = first + len(circuit.gates)
    entered, left, last = [0] * total, [0] * total, [0] * total
    date = 0
    stack = [(circuit.root, False)]
    while stack:
        node, leaving = stack.pop()
        date += 1
        last[node] = date
        if leaving:
            left[node] = date
        elif not entered[node]:
            entered[node] = date
            if node >= first:
                stack.append((node, True))
                stack += [(one, False) for one in reversed(circuit.gates[node - first][1])]
    earliest, latest = entered[:], last[:]
    alone = []
    for place, (_, inputs) in enumerate(circuit.gates):
        node = first + place
        early = min(earliest[one] for one in inputs)
        late = max(latest[one] for one in inputs)
        alone.append(early > entered[node] and late < left[node])
        earliest[node] = min(early, entered[node])
        latest[node] = max(late, last[node])
    return alone


def _private_inputs_grouped(circuit: Circuit) -> Circuit:
    """Inputs of an OR or AND that nothing else uses become a gate of their own, which is then independent."""
    first = len(circuit.names)
    alone = _modules(circuit)
    parents = Counter(one for _, inputs in circuit.gates for one in inputs)
    number = list(range(first))
    gates: list[Vote] = []
    for least, inputs in circuit.gates:
        private = [one for one in inputs if parents[one] == 1 and (one < first or alone[one - first])]
        if 2 <= len(private) < len(inputs) and least in (1, len(inputs)) and len(set(inputs)) == len(inputs):
            gates.append((1 if least == 1 else len(private), tuple(number[one] for one in private)))
            kept = set(private)
            rest = [number[one] for one in inputs if one not in kept]
            gates.append((1 if least == 1 else len(rest) + 1, (first + len(gates) - 1, *rest)))
        else:
            gates.append((least, tuple(number[one] for one in inputs)))
        number.append(first + len(gates) - 1)
    return Circuit(circuit.names, tuple(gates), number[circuit.root])
