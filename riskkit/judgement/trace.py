"""The graph of the register: which record points at which, why, and what leans on it.

Every link carries the words of the field it comes from, so that a path can be read aloud.
"""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from riskkit.model.references import Path
from riskkit.model.register import Register

if TYPE_CHECKING:
    import networkx


@dataclass(frozen=True, slots=True)
class Link:
    """One record points at another: "H04 is answered by C06"."""

    source: str
    relation: str
    target: str
    path: Path
    leans: bool

    def sentence(self) -> str:
        """The link as it is read aloud."""
        return f"{self.source} {self.relation} {self.target}"


@dataclass(frozen=True, slots=True)
class Chain:
    """A record that leans on another, and the shortest way from it to the other."""

    record: str
    links: tuple[Link, ...]


@dataclass(frozen=True, slots=True)
class Neighbourhood:
    """The surroundings of a record, small enough to be drawn; `left_out` counts what is not in it."""

    nodes: tuple[str, ...]
    links: tuple[Link, ...]
    left_out: int


@dataclass(frozen=True)
class Trace:
    """All links of a register, by source and by target."""

    links: tuple[Link, ...]
    _from: Mapping[str, tuple[Link, ...]] = field(repr=False, compare=False)
    _to: Mapping[str, tuple[Link, ...]] = field(repr=False, compare=False)

    def outgoing(self, id: str) -> tuple[Link, ...]:
        """What a record points at."""
        return self._from.get(id, ())

    def incoming(self, id: str) -> tuple[Link, ...]:
        """What points at a record."""
        return self._to.get(id, ())

    def leaning_on(self, id: str) -> tuple[Chain, ...]:
        """Every record that stands or falls with this one, nearest first, each with its shortest chain."""
        found: dict[str, tuple[Link, ...]] = {id: ()}
        waiting = deque([id])
        while waiting:
            here = waiting.popleft()
            for link in self.incoming(here):
                if link.leans and link.source not in found:
                    found[link.source] = (link, *found[here])
                    waiting.append(link.source)
        del found[id]
        return tuple(Chain(record, links) for record, links in found.items())

    def graph(self) -> networkx.MultiDiGraph[str]:
        """The links as a networkx graph; edges carry `relation`, `leans` and `path`."""
        import networkx

        graph: networkx.MultiDiGraph[str] = networkx.MultiDiGraph()
        for link in self.links:
            graph.add_edge(link.source, link.target, relation=link.relation, leans=link.leans, path=link.path)
        return graph

    def neighbourhood(self, id: str, most: int = 40) -> Neighbourhood:
        """A record, what it points at directly and indirectly, and what points straight at it.

        Args:
            id: The record in the middle.
            most: Number of records that still can be read on one page.
        """
        order: dict[str, None] = {id: None}
        waiting = deque([id])
        while waiting:
            here = waiting.popleft()
            nearby = [link.target for link in self.outgoing(here)]
            if here == id:
                nearby += [link.source for link in self.incoming(here)]
            for other in nearby:
                if other not in order:
                    order[other] = None
                    waiting.append(other)
        nodes = tuple(order)[:most]
        kept = set(nodes)
        links = tuple(link for node in nodes for link in self.outgoing(node) if link.target in kept)
        return Neighbourhood(nodes, links, len(order) - len(nodes))


def trace(register: Register) -> Trace:
    """All links of a register; those that lead nowhere are left out."""
    links = tuple(_links(register))
    sources: dict[str, list[Link]] = defaultdict(list)
    targets: dict[str, list[Link]] = defaultdict(list)
    for link in links:
        sources[link.source].append(link)
        targets[link.target].append(link)
    return Trace(links, _frozen(sources), _frozen(targets))


def _links(register: Register) -> Iterator[Link]:
    records = register.records
    for id, found in register.references.items():
        for reference in found:
            if reference.target in records:
                marker = reference.refers
                yield Link(id, marker.relation, reference.target, reference.path, marker.leans)


def _frozen(grouped: Mapping[str, list[Link]]) -> Mapping[str, tuple[Link, ...]]:
    return {id: tuple(links) for id, links in grouped.items()}
