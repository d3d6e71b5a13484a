"""A fault tree cut at gates into parts that fit on a page, each a plain tree; what is shared gets one number everywhere.

This file knows gates and sizes. It must not know how anything is drawn.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from riskkit.faults.sharing import places, settled
from riskkit.faults.trees import Tree

MOST_NODES = 40
MOST_LEVELS = 4
"""Gates one behind the other in one part."""

LEAST_CUT = 8
"""A branch with fewer nodes is not worth a part of its own, unless it lies too deep."""

Kind = Literal["gate", "event", "house", "transfer"]


@dataclass(frozen=True, slots=True)
class Twig:
    """One place in a drawn tree; a transfer stands for a gate that is drawn elsewhere."""

    name: str
    kind: Kind
    inputs: tuple[Twig, ...] = ()

    def walk(self) -> Iterator[Twig]:
        """This place and all below it, first input first."""
        yield self
        for each in self.inputs:
            yield from each.walk()

    @property
    def levels(self) -> int:
        """Gates one behind the other, this one counted."""
        return 1 + max((each.levels for each in self.inputs), default=0) if self.kind == "gate" else 0


@dataclass(frozen=True, slots=True)
class Part:
    """One figure's worth of a tree.

    Attributes:
        root: What stands at the left.
        shown: Places of its inputs that are drawn here, first and last, and how many it has; None where all are.
    """

    root: Twig
    shown: tuple[int, int, int] | None = None


@dataclass(frozen=True)
class Parts:
    """A whole tree in parts.

    Attributes:
        parts: The parts; the first one begins at the top.
        home: Gate -> index of the part in which it is developed (the first of them, if it takes several).
        marks: Number of each shared event and of each gate that is referred to from elsewhere, in order of drawing.
    """

    parts: tuple[Part, ...]
    home: Mapping[str, int]
    marks: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class _Bulk:
    """What a branch takes up: nodes, levels of gates, height."""

    nodes: int
    levels: int
    height: float


@dataclass
class _Cuts:
    """Which inputs are developed on the spot, as (gate, place of the input), and which gates take several parts."""

    inline: set[tuple[str, int]] = field(default_factory=set)
    wide: set[str] = field(default_factory=set)
    bulk: dict[str, _Bulk] = field(default_factory=dict)


def cut_into_parts(tree: Tree, height: Callable[[str], float], most_height: float) -> Parts:
    """Cut a tree into parts of at most 40 nodes, four levels of gates and the given height.

    A gate with so many inputs that they do not fit into one part takes several, each with some of its inputs.

    Args:
        tree: The tree.
        height: Height of the row or box of a gate or event, with the gap below it.
        most_height: Height of a page, in the same unit.
    """
    cuts = _cut(tree, height, most_height)
    waiting, parts, home = [tree.top], [], dict[str, int]()
    queued = {tree.top, *(tree.gates[name].inputs[place] for name, place in cuts.inline)}
    for name in waiting:  # grows while it is read
        for part in _developed(tree, name, cuts, height, most_height):
            parts.append(part)
            for twig in part.root.walk():
                if twig.kind == "gate":
                    home.setdefault(twig.name, len(parts) - 1)
                elif twig.kind == "transfer" and twig.name not in queued:
                    queued.add(twig.name)
                    waiting.append(twig.name)
    return Parts(tuple(parts), home, _marks(tree, parts))


def _cut(tree: Tree, height: Callable[[str], float], most_height: float) -> _Cuts:
    """Decide from the leaves upwards; where a gate gets too large, its largest branch becomes a part of its own."""
    cuts = _Cuts()
    for name, own in _inputs_first(tree):
        cuts.inline |= {(name, place) for place in own}
        inputs = tree.gates[name].inputs
        for place in own:
            if cuts.bulk[inputs[place]].levels >= MOST_LEVELS or inputs[place] in cuts.wide:
                cuts.inline.discard((name, place))
        given_up: list[int] = []
        while _too_much(bulk := _bulk(tree, name, cuts, height), most_height):
            worth = [place for place in own if (name, place) in cuts.inline]
            worth = [place for place in worth if cuts.bulk[inputs[place]].nodes >= LEAST_CUT]
            if not worth:
                cuts.wide.add(name)
                cuts.inline |= {
                    (name, place)
                    for place in given_up
                    if cuts.bulk[inputs[place]].nodes <= MOST_NODES / 2
                    and cuts.bulk[inputs[place]].height <= most_height / 2
                }
                break
            largest = max(worth, key=lambda place: (cuts.bulk[inputs[place]].nodes, -place))
            cuts.inline.discard((name, largest))
            given_up.append(largest)
        cuts.bulk[name] = bulk
    return cuts


def _too_much(bulk: _Bulk, most_height: float) -> bool:
    return bulk.nodes > MOST_NODES or bulk.height > most_height


def _bulk(tree: Tree, name: str, cuts: _Cuts, height: Callable[[str], float]) -> _Bulk:
    branches = [_branch(tree, name, place, cuts, height) for place in range(len(tree.gates[name].inputs))]
    return _Bulk(
        1 + sum(each.nodes for each in branches),
        1 + max((each.levels for each in branches), default=0),
        max(height(name), sum(each.height for each in branches)),
    )


def _branch(tree: Tree, name: str, place: int, cuts: _Cuts, height: Callable[[str], float]) -> _Bulk:
    below = tree.gates[name].inputs[place]
    return cuts.bulk[below] if (name, place) in cuts.inline else _Bulk(1, 0, height(below))


def _inputs_first(tree: Tree) -> Iterator[tuple[str, tuple[int, ...]]]:
    """Each gate after those it stands on, with the places of the gates that are met here for the first time."""
    if tree.top not in tree.gates:
        return
    met = {tree.top}
    waiting = [(tree.top, iter(enumerate(tree.gates[tree.top].inputs)), list[int]())]
    while waiting:
        name, inputs, own = waiting[-1]
        for place, each in inputs:
            if each in tree.gates and each not in met:
                met.add(each)
                own.append(place)
                waiting.append((each, iter(enumerate(tree.gates[each].inputs)), []))
                break
        else:
            waiting.pop()
            yield name, tuple(own)


def _developed(
    tree: Tree, name: str, cuts: _Cuts, height: Callable[[str], float], most_height: float
) -> Iterator[Part]:
    """The part that begins at a gate; several for a gate whose inputs do not fit into one."""
    root = _twig(tree, name, cuts)
    if name not in cuts.wide:
        yield Part(root)
        return
    branches = [_branch(tree, name, place, cuts, height) for place in range(len(root.inputs))]
    for group in _even_groups(branches, most_height):
        inputs = tuple(root.inputs[place] for place in group)
        yield Part(replace(root, inputs=inputs), (group[0] + 1, group[-1] + 1, len(root.inputs)))


def _even_groups(branches: Sequence[_Bulk], most_height: float) -> list[list[int]]:
    """As few groups of neighbours as fit into a part each, none of them much smaller than the others."""
    fewest = _groups(branches, MOST_NODES, most_height)
    for nodes in range(LEAST_CUT, MOST_NODES):
        even = _groups(branches, nodes, most_height)
        if len(even) == len(fewest):
            return even
    return fewest


def _groups(branches: Sequence[_Bulk], most_nodes: int, most_height: float) -> list[list[int]]:
    groups: list[list[int]] = [[]]
    nodes, high = 1, 0.0
    for place, branch in enumerate(branches):
        if groups[-1] and (nodes + branch.nodes > most_nodes or high + branch.height > most_height):
            groups.append([])
            nodes, high = 1, 0.0
        groups[-1].append(place)
        nodes, high = nodes + branch.nodes, high + branch.height
    return groups


def _twig(tree: Tree, name: str, cuts: _Cuts) -> Twig:
    if name not in tree.gates:
        return _leaf(tree, name)
    inputs = enumerate(tree.gates[name].inputs)
    return Twig(
        name,
        "gate",
        tuple(_twig(tree, each, cuts) if (name, place) in cuts.inline else _leaf(tree, each) for place, each in inputs),
    )


def _leaf(tree: Tree, name: str) -> Twig:
    kind: Kind = "transfer" if name in tree.gates else "house" if settled(tree, name) else "event"
    return Twig(name, kind)


def _marks(tree: Tree, parts: Sequence[Part]) -> dict[str, int]:
    drawn = [twig for part in parts for twig in part.root.walk()]
    referred = {twig.name for twig in drawn if twig.kind == "transfer"}
    referred |= {name for name, count in places(tree).items() if count > 1 and name not in tree.gates}
    marks: dict[str, int] = {}
    for twig in drawn:
        if twig.name in referred:
            marks.setdefault(twig.name, len(marks) + 1)
    return marks
