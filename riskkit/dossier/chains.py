"""The trace of one hazard as a figure: what it leans on, what answers it, what shows that.

Boxes tell their kind by outline and by word, arrows tell their relation in words, so that nothing
hangs on colour. Where boxes stand comes from layout.py; what leans on what comes from the trace.
"""

from __future__ import annotations

from dataclasses import dataclass

from riskkit.dossier import figures as draw
from riskkit.dossier.figures import Figure
from riskkit.dossier.layout import Arrow, Box, Graph, Placed, Point, Route
from riskkit.dossier.lettering import fit, width

PAGE_WIDTH = 482.0
PAGE_HEIGHT = 560.0
BOX_WIDTH = 92.0
PADDING = 4.0
ID_SIZE = 7.0
KIND_SIZE = 5.2
TITLE_SIZE = 6.2
TITLE_LEADING = 7.0
TITLE_LINES = 2
WORDS_SIZE = 5.4
WORDS_LEADING = 5.8
WORDS_ROOM = 40.0

BACKWARDS = frozenset(
    {
        "is started by",
        "comes from",
        "comes from the loss of",
        "leans on",
        "takes its time to harm from",
        "takes its harm mark from",
        "is meant to show",
    }
)
"""Relations whose target stands to the left of their source, so that a figure reads from cause to proof."""


@dataclass(frozen=True, slots=True)
class Node:
    """One record in the figure."""

    id: str
    section: str
    kind: str
    title: str
    remark: str = ""


@dataclass(frozen=True, slots=True)
class Chain:
    """What is drawn: records, links (from, to, words of the relation), and how many records were left out.

    `centre` is the record that it is all about; empty where there is none.
    """

    centre: str
    nodes: tuple[Node, ...]
    links: tuple[tuple[str, str, str], ...]
    left_out: int = 0


def graph_of(chain: Chain) -> Graph:
    """Sizes of boxes and labels, ready to be laid out."""
    boxes = tuple(Box(node.id, BOX_WIDTH, _box_height(node)) for node in chain.nodes)
    arrows = []
    for source, target, words in chain.links:
        lines = _words_lines(words)
        wide = max(width(line, WORDS_SIZE, "sans-italic") for line in lines)
        ends = (target, source) if words in BACKWARDS else (source, target)
        arrows.append(Arrow(*ends, wide + 6, WORDS_LEADING * len(lines) + 1))
    return Graph(boxes, tuple(arrows))


def draw_chain(chain: Chain, placed: Placed) -> Figure:
    """The figure, no wider and no higher than a page."""
    lines: list[str] = []
    words: list[str] = []
    for (_, _, relation), route in zip(chain.links, placed.routes, strict=True):
        lines.extend(_route(route, backwards=relation in BACKWARDS))
        if route.label is not None:
            words.extend(_relation(relation, route.label))
    boxes = [shape for node in chain.nodes for shape in _box(node, placed.boxes[node.id], node.id == chain.centre)]
    margin = 3.0
    wide, high = placed.width + 2 * margin, placed.height + 2 * margin
    scale = min(1.0, PAGE_WIDTH / wide, PAGE_HEIGHT / high)
    moved = f'<g transform="translate({draw.number(margin)} {draw.number(margin)})">'
    return draw.figure([moved, *lines, *words, *boxes, "</g>"], _alt(chain), wide, high, scale=scale)


def _title_lines(node: Node) -> tuple[str, ...]:
    return fit(node.title, TITLE_SIZE, BOX_WIDTH - 2 * PADDING, TITLE_LINES)


def _box_height(node: Node) -> float:
    lines = len(_title_lines(node)) + bool(node.remark)
    return PADDING + ID_SIZE + 2.0 + TITLE_LEADING * lines + PADDING - 1.0


def _words_lines(words: str) -> tuple[str, ...]:
    return fit(words, WORDS_SIZE, WORDS_ROOM, 2, "sans-italic") or ("",)


def _box(node: Node, centre: Point, is_centre: bool) -> list[str]:
    x, y = centre[0] - BOX_WIDTH / 2, centre[1] - _box_height(node) / 2
    shapes = _outline(node.section, x, y, _box_height(node), is_centre)
    baseline = y + PADDING + ID_SIZE * 0.78
    kind = fit(node.kind, KIND_SIZE, BOX_WIDTH * 0.55, 1)
    room = BOX_WIDTH - 2 * PADDING - width(kind[0], KIND_SIZE) - 3
    name = fit(node.id, ID_SIZE, room, 1, "sans-bold")
    shapes.append(draw.letters(x + PADDING, baseline, name[0], ID_SIZE, face="sans-bold"))
    shapes.append(draw.letters(x + BOX_WIDTH - PADDING, baseline, kind[0], KIND_SIZE, anchor="end", fill=draw.GREY))
    lines = _title_lines(node)
    for place, line in enumerate(lines):
        shapes.append(draw.letters(x + PADDING, _line(baseline, place), line, TITLE_SIZE))
    if node.remark:
        words = fit(node.remark, KIND_SIZE, BOX_WIDTH - 2 * PADDING, 1)[0]
        shapes.append(draw.letters(x + PADDING, _line(baseline, len(lines)), words, KIND_SIZE, fill=draw.GREY))
    return shapes


def _line(baseline: float, place: int) -> float:
    """Baseline of a line of the title; the id stands on the first one."""
    return baseline + 2.0 + TITLE_LEADING * (place + 0.9)


def _outline(section: str, x: float, y: float, high: float, is_centre: bool) -> list[str]:
    """Hazards heavy, controls round, tests with cut corners, assumptions dashed, calculations double, everything
    that is part of the device a plain thin box."""
    wide, fill = BOX_WIDTH, draw.SAND if is_centre else draw.WHITE
    if section == "hazards":
        return [draw.rect(x, y, wide, high, fill=fill, line=draw.INK, weight=1.6 if is_centre else 1.1)]
    if section == "controls":
        return [draw.rect(x, y, wide, high, fill=fill, line=draw.SLATE, weight=0.9, round=5)]
    if section == "tests":
        cut = 5.0
        corners = (
            (x + cut, y), (x + wide - cut, y), (x + wide, y + cut), (x + wide, y + high - cut),
            (x + wide - cut, y + high), (x + cut, y + high), (x, y + high - cut), (x, y + cut),
        )  # fmt: skip
        return [draw.polyline(corners, line=draw.SLATE, weight=0.8, fill=fill, closed=True)]
    if section == "assumptions":
        return [draw.rect(x, y, wide, high, fill=fill, line=draw.INK, weight=0.7, dashes="2.4 1.6")]
    if section == "calculations":
        inner = draw.rect(x + 1.6, y + 1.6, wide - 3.2, high - 3.2, line=draw.GREY, weight=0.35)
        return [draw.rect(x, y, wide, high, fill=fill, line=draw.GREY, weight=0.6), inner]
    return [draw.rect(x, y, wide, high, fill=fill, line=draw.GREY, weight=0.5)]


def _route(route: Route, *, backwards: bool) -> list[str]:
    curve = route.curve[::-1] if backwards else route.curve
    start, *rest = curve
    steps = " ".join(f"{draw.number(x)} {draw.number(y)}" for x, y in rest)
    path = (
        f'<path d="M{draw.number(start[0])} {draw.number(start[1])}C{steps}" fill="none" '
        f'stroke="{draw.GREY}" stroke-width="0.55"/>'
    )
    (from_x, from_y), (to_x, to_y) = curve[-2], curve[-1]
    return [path, draw.arrowhead(to_x, to_y, to_x - from_x, to_y - from_y, 4.0, fill=draw.GREY)]


def _relation(words: str, middle: Point) -> list[str]:
    lines = _words_lines(words)
    top = middle[1] - WORDS_LEADING * len(lines) / 2
    return [
        draw.letters(
            middle[0], top + WORDS_LEADING * (place + 0.78), line, WORDS_SIZE,
            face="sans-italic", anchor="middle", fill=draw.SLATE, halo=1.6,
        )
        for place, line in enumerate(lines)
    ]  # fmt: skip


def _alt(chain: Chain) -> str:
    """Every arrow as a sentence."""
    sentences = [f"{source} {words} {target}." for source, target, words in chain.links]
    rest = f" {left_out_words(chain.left_out)}" if chain.left_out else ""
    name = f"Trace of {chain.centre}" if chain.centre else "What supplies what"
    return f"{name}. {' '.join(sentences)}{rest}"


def left_out_words(count: int) -> str:
    """What is said under a figure that does not show everything."""
    if count == 0:
        return ""
    return "1 further record is not drawn." if count == 1 else f"{count} further records are not drawn."
