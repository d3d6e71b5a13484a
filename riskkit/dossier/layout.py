"""Where boxes and arrows of small graphs stand: Graphviz in one short-lived process, or layers of our own.

Graphviz must never be loaded into the process that prints (both bring a copy of the same C
libraries and crash together), so that all graphs of a dossier go to `python -m
riskkit.dossier.layout` in one go and come back as numbers. Where it is missing or fails, a plain
layered layout takes its place. This file knows sizes and positions in points; it must not know
what a box says or how it is drawn.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from riskkit.diagnostics import RiskkitError

Point = tuple[float, float]

RANK_GAP = 16.0
BOX_GAP = 7.0
NO_GRAPHVIZ = 4
"""Exit status of the process where Graphviz is not installed."""

SECONDS = 60.0
"""Time after which the process is given up; 40 boxes take less than a tenth of a second."""


@dataclass(frozen=True, slots=True)
class Box:
    """A node: its name in the graph and its size."""

    name: str
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Arrow:
    """An edge, with the size of the label it carries (0 for none)."""

    source: str
    target: str
    label_width: float = 0.0
    label_height: float = 0.0


@dataclass(frozen=True, slots=True)
class Graph:
    """What has to be laid out, read from left to right."""

    boxes: tuple[Box, ...]
    arrows: tuple[Arrow, ...]


@dataclass(frozen=True, slots=True)
class Route:
    """The way of one arrow: points of a curve (1 + 3n control points), and the middle of its label."""

    curve: tuple[Point, ...]
    label: Point | None


@dataclass(frozen=True)
class Placed:
    """A graph with positions: middle of each box by name, one route per arrow, size of the whole; y grows downwards."""

    boxes: Mapping[str, Point]
    routes: tuple[Route, ...]
    width: float
    height: float


@dataclass(frozen=True)
class Layout:
    """All graphs with positions, and who found them, in words for the last page of a dossier."""

    graphs: tuple[Placed, ...]
    by: str


def lay_out(graphs: Sequence[Graph]) -> Layout:
    """Lay out all graphs; the same graphs give the same numbers on the same release of Graphviz.

    Raises:
        RiskkitError: where Graphviz is there but its process did not end in time.
    """
    if not graphs:
        return Layout((), "no figure needed laying out")
    answers, status = _ask_graphviz([dot(graph) for graph in graphs])
    if answers is None:
        why = "Graphviz is not installed here" if status == NO_GRAPHVIZ else f"Graphviz ended with status {status}"
        return Layout(tuple(layers(graph) for graph in graphs), f"laid out in plain layers, since {why}")
    placed = tuple(_placed(graph, answer) for graph, answer in zip(graphs, answers, strict=True))
    return Layout(placed, "laid out by Graphviz")


def dot(graph: Graph) -> str:
    """The graph in the DOT language. Boxes are numbered, so that no name needs quoting; labels are empty tables
    of fixed size, so that no font of the machine takes part."""
    numbers = {box.name: place for place, box in enumerate(graph.boxes)}
    lines = [
        "digraph {",
        f"rankdir=LR; ranksep={RANK_GAP / 72:.4f}; nodesep={BOX_GAP / 72:.4f}; splines=true;",
        'node [shape=box, fixedsize=true, label=""];',
        "edge [arrowhead=none];",
    ]
    for box in graph.boxes:
        lines.append(f"n{numbers[box.name]} [width={box.width / 72:.4f}, height={box.height / 72:.4f}];")
    for place, arrow in enumerate(graph.arrows):
        label = ""
        if arrow.label_width:
            label = (
                f', label=<<TABLE BORDER="0" FIXEDSIZE="TRUE" CELLPADDING="0" CELLSPACING="0" '
                f'WIDTH="{arrow.label_width:.0f}" HEIGHT="{arrow.label_height:.0f}"><TR><TD></TD></TR></TABLE>>'
            )
        lines.append(f"n{numbers[arrow.source]} -> n{numbers[arrow.target]} [id={place}{label}];")
    return "\n".join([*lines, "}"])


def _ask_graphviz(texts: list[str]) -> tuple[list[dict[str, Any]] | None, int]:
    """Positions from a process of its own (None where it has no Graphviz or breaks down), and its exit status."""
    command = [sys.executable, "-m", "riskkit.dossier.layout"]
    try:
        done = subprocess.run(command, input=json.dumps(texts), capture_output=True, text=True, timeout=SECONDS)
    except subprocess.TimeoutExpired:
        raise RiskkitError(
            f"the figures were not laid out within {SECONDS:.0f} s",
            "print the front sheet with `--one-page`, or split the register",
        ) from None
    if done.returncode != 0:
        return None, done.returncode
    return json.loads(done.stdout), 0


def _placed(graph: Graph, answer: dict[str, Any]) -> Placed:
    boxes = {box.name: (x, y) for box, (x, y) in zip(graph.boxes, answer["boxes"], strict=True)}
    routes = tuple(
        Route(tuple((x, y) for x, y in curve), None if label is None else (label[0], label[1]))
        for curve, label in answer["routes"]
    )
    return Placed(boxes, routes, answer["width"], answer["height"])


# -- without Graphviz ---------------------------------------------------------------------------------


def layers(graph: Graph) -> Placed:
    """Boxes in columns by their longest way from a source, arrows as plain curves. No two boxes overlap."""
    column = _columns(graph)
    ordered = _ordered(graph, column)
    label_room = max((arrow.label_width for arrow in graph.arrows), default=0.0)
    heights = [sum(box.height for box in boxes) + BOX_GAP * (len(boxes) - 1) for boxes in ordered]
    height = max(heights, default=0.0)
    sizes = {box.name: box for box in graph.boxes}
    positions: dict[str, Point] = {}
    x = 0.0
    for boxes, tall in zip(ordered, heights, strict=True):
        wide = max((box.width for box in boxes), default=0.0)
        y = (height - tall) / 2
        for box in boxes:
            positions[box.name] = (x + wide / 2, y + box.height / 2)
            y += box.height + BOX_GAP
        x += wide + label_room + 2 * RANK_GAP
    width = x - (label_room + 2 * RANK_GAP) if ordered else 0.0
    routes = tuple(_curve(arrow, sizes, positions) for arrow in graph.arrows)
    return Placed(positions, routes, width, height)


def _columns(graph: Graph) -> dict[str, int]:
    """Column of each box; arrows that would close a circle are left out of the count."""
    following: dict[str, list[str]] = {box.name: [] for box in graph.boxes}
    for arrow in graph.arrows:
        if arrow.target != arrow.source:
            following[arrow.source].append(arrow.target)
    column = dict.fromkeys(following, 0)
    for name in _sources_first(following):
        for target in following[name]:
            column[target] = max(column[target], column[name] + 1)
    return column


def _sources_first(following: Mapping[str, list[str]]) -> list[str]:
    """Every box after all that lead to it; arrows that run back on the way down are taken out of `following`."""
    done: list[str] = []
    state: dict[str, int] = {}
    for root in following:
        stack = [root] if root not in state else []
        while stack:
            name = stack[-1]
            if state.get(name) is None:
                state[name] = 1
                following[name][:] = [target for target in following[name] if state.get(target) != 1]
                stack.extend(target for target in reversed(following[name]) if target not in state)
                continue
            stack.pop()
            if state[name] == 1:
                state[name] = 2
                done.append(name)
    return done[::-1]


def _ordered(graph: Graph, column: Mapping[str, int]) -> list[list[Box]]:
    """Boxes column by column, each pulled towards the middle of its neighbours on the left."""
    columns: list[list[Box]] = [[] for _ in range(max(column.values(), default=-1) + 1)]
    for box in graph.boxes:
        columns[column[box.name]].append(box)
    place: dict[str, float] = {}
    for boxes in columns:
        wish = {box.name: _pull(box.name, graph, place) for box in boxes}
        boxes.sort(key=lambda box: wish[box.name])
        place.update((box.name, (index + 0.5) / len(boxes)) for index, box in enumerate(boxes))
    return columns


def _pull(name: str, graph: Graph, place: Mapping[str, float]) -> float:
    known = [place[arrow.source] for arrow in graph.arrows if arrow.target == name and arrow.source in place]
    return sum(known) / len(known) if known else 0.5


def _curve(arrow: Arrow, sizes: Mapping[str, Box], positions: Mapping[str, Point]) -> Route:
    (from_x, from_y), (to_x, to_y) = positions[arrow.source], positions[arrow.target]
    forward = 1.0 if to_x >= from_x else -1.0
    start_x = from_x + forward * sizes[arrow.source].width / 2
    end_x = to_x - forward * sizes[arrow.target].width / 2
    bend = max(abs(end_x - start_x) / 2, RANK_GAP) * forward
    curve = ((start_x, from_y), (start_x + bend, from_y), (end_x - bend, to_y), (end_x, to_y))
    label = ((start_x + end_x) / 2, (from_y + to_y) / 2) if arrow.label_width else None
    return Route(curve, label)


# -- inside the short-lived process -------------------------------------------------------------------


def main() -> int:
    """Read a JSON list of DOT texts from standard input, write positions as JSON; a status of its own without Graphviz."""
    try:
        import pygraphviz
    except ImportError:
        return NO_GRAPHVIZ
    sys.stdout.write(json.dumps([_positions(pygraphviz.AGraph(string=text)) for text in json.load(sys.stdin)]))
    return 0


def _positions(graph: Any) -> dict[str, Any]:
    drawn = json.loads(graph.draw(format="json0", prog="dot"))
    _, _, width, height = (float(edge) for edge in drawn["bb"].split(","))

    def point(text: str) -> Point:
        x, y = text.split(",")
        return round(float(x), 2), round(height - float(y), 2)

    nodes = sorted(drawn.get("objects", ()), key=lambda node: int(node["name"][1:]))
    edges = sorted(drawn.get("edges", ()), key=lambda edge: int(edge["id"]))
    return {
        "boxes": [point(node["pos"]) for node in nodes],
        "routes": [
            ([point(text) for text in edge["pos"].split()], point(edge["lp"]) if "lp" in edge else None)
            for edge in edges
        ],
        "width": width,
        "height": height,
    }


if __name__ == "__main__":
    sys.exit(main())
