"""Fault trees as figures: nothing overlaps, nothing leaves the page, nothing is lost between parts, all is said in words."""

from __future__ import annotations

import math
import random
import re
import xml.etree.ElementTree as ElementTree
from collections import Counter
from itertools import combinations

import pytest

from riskkit.dossier import figures
from riskkit.dossier.faultfigure import PAGE_HEIGHT, PAGE_WIDTH, fault_figures, importance_bars
from riskkit.dossier.faultparts import MOST_LEVELS, MOST_NODES, cut_into_parts
from riskkit.dossier.figures import Figure
from riskkit.dossier.lettering import width
from riskkit.faults.trees import Analysis, FaultError, Gate, Importance, Tree

SVG = "{http://www.w3.org/2000/svg}"
Box = tuple[float, float, float, float]

VALVES = Tree(
    "harm",
    {
        "harm": Gate("all", ("no path", "relief")),
        "no path": Gate("any", ("unseen", "firmware")),
        "unseen": Gate("all", ("blocked", "sensor")),
    },
    {"blocked": 2e-3, "relief": 1e-2, "sensor": 5e-3, "firmware": 3e-3},
)
TITLES = {"harm": "Pressure rises above the limit", "relief": "relief stuck"}


def found(tree: Tree, exact: float | None = 0.5) -> Analysis:
    bounds = (1.2e-5, 2.3e-4) if exact is None else (exact, exact)
    return Analysis(tree, exact, bounds, "by hand", None, None, None, ())


def random_tree(seed: int, nodes: int) -> tuple[Tree, dict[str, str]]:
    """About so many gates and events, some shared, with titles of up to eight words."""
    draw = random.Random(seed)
    chances = {f"e{place}": draw.choice([10 ** draw.uniform(-5, -1), 0.3]) for place in range(max(2, nodes * 2 // 3))}
    open_ends, gates = list(chances), dict[str, Gate]()
    while len(open_ends) > 1:
        start = draw.randrange(max(1, len(open_ends) - 4))
        taken = open_ends[start : start + draw.randint(2, 4)]
        del open_ends[start : start + len(taken)]
        name = f"g{len(gates)}"
        if draw.random() < 0.3:
            taken = list(dict.fromkeys([*taken, draw.choice([*chances, *gates])]))
        kind = draw.choice(["all", "any", "at least"])
        gates[name] = Gate(kind, tuple(taken), 2 if kind == "at least" else 0)  # type: ignore[arg-type]
        open_ends.insert(start, name)
    words = ["valve", "stuck", "supply", "line", "kinked", "not", "heard", "firmware", "hangs"]
    titles = {n: f"{n} {' '.join(draw.choices(words, k=draw.randint(0, 7)))}".strip() for n in (*chances, *gates)}
    return Tree(open_ends[0], gates, chances), titles


def wide_tree(count: int, kind: str = "any") -> Tree:
    chances = {f"e{place}": 0.01 for place in range(2 * count)}
    gates = {f"g{place}": Gate("all", (f"e{2 * place}", f"e{2 * place + 1}")) for place in range(count)}
    return Tree("top", {"top": Gate(kind, tuple(gates), 2 if kind == "at least" else 0), **gates}, chances)  # type: ignore[arg-type]


def deep_tree(count: int) -> Tree:
    gates = {f"g{place}": Gate("any", (f"e{place}", f"g{place + 1}")) for place in range(count)}
    gates[f"g{count}"] = Gate("all", ("e0", "last"))
    return Tree("g0", gates, {**{f"e{place}": 0.01 for place in range(count)}, "last": 0.1})


ODD = {
    "one event": Tree("x", {}, {"x": 0.2}),
    "ten inputs of one gate": Tree("t", {"t": Gate("all", tuple("abcdefghij"))}, dict.fromkeys("abcdefghij", 0.1)),
    "the same event twice": Tree("t", {"t": Gate("any", ("a", "a", "g")), "g": Gate("all", ("a", "a"))}, {"a": 0.1}),
    "house events": Tree("t", {"t": Gate("at least", ("a", "on", "off"), 2)}, {"a": 0.999999, "on": 1.0, "off": 0.0}),
    "sixty pairs": wide_tree(60),
    "a hundred events": Tree("t", {"t": Gate("any", tuple(map(str, range(100))))}, {str(n): 1e-3 for n in range(100)}),
    "two hundred levels": deep_tree(200),
}
TREES = {
    **{f"{nodes} nodes, {seed}": random_tree(seed, nodes) for nodes in (4, 12, 40, 120, 400) for seed in range(6)},
    **{name: (tree, {}) for name, tree in ODD.items()},
}


def parsed(figure: Figure) -> ElementTree.Element:
    return ElementTree.fromstring(figure.svg)


def size(figure: Figure) -> tuple[float, float]:
    left, top, wide, high = (float(each) for each in parsed(figure).get("viewBox", "").split())
    assert (left, top) == (0, 0)
    return wide, high


def boxes(figure: Figure) -> list[Box]:
    """Boxes with titles; the box of a k/n gate is a symbol."""
    edges = [
        tuple(float(rect.get(side, 0)) for side in ("x", "y", "width", "height"))
        for rect in parsed(figure).iter(f"{SVG}rect")
    ]
    return [(x, y, x + wide, y + high) for x, y, wide, high in edges if wide != 18]


def symbols(figure: Figure) -> list[Box]:
    """What stands behind boxes: gates, circles, houses, triangles, without the legend and the marks in corners."""
    there: list[Box] = []
    for circle in parsed(figure).iter(f"{SVG}circle"):
        x, y, r = (float(circle.get(each, 0)) for each in ("cx", "cy", "r"))
        there.append((x - r, y - r, x + r, y + r))
    for rect in parsed(figure).iter(f"{SVG}rect"):
        if rect.get("width") == "18":
            x, y = float(rect.get("x", 0)), float(rect.get("y", 0))
            there.append((x, y, x + 18, y + 14))
    for path in parsed(figure).iter(f"{SVG}path"):
        drawn = path.get("d", "")
        if drawn.endswith("Z") and path.get("stroke-width") in ("0.7", "0.8"):
            numbers = [float(each) for each in re.findall(r"-?\d+\.?\d*", drawn.replace("A7 7 0 0 0", ""))]
            if "H" in drawn:  # a round gate: M right,top H x A ... x,bottom H right
                right, top, x, _, bottom, _ = numbers
                there.append((x - 7, top, right, bottom))
            else:
                there.append((min(numbers[::2]), min(numbers[1::2]), max(numbers[::2]), max(numbers[1::2])))
    return there


def texts(figure: Figure) -> list[tuple[str, Box]]:
    there = []
    for text in parsed(figure).iter(f"{SVG}text"):
        if text.get("stroke"):  # the white halo below letters
            continue
        face = {"600": "sans-bold"}.get(text.get("font-weight", ""), "sans")
        face = "sans-italic" if text.get("font-style") else face
        high, words = float(text.get("font-size", 0)), text.text or ""
        wide = width(words, high, face)  # type: ignore[arg-type]
        x, y = float(text.get("x", 0)), float(text.get("y", 0))
        x -= {"middle": wide / 2, "end": wide}.get(text.get("text-anchor", ""), 0.0)
        there.append((words, (x, y - 0.66 * high, x + wide, y)))
    return there


def overlap(one: Box, other: Box) -> float:
    wide = min(one[2], other[2]) - max(one[0], other[0])
    high = min(one[3], other[3]) - max(one[1], other[1])
    return max(wide, 0) * max(high, 0)


# -- on the page --------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", TREES)
def test_nothing_overlaps_and_nothing_leaves_the_page(name: str) -> None:
    tree, titles = TREES[name]
    for figure in fault_figures(tree, titles, found(tree)):
        assert figure.width <= PAGE_WIDTH + 0.01
        assert figure.height <= PAGE_HEIGHT + 0.01
        wide, high = size(figure)
        solid = boxes(figure) + symbols(figure)
        said = texts(figure)
        for left, top, right, bottom in (*solid, *(box for _, box in said)):
            assert -0.01 <= left <= right <= wide + 0.01
            assert -0.01 <= top <= bottom <= high + 0.01
        assert max((overlap(a, b) for a, b in combinations(solid, 2)), default=0) < 0.01
        assert max((overlap(a, b) for (_, a), (_, b) in combinations(said, 2)), default=0) < 0.01
        for words, box in said:
            for other in boxes(figure):
                inside = other[0] <= box[0] and box[2] <= other[2] and other[1] <= box[1] and box[3] <= other[3]
                assert inside or overlap(box, other) < 0.01, words


@pytest.mark.parametrize("name", TREES)
def test_letters_are_never_shrunk_below_what_can_be_read(name: str) -> None:
    """Source: five points and a half is the smallest size in the other figures of the dossier (house style)."""
    tree, titles = TREES[name]
    for figure in fault_figures(tree, titles, found(tree)):
        scale = figure.width / size(figure)[0]
        assert scale * 5.6 > 5.4


def test_a_wide_count_still_fits_into_its_gate() -> None:
    names = tuple(f"e{place}" for place in range(120))
    tree = Tree("t", {"t": Gate("at least", names, 100)}, dict.fromkeys(names, 0.1))
    for figure in fault_figures(tree, {}, found(tree)):
        (gate,) = [box for box in symbols(figure) if box[2] - box[0] == 18]
        ((_, words),) = [each for each in texts(figure) if each[0] == "100/120"]
        assert gate[0] < words[0] < words[2] < gate[2]


# -- what is drawn ------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", TREES)
def test_every_gate_is_developed_once_and_every_input_is_drawn_once(name: str) -> None:
    tree, _ = TREES[name]
    parts = cut_into_parts(tree, lambda name: 20.0, 520.0)
    developed: Counter[str] = Counter()
    drawn: Counter[tuple[str, str]] = Counter()
    for place, part in enumerate(parts.parts):
        twigs = list(part.root.walk())
        assert len(twigs) <= MOST_NODES
        assert part.root.levels <= MOST_LEVELS
        for twig in twigs:
            if twig.kind == "gate":
                if part.shown is None or part.shown[0] == 1 or twig is not part.root:
                    developed[twig.name] += 1
                    assert parts.home[twig.name] == place
                drawn.update((twig.name, each.name) for each in twig.inputs)
            if twig.kind == "transfer":
                assert twig.name in parts.home
                assert twig.name in parts.marks
    assert set(developed.values()) <= {1}
    assert set(developed) == set(tree.gates)
    assert drawn == Counter((name, each) for name, gate in tree.gates.items() for each in gate.inputs)
    assert sorted(parts.marks.values()) == list(range(1, len(parts.marks) + 1))


def test_a_tree_of_a_page_is_one_figure() -> None:
    assert len(fault_figures(VALVES, TITLES, found(VALVES))) == 1
    tree = wide_tree(12)
    assert len(fault_figures(tree, {}, found(tree))) == 1


@pytest.mark.parametrize(("count", "most"), [(60, 6), (20, 3)])
def test_many_little_branches_are_not_given_a_figure_each(count: int, most: int) -> None:
    tree = wide_tree(count)
    drawn = fault_figures(tree, {}, found(tree))
    assert 1 < len(drawn) <= most
    assert "inputs 1 to" in drawn[0].svg


def test_gates_differ_in_shape_and_word() -> None:
    tree = Tree(
        "t",
        {"t": Gate("all", ("g", "h")), "g": Gate("any", ("a", "b")), "h": Gate("at least", ("a", "b", "c"), 2)},
        dict.fromkeys("abc", 0.1),
    )
    (figure,) = fault_figures(tree, {}, found(tree))
    words = [words for words, _ in texts(figure)]
    assert {"all", "any", "2/3"} <= set(words)
    assert len(re.findall(r"<path d=\"M[^\"]*A7 7", figure.svg)) == 1
    assert len(re.findall(r"<path d=\"M[^\"]*Q", figure.svg)) == 1
    assert sum(rect.get("width") == "18" for rect in parsed(figure).iter(f"{SVG}rect")) == 1


def test_a_shared_event_carries_the_same_number_at_each_place() -> None:
    tree = Tree(
        "t",
        {"t": Gate("all", ("g", "h")), "g": Gate("any", ("a", "s")), "h": Gate("any", ("b", "s"))},
        {"a": 0.1, "b": 0.1, "s": 0.25},
    )
    (figure,) = fault_figures(tree, {"s": "supply fails"}, found(tree))
    said = texts(figure)
    places = [box for words, box in said if words == "supply fails"]
    assert len(places) == 2
    numbers = [box for words, box in said if words == "1"]
    for place in places:
        assert sum(abs(number[1] - place[1]) < 4 and number[0] > place[2] for number in numbers) == 1
    assert [words for words, _ in said].count("0.25") == 2
    assert "supply fails is shared (mark 1) and stands at two places here." in figure.alt


def test_house_events_are_said_to_be_settled() -> None:
    (figure,) = fault_figures(ODD["house events"], {}, found(ODD["house events"]))
    words = [words for words, _ in texts(figure)]
    assert {"certain", "impossible", "taken as settled", "1 - 1e-06"} <= set(words)


def test_a_part_says_where_it_goes_in() -> None:
    tree, titles = TREES["120 nodes, 1"]
    drawn = fault_figures(tree, titles, found(tree))
    assert len(drawn) > 2
    for place, figure in enumerate(drawn):
        assert f"Part {place + 1} of {len(drawn)}" in figure.svg
        assert f", part {place + 1} of {len(drawn)}." in figure.alt
        if place:
            mark, user = map(int, re.findall(r"goes in at mark (\d+) in parts? (\d+)", figure.svg)[0])
            assert f"(mark {mark}, developed in part {place + 1})" in drawn[user - 1].alt


def test_the_top_carries_its_value_or_its_limits() -> None:
    (exact,) = fault_figures(VALVES, TITLES, found(VALVES, 3.01e-5))
    assert "3.01e-05" in [words for words, _ in texts(exact)]
    (bound,) = fault_figures(VALVES, TITLES, found(VALVES, None))
    assert "1.2e-05 to 0.00023" in [words for words, _ in texts(bound)]


def test_what_is_not_known_is_said_and_takes_the_numbers_of_all_gates_above_it() -> None:
    (figure,) = fault_figures(VALVES, TITLES, found(VALVES), unknown=("firmware",))
    words = [words for words, _ in texts(figure)]
    assert words.count("not known") == 1
    assert {"1e-05", "0.01"} <= set(words)
    assert not {"0.5", "0.00301", "0.003"} & set(words)
    assert "no path needs any of: unseen; firmware (probability not known)." in figure.alt


def test_the_alternative_text_tells_the_logic() -> None:
    (figure,) = fault_figures(VALVES, TITLES, found(VALVES, 3.01e-5))
    assert figure.alt == (
        "Fault tree of Pressure rises above the limit. "
        "Pressure rises above the limit (3.01e-05) needs all of: no path; relief stuck (0.01). "
        "no path (0.00301) needs any of: unseen; firmware (0.003). "
        "unseen (1e-05) needs all of: blocked (0.002); sensor (0.005)."
    )
    title = parsed(figure).find(f"{SVG}title")
    assert title is not None
    assert title.text == figure.alt


@pytest.mark.parametrize("name", ["12 nodes, 0", "120 nodes, 2", "sixty pairs"])
def test_the_same_tree_gives_the_same_bytes(name: str) -> None:
    tree, titles = TREES[name]
    again = Tree(tree.top, dict(reversed(tree.gates.items())), dict(reversed(tree.probabilities.items())))
    assert fault_figures(tree, titles, found(tree)) == fault_figures(again, titles, found(again))


def test_markup_and_long_words_in_titles_stay_text() -> None:
    tree = Tree("t", {"t": Gate("all", ("a", "b"))}, {"a": 0.1, "b": 0.1})
    (figure,) = fault_figures(tree, {"t": "<b>&" * 40, "a": "W" * 300, "b": "\u202eabc\x00"}, found(tree))
    assert parsed(figure) is not None
    assert "<b>" not in figure.svg
    assert figure.width <= PAGE_WIDTH + 0.01


def test_figures_are_drawn_in_the_inks_of_the_house() -> None:
    """All of them differ in lightness where they mean something; shapes and words carry the meaning."""
    tree, titles = TREES["40 nodes, 0"]
    svg = "".join(figure.svg for figure in fault_figures(tree, titles, found(tree)))
    inks = {figures.INK, figures.SLATE, figures.GREY, figures.SAND, figures.WHITE}
    assert set(re.findall(r"#[0-9a-f]{6}", svg)) <= inks


# -- importance ---------------------------------------------------------------------------------------


def weighed(weights: dict[str, tuple[float, float]]) -> Analysis:
    tree = Tree("t", {"t": Gate("any", tuple(weights))}, dict.fromkeys(weights, 0.1))
    importance = {
        name: Importance(0.0, 0.0, share, worth, 1 / (1 - share) if share < 1 else math.inf)
        for name, (share, worth) in weights.items()
    }
    return Analysis(tree, 0.5, (0.5, 0.5), "m", None, None, None, (), importance=importance)


def test_bars_are_drawn_to_scale_the_weightiest_first() -> None:
    """Source: the worked tree of two valves; shares 1 and 0.997, worths 100 and 332 on a scale of powers of ten."""
    figure = importance_bars(weighed({"firmware": (0.997, 332.0), "relief": (1.0, 100.0)}), {"relief": "relief stuck"})
    bars = [float(rect.get("width", 0)) for rect in parsed(figure).iter(f"{SVG}rect")]
    relief_share, relief_worth, firmware_share, firmware_worth = bars
    assert firmware_share / relief_share == pytest.approx(0.997, rel=1e-3)
    assert firmware_worth / relief_worth == pytest.approx(math.log10(332) / 2, rel=1e-3)
    assert figure.alt.endswith("of each event: relief stuck 1 and 100; firmware 0.997 and 332.")
    assert figure.width == pytest.approx(PAGE_WIDTH)


def test_many_events_are_counted_and_an_infinite_worth_is_said() -> None:
    weights = {f"e{place}": (0.9 - place / 100, 1.0 + place) for place in range(33)}
    figure = importance_bars(weighed({**weights, "z": (0.95, math.inf)}), {})
    assert "14 further events" in figure.svg
    assert "z 0.95 and infinite" in figure.alt
    assert max((overlap(a, b) for (_, a), (_, b) in combinations(texts(figure), 2)), default=0) < 0.01
    assert all(box[2] <= PAGE_WIDTH for _, box in texts(figure))


def test_the_two_kinds_of_bars_differ_in_grey() -> None:
    figure = importance_bars(weighed({"a": (0.5, 2.0)}), {})
    first, second = (rect.get("fill", "") for rect in parsed(figure).iter(f"{SVG}rect"))
    assert abs(int(first[1:3], 16) - int(second[1:3], 16)) > 60


def test_without_importance_there_are_no_bars() -> None:
    with pytest.raises(FaultError, match="nothing to draw bars of"):
        importance_bars(found(VALVES), {})
