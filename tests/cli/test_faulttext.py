"""A fault tree in the terminal: nothing wider than the page, nothing lost, shared things once."""

from __future__ import annotations

import math
import random
import re

import pytest

from riskkit.cli.faulttext import cut_set_lines, importance_lines, tree_lines
from riskkit.faults.trees import Analysis, CutSet, Gate, Importance, Tree

VALVES = Tree(
    "harm",
    {
        "harm": Gate("all", ("no path", "relief")),
        "no path": Gate("any", ("unseen", "firmware")),
        "unseen": Gate("all", ("blocked", "sensor")),
    },
    {"blocked": 2e-3, "relief": 1e-2, "sensor": 5e-3, "firmware": 3e-3},
)
TITLES = {"harm": "Pressure rises above the limit", "relief": "relief stuck", "sensor": "pressure sensor reads low"}


def found(tree: Tree, exact: float | None = 0.5) -> Analysis:
    bounds = (1.2e-5, 2.3e-4) if exact is None else (exact, exact)
    return Analysis(tree, exact, bounds, "by hand", None, None, None, ())


def weights(tree: Tree) -> dict[str, Importance]:
    return {
        name: Importance(0.1, 0.2, 0.9 - place / 100, 300.0 - place, math.inf if place == 0 else 2.0)
        for place, name in enumerate(tree.probabilities)
    }


def random_tree(seed: int, events: int) -> tuple[Tree, dict[str, str]]:
    draw = random.Random(seed)
    chances = {f"e{place}": 10 ** draw.uniform(-5, -1) for place in range(events)}
    open_ends, gates = list(chances), dict[str, Gate]()
    while len(open_ends) > 1:
        taken = [open_ends.pop(draw.randrange(len(open_ends))) for _ in range(min(len(open_ends), draw.randint(2, 4)))]
        if draw.random() < 0.4:
            taken = list(dict.fromkeys([*taken, draw.choice([*chances, *gates])]))
        kind = draw.choice(["all", "any", "at least"])
        name = f"g{len(gates)}"
        gates[name] = Gate(kind, tuple(taken), 2 if kind == "at least" else 0)  # type: ignore[arg-type]
        open_ends.append(name)
    titles = {name: f"{name} {'word ' * draw.randint(0, 14)}".strip() for name in (*chances, *gates)}
    return Tree(open_ends[0], gates, chances), titles


def test_the_tree_of_two_valves_to_the_letter() -> None:
    """Numbers: 2e-3 x 5e-3 = 1e-5, with 3e-3 beside it 3.00997e-3, both worked by hand (constructed)."""
    assert tree_lines(VALVES, found(VALVES, 3.01e-5), TITLES) == [
        "Pressure rises above the limit: all of              3.01e-05",
        "|- no path: any of                                   0.00301",
        "|  |- unseen: all of                                   1e-05",
        "|  |  |- blocked                                       0.002",
        "|  |  `- pressure sensor reads low                     0.005",
        "|  `- firmware                                         0.003",
        "`- relief stuck                                         0.01",
    ]


def test_shared_things_are_shown_once_and_house_events_are_named() -> None:
    tree = Tree(
        "top",
        {"top": Gate("at least", ("g", "h", "on"), 2), "g": Gate("any", ("a", "off")), "h": Gate("all", ("g", "a"))},
        {"a": 0.1, "on": 1.0, "off": 0.0},
    )
    assert tree_lines(tree, found(tree, 0.1), {}) == [
        "top: 2 of 3                                              0.1",
        "|- g: any of                                             0.1",
        "|  |- a                                                  0.1",
        "|  `- off (taken as impossible)                            0",
        "|- h: all of                                             0.1",
        "|  |- g (see above)",
        "|  `- a (see above)",
        "`- on (taken as certain)                                   1",
    ]


def test_the_top_carries_its_limits_where_no_exact_value_stands() -> None:
    first = tree_lines(VALVES, found(VALVES, None), {})[0]
    assert first == "harm: all of" + "1.2e-05 to 0.00023".rjust(48)


def test_what_is_not_known_takes_the_numbers_of_all_gates_above_it() -> None:
    lines = tree_lines(VALVES, found(VALVES), {}, 40, unknown=("firmware",))
    assert [re.sub(r"(?<=\S)  +", "  ", line) for line in lines] == [
        "harm: all of",
        "|- no path: any of",
        "|  |- unseen: all of  1e-05",
        "|  |  |- blocked  0.002",
        "|  |  `- sensor  0.005",
        "|  `- firmware  not known",
        "`- relief  0.01",
    ]


def test_a_single_event_is_a_tree() -> None:
    tree = Tree("x", {}, {"x": 0.2})
    assert tree_lines(tree, found(tree, 0.2), {"x": "hose off"}, 30) == ["hose off                   0.2"]


@pytest.mark.parametrize("columns", [40, 60, 100])
@pytest.mark.parametrize("events", [1, 4, 12, 40, 120])
def test_no_line_is_wider_than_the_page_and_no_name_is_lost(events: int, columns: int) -> None:
    for seed in range(4):
        tree, titles = random_tree(seed, events)
        lines = tree_lines(tree, found(tree), titles, columns)
        assert max(map(len, lines)) <= columns
        assert all(line.isascii() and line == line.rstrip() for line in lines)
        text = " ".join(lines)
        inputs = [each for gate in tree.gates.values() for each in gate.inputs]
        for name in titles:
            places = inputs.count(name) + (name == tree.top)
            later = len(re.findall(rf"\[\d+\] {name}\b", text))
            assert len(re.findall(rf"(?<!\w){name}(?!\w)", text)) == places + later
        developed = len(re.findall(r"\b(?:all|any|2) of\b", text))
        assert developed == len(tree.gates)


def test_a_chain_deeper_than_the_page_goes_on_below() -> None:
    count = 200
    gates = {f"g{place}": Gate("all", (f"e{place}", f"g{place + 1}")) for place in range(count)}
    gates[f"g{count}"] = Gate("any", ("last", "other"))
    tree = Tree("g0", gates, {**{f"e{place}": 0.5 for place in range(count)}, "last": 0.1, "other": 0.1})
    lines = tree_lines(tree, found(tree), {}, 60)
    assert max(map(len, lines)) <= 60
    promised = [int(mark) for line in lines for mark in re.findall(r"\(see \[(\d+)\] below\)", line)]
    begun = [int(mark) for line in lines for mark in re.findall(r"^\[(\d+)\] ", line)]
    assert promised == begun == list(range(1, len(begun) + 1))
    assert len(begun) > 10
    assert sum(": any of" in line for line in lines) == 1


def test_the_table_of_importance_is_sorted_and_counts_what_it_leaves_out() -> None:
    tree, titles = random_tree(1, 20)
    analysis = Analysis(tree, 0.5, (0.5, 0.5), "m", None, None, None, (), importance=weights(tree))
    lines = importance_lines(analysis, titles, 60, rows=5)
    assert max(map(len, lines)) <= 60
    shares = [float(match[1]) for line in lines if (match := re.match(r" +\S+ +(0\.\d+) +\d", line))]
    assert shares == sorted(shares, reverse=True)
    assert len(shares) == 5
    assert "infinite" in lines[1]
    assert "  and 15 more events" in lines


def test_no_importance_no_table() -> None:
    assert importance_lines(found(VALVES), {}) == []
    assert cut_set_lines(found(VALVES), {}) == []


def test_the_table_of_cut_sets_says_how_many_there_are() -> None:
    """Source: by hand, 3e-5 of 3.01e-5 is 99.7 %."""
    cuts = (CutSet(("firmware", "relief"), 3e-5), CutSet(("blocked", "relief", "sensor"), 1e-7))
    whole = Analysis(VALVES, 3.01e-5, (3.01e-5, 3.01e-5), "m", 3.01e-5, 3.01e-5, 2, cuts)
    assert cut_set_lines(whole, TITLES) == [
        "      P   of sum  cut set",
        "  3e-05   99.7 %  firmware + relief stuck",
        "  1e-07  0.332 %  blocked + relief stuck + pressure sensor",
        "                  reads low",
        "  These are all minimal cut sets.",
    ]
    assert cut_set_lines(whole, TITLES, rows=1)[-1] == "  The most probable of 2 minimal cut sets."
    uncounted = Analysis(VALVES, None, (3e-5, 4e-5), "m", None, None, None, cuts)
    lines = cut_set_lines(uncounted, TITLES)
    assert lines[0].split() == ["P", "cut", "set"]
    assert " ".join(" ".join(lines).split()).endswith("they were not counted.")
