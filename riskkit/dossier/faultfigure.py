"""A fault tree as figures: from the top event at the left to the basic events at the right.

Every place is a box with its title and a symbol behind it: a gate (round for "all", pointed for "any", a box for
"k/n", each with its word inside), a circle with the probability of a basic event, a house for what is taken as
settled, a triangle where a branch is drawn elsewhere. The same number in the corner of two boxes means the same
thing twice.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from riskkit.dossier import figures as draw
from riskkit.dossier.faultbars import importance_bars as importance_bars
from riskkit.dossier.faultparts import MOST_LEVELS, Part, Parts, Twig, cut_into_parts
from riskkit.dossier.faultsigns import SMALL_SIZE, SMALL_SYMBOL, SYMBOL, gate, mark, mark_width, sign
from riskkit.dossier.figures import Figure
from riskkit.dossier.lettering import Face, fit, width
from riskkit.faults.gatevalues import NOT_KNOWN, numbers_beside
from riskkit.faults.saying import say_list, say_number
from riskkit.faults.sharing import gate_words
from riskkit.faults.trees import Analysis, Tree

PAGE_WIDTH = 482.0
PAGE_HEIGHT = 560.0
MARGIN = 1.0
TITLE_SIZE = 6.2
TITLE_LEADING = 7.0
TITLE_LINES = 4
PADDING = 3.0
ROW_GAP = 4.0
LINK = 3.0
BUS = 14.0
"""From a gate to the boxes of its inputs."""

BEHIND = LINK + SMALL_SYMBOL + 3.0 + 32.0
"""Symbol and number behind the box of an event."""

WIDEST_PITCH = 130.0
NARROWEST_BOX = (PAGE_WIDTH - 2 * MARGIN - BEHIND) / (MOST_LEVELS + 1) - 24.0
WIDEST_BOX = 130.0
HEAD = 12.0
LEGEND = 20.0


def fault_figures(
    tree: Tree, titles: Mapping[str, str], analysis: Analysis, *, unknown: Collection[str] = ()
) -> tuple[Figure, ...]:
    """The tree in as few figures as hold it readably; each is no wider than a page and holds about 40 places at most.

    Args:
        tree: The tree.
        titles: What gates and events are called; a name without a title stands for itself.
        analysis: What was worked out for it; the top carries its value or its limits.
        unknown: Events whose probability is not known, for which the tree holds a stand-in other than 0 and 1; no gate
            above them has a number.

    Returns:
        The figures in order, the top event in the first one. The alternative text tells the logic of each.
    """
    teller = _Teller(tree, titles, numbers_beside(tree, analysis, unknown))
    room = PAGE_HEIGHT - HEAD - LEGEND
    parts = cut_into_parts(tree, lambda name: teller.tallest(name) + ROW_GAP, room)
    return tuple(_draw_part(parts, place, teller) for place in range(len(parts.parts)))


class _Teller:
    """What stands in and behind the box of a name."""

    def __init__(self, tree: Tree, titles: Mapping[str, str], numbers: Mapping[str, str]) -> None:
        self.tree, self.titles, self.numbers = tree, titles, numbers

    def title(self, name: str) -> str:
        return self.titles.get(name, name)

    def tallest(self, name: str) -> float:
        """Height of a box at its narrowest, with a mark in its corner."""
        lines = len(_title_lines(self.title(name), NARROWEST_BOX, 99, "sans"))
        return _box_height(lines + (name in self.tree.gates))


def _title_lines(title: str, wide: float, shown: int | None, face: Face) -> tuple[str, ...]:
    room = wide - 2 * PADDING - (mark_width(shown) if shown else 0.0)
    return fit(title, TITLE_SIZE, room, TITLE_LINES, face) or ("",)


def _box_height(lines: int) -> float:
    return TITLE_LEADING * lines + 2 * PADDING - 1.0


# -- where things stand -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Spot:
    """A box with its place: left edge, middle, size, lines of its title, and the spots of its inputs."""

    twig: Twig
    x: float
    y: float
    wide: float
    high: float
    lines: tuple[str, ...]
    inputs: tuple[_Spot, ...]

    def walk(self) -> Iterator[_Spot]:
        yield self
        for each in self.inputs:
            yield from each.walk()


@dataclass(frozen=True, slots=True)
class _Sheet:
    """Columns of one part: the step from gate to gate, and the widths of both kinds of boxes."""

    pitch: float
    gate_box: float
    leaf_box: float
    marks: Mapping[str, int]
    teller: _Teller


def _sheet(part: Part, marks: Mapping[str, int], teller: _Teller) -> _Sheet:
    """A part with few levels has wider boxes."""
    room = PAGE_WIDTH - 2 * MARGIN - BEHIND
    levels = part.root.levels
    pitch = min(WIDEST_PITCH, (room + LINK + SYMBOL + BUS) / (levels + 1))
    leaf = min(WIDEST_BOX, room - levels * pitch)
    return _Sheet(pitch, pitch - LINK - SYMBOL - BUS, leaf, marks, teller)


def _place(twig: Twig, x: float, top: float, sheet: _Sheet) -> tuple[_Spot, float]:
    """Place a branch at and below `top`; each branch keeps a band of its own, so that nothing can overlap.

    Returns:
        The spot, and where its band ends.
    """
    is_gate = twig.kind == "gate"
    wide = sheet.gate_box if is_gate else sheet.leaf_box
    title = sheet.teller.title(twig.name)
    lines = _title_lines(title, wide, sheet.marks.get(twig.name), "sans-bold" if x == MARGIN else "sans")
    high = _box_height(len(lines) + (is_gate and twig.name in sheet.teller.numbers))
    spots: list[_Spot] = []
    end = top
    for each in twig.inputs:
        spot, end = _place(each, x + sheet.pitch, end, sheet)
        spots.append(spot)
    band = max(end - top, high + ROW_GAP)
    shift = (band - (end - top)) / 2 if spots else 0.0
    moved = tuple(_moved(spot, shift) for spot in spots) if shift else tuple(spots)
    middle = (moved[0].y + moved[-1].y) / 2 if moved else top + (band - ROW_GAP) / 2
    middle = min(max(middle, top + high / 2), top + band - ROW_GAP - high / 2)
    return _Spot(twig, x, middle, wide, high, lines, moved), top + band


def _moved(spot: _Spot, down: float) -> _Spot:
    inputs = tuple(_moved(each, down) for each in spot.inputs)
    return _Spot(spot.twig, spot.x, spot.y + down, spot.wide, spot.high, spot.lines, inputs)


# -- drawing ------------------------------------------------------------------------------------------


def _draw_part(parts: Parts, place: int, teller: _Teller) -> Figure:
    part = parts.parts[place]
    sheet = _sheet(part, parts.marks, teller)
    head = _head(parts, place, teller)
    top = MARGIN + (HEAD if head else 0.0)
    root, bottom = _place(part.root, MARGIN, top, sheet)
    spots = tuple(root.walk())
    lines = [shape for spot in spots for shape in _links(spot)]
    shapes = [shape for spot in spots for shape in _box(spot, spot is root, sheet)]
    symbols = [shape for spot in spots for shape in _symbol(spot, parts, place, teller)]
    legend, legend_end = _legend(part, parts, bottom + 8.0)
    words = [draw.letters(MARGIN, MARGIN + 6.5, head, TITLE_SIZE, face="sans-italic", fill=draw.SLATE)] if head else []
    right = max(_right_edge(spot) for spot in spots)
    wide = max(right, legend_end, MARGIN + width(head, TITLE_SIZE, "sans-italic")) + MARGIN
    high = bottom + LEGEND
    scale = min(1.0, PAGE_WIDTH / wide, PAGE_HEIGHT / high)
    alt = _alt(parts, place, teller)
    return draw.figure([*words, *lines, *shapes, *symbols, *legend], alt, wide, high, scale=scale)


def _right_edge(spot: _Spot) -> float:
    return spot.x + spot.wide + (LINK + SYMBOL + BUS if spot.twig.kind == "gate" else BEHIND)


def _head(parts: Parts, place: int, teller: _Teller) -> str:
    """What stands above a part of a larger tree."""
    part, count = parts.parts[place], len(parts.parts)
    if count == 1:
        return ""
    words = f"Part {place + 1} of {count}"
    if part.shown:
        first, last, total = part.shown
        words += f", inputs {first} to {last} of {total}"
    shown = parts.marks.get(part.root.name)
    users = [
        str(index + 1)
        for index, each in enumerate(parts.parts)
        if any(twig.kind == "transfer" and twig.name == part.root.name for twig in each.root.walk())
    ]
    if shown and users:
        words += f"; goes in at mark {shown} in part{'' if len(users) == 1 else 's'} {say_list(users)}"
    return fit(words, TITLE_SIZE, PAGE_WIDTH - 4 * MARGIN, 1, "sans-italic")[0]


def _links(spot: _Spot) -> list[str]:
    """From the box to its symbol, and from a gate to its inputs."""
    right = spot.x + spot.wide
    lines = [draw.polyline(((right, spot.y), (right + LINK, spot.y)), line=draw.GREY, weight=0.6)]
    if not spot.inputs:
        return lines
    start, bus = right + LINK + SYMBOL - 3.0, right + LINK + SYMBOL + BUS / 2
    heights = [spot.y, *(each.y for each in spot.inputs)]
    lines.append(draw.polyline(((start, spot.y), (bus, spot.y)), line=draw.GREY, weight=0.6))
    if max(heights) - min(heights) > 0.01:
        lines.append(draw.polyline(((bus, min(heights)), (bus, max(heights))), line=draw.GREY, weight=0.6))
    lines += [draw.polyline(((bus, each.y), (each.x, each.y)), line=draw.GREY, weight=0.6) for each in spot.inputs]
    return lines


def _box(spot: _Spot, is_root: bool, sheet: _Sheet) -> list[str]:
    top = spot.y - spot.high / 2
    line, weight = (draw.INK, 1.1) if is_root else (draw.SLATE, 0.7) if spot.twig.kind == "gate" else (draw.GREY, 0.5)
    fill = draw.SAND if is_root else draw.WHITE
    dashes = "2.4 1.6" if spot.twig.kind == "transfer" else ""
    shapes = [draw.rect(spot.x, top, spot.wide, spot.high, fill=fill, line=line, weight=weight, dashes=dashes)]
    baseline = top + PADDING + TITLE_SIZE * 0.78
    for words in spot.lines:
        face: Face = "sans-bold" if is_root else "sans"
        shapes.append(draw.letters(spot.x + PADDING, baseline, words, TITLE_SIZE, face=face))
        baseline += TITLE_LEADING
    if spot.twig.kind == "gate" and spot.twig.name in sheet.teller.numbers:
        words = fit(sheet.teller.numbers[spot.twig.name], SMALL_SIZE, spot.wide - 2 * PADDING, 1)[0]
        shapes.append(draw.letters(spot.x + PADDING, baseline, words, SMALL_SIZE, fill=draw.SLATE))
    shown = sheet.marks.get(spot.twig.name)
    return shapes + (mark(spot.x + spot.wide - 1.5, top + 1.5, shown) if shown else [])


def _symbol(spot: _Spot, parts: Parts, place: int, teller: _Teller) -> list[str]:
    """What stands behind a box: the gate, or the sign of an event and what is to be said of it."""
    x, y, name = spot.x + spot.wide + LINK, spot.y, spot.twig.name
    if spot.twig.kind == "gate":
        found = teller.tree.gates[name]
        counted = f"{found.least}/{len(found.inputs)}"
        return gate(x, y, found.kind, counted if found.kind == "at least" else found.kind)
    behind = teller.numbers.get(name, "")
    if spot.twig.kind == "house":
        behind = "certain" if teller.tree.probabilities[name] == 1 else "impossible"
    elif spot.twig.kind == "transfer":
        home = parts.home[name]
        behind = "see there" if home == place else f"part {home + 1}"
    words = fit(behind, TITLE_SIZE, BEHIND - LINK - SMALL_SYMBOL - 3.0, 1)[0]
    return [sign(x, y, spot.twig.kind), draw.letters(x + SMALL_SYMBOL + 3.0, y + 2.2, words, TITLE_SIZE)]


def _legend(part: Part, parts: Parts, y: float) -> tuple[list[str], float]:
    """The signs that occur in a part, in words; and where the line ends."""
    kinds = {twig.kind for twig in part.root.walk()}
    shapes: list[str] = []
    x = MARGIN
    for kind, words in (
        ("event", "basic event, with its probability"),
        ("house", "taken as settled"),
        ("transfer", "developed in the place named"),
    ):
        if kind in kinds:
            shapes += [sign(x, y, kind), draw.letters(x + 13, y + 2, words, SMALL_SIZE, fill=draw.GREY)]
            x += 13 + width(words, SMALL_SIZE) + 12
    if any(twig.name in parts.marks for twig in part.root.walk()):
        first = min(parts.marks[twig.name] for twig in part.root.walk() if twig.name in parts.marks)
        wide = mark_width(first)
        shapes += mark(x + wide, y - 2.6, first)
        words = "the same number: the same event or gate"
        shapes.append(draw.letters(x + wide + 3, y + 2, words, SMALL_SIZE, fill=draw.GREY))
        x += wide + 3 + width(words, SMALL_SIZE) + 12
    return shapes, x - 12


# -- in words -----------------------------------------------------------------------------------------


def _alt(parts: Parts, place: int, teller: _Teller) -> str:
    """The logic of a part, gate by gate from the left, then what is shared."""
    part, count = parts.parts[place], len(parts.parts)
    top = teller.title(teller.tree.top)
    sentences = [f"Fault tree of {top}" + (f", part {place + 1} of {count}." if count > 1 else ".")]
    drawn = list(part.root.walk())
    if part.shown:
        first, last, total = part.shown
        sentences.append(f"{teller.title(part.root.name)} has {total} inputs; here are {first} to {last}.")
    for twig in drawn:
        if twig.kind == "gate":
            inputs = "; ".join(_input_words(each, parts, place, teller) for each in twig.inputs)
            value = f" ({teller.numbers[twig.name]})" if twig.name in teller.numbers else ""
            words = gate_words(teller.tree.gates[twig.name])
            sentences.append(f"{teller.title(twig.name)}{value} needs {words}: {inputs}.")
    if part.root.kind != "gate":
        sentences.append(f"It is a single event: {_input_words(part.root, parts, place, teller)}.")
    seen = [twig.name for twig in drawn if twig.kind == "event"]
    for name in dict.fromkeys(seen):
        if name in parts.marks:
            here = seen.count(name)
            stands = "once" if here == 1 else f"at {say_number(here)} places"
            sentences.append(f"{teller.title(name)} is shared (mark {parts.marks[name]}) and stands {stands} here.")
    return " ".join(sentences)


def _input_words(twig: Twig, parts: Parts, place: int, teller: _Teller) -> str:
    title = teller.title(twig.name)
    if twig.kind == "event":
        value = teller.numbers[twig.name]
        return f"{title} ({'probability not known' if value == NOT_KNOWN else value})"
    if twig.kind == "house":
        return f"{title} (taken as {'certain' if teller.tree.probabilities[twig.name] == 1 else 'impossible'})"
    if twig.kind == "transfer":
        home = parts.home[twig.name]
        where = "at another place here" if home == place else f"in part {home + 1}"
        return f"{title} (mark {parts.marks[twig.name]}, developed {where})"
    return title
