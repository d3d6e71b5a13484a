"""Where boxes stand: Graphviz in a process of its own, and the plain layers that stand in for it."""

from __future__ import annotations

import json
import os
import random
import subprocess
import sys
import time
from itertools import combinations
from pathlib import Path

import pytest

from riskkit.dossier import layout
from riskkit.dossier.layout import Arrow, Box, Graph, Placed, dot, lay_out, layers


def random_graph(seed: int, count: int) -> Graph:
    """A graph such as a register gives, with circles, loops and several arrows between two boxes."""
    choose = random.Random(seed)
    boxes = tuple(Box(f"N{place}", 88.0, choose.choice((20.0, 28.0, 36.0))) for place in range(count))
    names = [box.name for box in boxes]
    arrows = tuple(
        Arrow(choose.choice(names), choose.choice(names), *choose.choice(((0.0, 0.0), (38.0, 7.0), (30.0, 13.0))))
        for _ in range(int(count * 1.6))
    )
    return Graph(boxes, arrows)


def overlaps(graph: Graph, placed: Placed) -> list[tuple[str, str]]:
    found = []
    for one, other in combinations(graph.boxes, 2):
        (x1, y1), (x2, y2) = placed.boxes[one.name], placed.boxes[other.name]
        apart_x = abs(x1 - x2) >= (one.width + other.width) / 2 - 0.05
        apart_y = abs(y1 - y2) >= (one.height + other.height) / 2 - 0.05
        if not (apart_x or apart_y):
            found.append((one.name, other.name))
    return found


@pytest.mark.parametrize("seed", range(6))
def test_boxes_never_overlap(seed: int) -> None:
    graph = random_graph(seed, 12 + 5 * seed)
    (placed,) = lay_out([graph]).graphs
    assert overlaps(graph, placed) == []
    assert overlaps(graph, layers(graph)) == []


def test_every_arrow_begins_and_ends_at_its_boxes() -> None:
    graph = random_graph(3, 20)
    for placed in (lay_out([graph]).graphs[0], layers(graph)):
        sizes = {box.name: box for box in graph.boxes}
        for arrow, route in zip(graph.arrows, placed.routes, strict=True):
            if arrow.source == arrow.target:
                continue
            for name, (x, y) in ((arrow.source, route.curve[0]), (arrow.target, route.curve[-1])):
                middle, size = placed.boxes[name], sizes[name]
                assert abs(x - middle[0]) <= size.width / 2 + 4
                assert abs(y - middle[1]) <= size.height / 2 + 4
            assert len(route.curve) % 3 == 1
            assert (route.label is not None) == (arrow.label_width > 0)


def test_a_chain_runs_from_left_to_right() -> None:
    graph = Graph(
        (Box("a", 80, 20), Box("b", 80, 20), Box("c", 80, 20)), (Arrow("a", "b", 30, 7), Arrow("b", "c", 30, 7))
    )
    for placed in (lay_out([graph]).graphs[0], layers(graph)):
        assert placed.boxes["a"][0] < placed.boxes["b"][0] < placed.boxes["c"][0]
        assert placed.width >= placed.boxes["c"][0] + 40


def test_the_same_graphs_give_the_same_numbers_whatever_the_hash_seed() -> None:
    texts = json.dumps([dot(random_graph(seed, 15)) for seed in range(3)])
    answers = {
        subprocess.run(
            [sys.executable, "-m", "riskkit.dossier.layout"], input=texts, capture_output=True, text=True, check=True,
            env=os.environ | {"PYTHONHASHSEED": seed},
        ).stdout
        for seed in ("0", "4711")
    }  # fmt: skip
    assert len(answers) == 1
    assert layers(random_graph(1, 30)) == layers(random_graph(1, 30))


def test_without_graphviz_plain_layers_take_its_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "pygraphviz.py").write_text("raise ImportError('not here')\n")
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join([str(tmp_path), *sys.path]))
    graph = random_graph(2, 10)
    found = lay_out([graph])
    assert found.graphs == (layers(graph),)
    assert "Graphviz is not installed here" in found.by


def test_a_graphviz_that_breaks_down_is_told_and_does_not_stop_the_printing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "pygraphviz.py").write_text("import os\nos.abort()\n")
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join([str(tmp_path), *sys.path]))
    found = lay_out([random_graph(2, 10)])
    assert "ended with status" in found.by
    assert len(found.graphs) == 1


def test_graphviz_is_never_loaded_into_this_process() -> None:
    lay_out([random_graph(1, 5)])
    assert "pygraphviz" not in sys.modules


def test_no_graph_needs_no_process(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(layout.subprocess, "run", None)
    assert lay_out([]).graphs == ()


def test_forty_boxes_are_laid_out_quickly() -> None:
    """A generous ceiling against a layout that hangs; the goal is 0.3 s."""
    started = time.perf_counter()
    lay_out([random_graph(9, 40)])
    assert time.perf_counter() - started < 5
