"""What is said of a tree: the sentences, their order, and that every number in them comes from the analysis."""

from __future__ import annotations

import itertools
import math
import random
import re

import pytest

from riskkit.checks.refused_words import ADVICE, CLAIMS, GRADES, PERMISSIONS
from riskkit.faults.gatevalues import gate_probabilities
from riskkit.faults.saying import say_limits, say_list, say_probability, say_share, say_whole, say_worth
from riskkit.faults.sharing import by_weight, places, settled
from riskkit.faults.telling import story
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
TITLES = {
    "harm": "pressure rises above the limit",
    "relief": "relief stuck",
    "firmware": "firmware hangs",
    "blocked": "outlet blocked",
    "sensor": "sensor reads low",
}


def happens(tree: Tree, name: str, failed: frozenset[str]) -> bool:
    if name not in tree.gates:
        return name in failed
    gate = tree.gates[name]
    count = sum(happens(tree, each, failed) for each in gate.inputs)
    return count >= {"all": len(gate.inputs), "any": 1, "at least": gate.least}[gate.kind]


def by_truth_table(tree: Tree) -> Analysis:
    """Everything that an analysis holds, from all states of up to a dozen events; by definition, nothing clever."""
    names = tuple(tree.probabilities)
    states = [frozenset(each) for size in range(len(names) + 1) for each in itertools.combinations(names, size)]
    top = {state for state in states if happens(tree, tree.top, state)}

    def chance(states: set[frozenset[str]], **fixed: float) -> float:
        q = {**tree.probabilities, **fixed}
        return math.fsum(math.prod(q[n] if n in state else 1 - q[n] for n in names) for state in states)

    least = [state for state in top if not any(state - {event} in top for event in state)]
    cuts = [CutSet(tuple(sorted(each)), math.prod(tree.probabilities[n] for n in each)) for each in least]
    cuts.sort(key=lambda cut: (-cut.probability, cut.events))
    exact = chance(top)
    weights = {}
    for name in names:
        with_it, without = chance(top, **{name: 1.0}), chance(top, **{name: 0.0})
        others = {state for state in top if any(cut <= state for cut in least if name not in cut)}
        weights[name] = Importance(
            birnbaum=with_it - without,
            criticality=(with_it - without) * tree.probabilities[name] / exact if exact else 0.0,
            fussell_vesely=1 - chance(others) / exact if exact else 0.0,
            achievement_worth=with_it / exact if exact else math.inf,
            reduction_worth=exact / without if without else math.inf,
        )
    orders: dict[int, int] = {}
    for cut in cuts:
        orders[len(cut.events)] = orders.get(len(cut.events), 0) + 1
    return Analysis(
        tree=tree,
        exact=exact,
        bounds=(exact, exact),
        method="all states",
        rare_event=math.fsum(cut.probability for cut in cuts),
        upper_bound=1 - math.prod(1 - cut.probability for cut in cuts),
        cut_set_count=len(cuts),
        cut_sets=tuple(cuts),
        orders=orders,
        single_points=tuple(cut.events[0] for cut in cuts if len(cut.events) == 1),
        importance=weights,
    )


def told(tree: Tree, **titles: str) -> tuple[str, ...]:
    return story(tree, by_truth_table(tree), titles)


def some_tree(seed: int, events: int = 7) -> Tree:
    """A random tree with shared events and gates, and now and then a house event."""
    draw = random.Random(seed)
    chances = {f"e{place}": draw.choice([10 ** draw.uniform(-4, -0.3), 0.5, 0.0, 1.0]) for place in range(events)}
    pool = [*chances]
    gates: dict[str, Gate] = {}
    for place in range(5):
        inputs = tuple(draw.sample(pool, draw.randint(2, 4)))
        kind = draw.choice(["all", "any", "at least"])
        least = draw.randint(1, len(inputs)) if kind == "at least" else 0
        gates[f"g{place}"] = Gate(kind, inputs, least)  # type: ignore[arg-type]
        pool.append(f"g{place}")
    return Tree("g4", gates, chances)


# -- the story ----------------------------------------------------------------------------------------


def test_the_story_of_two_valves_says_what_must_fail_together_first() -> None:
    """Source: worked by hand (constructed); cut sets {firmware, relief} 3e-5 and {blocked, relief, sensor} 1e-7,
    top 0.01 (1 - (1 - 1e-5)(1 - 3e-3)) = 3.00997e-5; without its relief valve 100 times that, with certain firmware
    failure 0.01, which is 332 times."""
    sentences = story(VALVES, by_truth_table(VALVES), TITLES)
    assert sentences[0] == (
        "Two things must fail together; the cheapest pair is `firmware hangs` and `relief stuck` (3e-05)."
    )
    assert sentences[1].startswith(
        "The probability of `pressure rises above the limit` is 3.01e-05, worked out exactly"
    )
    assert "There are 2 minimal cut sets: 1 of two events and 1 of three events." in sentences
    assert "`relief stuck` matters most: it has a part in all of the probability (Fussell-Vesely)." in sentences
    assert (
        "Halving the probability of `relief stuck` would bring 3.01e-05 to 1.5e-05; "
        "taking it out altogether leaves nothing (reduction worth infinite)."
    ) in sentences
    assert (
        "`firmware hangs` must not get worse: were it certain to happen, 3.01e-05 would become 0.01 "
        "(achievement worth 332)."
    ) in sentences


def test_a_single_failure_is_said_alone_with_its_probability() -> None:
    """Source: the pressure tank tree of NUREG-0492, chapter VIII, from memory: {T} 5e-6 and {K2} 3e-5 alone."""
    tank = Tree(
        "E1",
        {
            "E1": Gate("any", ("T", "E2")),
            "E2": Gate("any", ("K2", "E3")),
            "E3": Gate("all", ("S", "E4")),
            "E4": Gate("any", ("S1", "E5")),
            "E5": Gate("any", ("K1", "R")),
        },
        {"T": 5e-6, "K2": 3e-5, "S": 1e-4, "S1": 3e-5, "K1": 3e-5, "R": 1e-4},
    )
    sentences = told(tank)
    assert sentences[0] == "Any one of two failures alone brings it about: `K2` (3e-05) and `T` (5e-06)."
    assert "is 3.5e-05, worked out exactly" in sentences[1]
    assert "There are 5 minimal cut sets: 2 of one event and 3 of two events." in sentences
    assert told(Tree("x", {}, {"x": 0.2}))[0] == "One failure alone brings it about: `x` (0.2)."


def test_a_bound_is_said_in_the_first_sentence_and_rounded_outwards() -> None:
    bound = Analysis(
        VALVES, None, (1.2341e-5, 2.3411e-4), "cut-off at 1e-12", None, None, None, (), notes=("some were cut off",)
    )
    sentences = story(VALVES, bound, TITLES)
    assert sentences[0] == (
        "No exact value stands here: for `pressure rises above the limit` only these limits were found: "
        "1.23e-05 to 0.000235 (cut-off at 1e-12)."
    )
    assert sentences[-1] == "Some were cut off."
    assert not any("worked out exactly" in each for each in sentences)
    assert "What each event weighs was not worked out." in sentences


def test_without_counted_orders_the_smallest_set_is_one_of_those_listed() -> None:
    cuts = (CutSet(("firmware", "relief"), 3e-5), CutSet(("blocked", "relief", "sensor"), 1e-7))
    found = Analysis(VALVES, None, (3e-5, 4e-5), "cut-off", None, None, None, cuts)
    assert story(VALVES, found, {})[1] == (
        "In the smallest of the cut sets listed two things fail together; "
        "the cheapest pair is `firmware` and `relief` (3e-05)."
    )


def test_a_larger_cut_set_that_is_more_probable_is_not_overlooked() -> None:
    """Constructed: 0.1^3 = 1e-3 against (1e-3)^2 = 1e-6."""
    tree = Tree(
        "top",
        {"top": Gate("any", ("three", "two")), "three": Gate("all", ("a", "b", "c")), "two": Gate("all", ("d", "e"))},
        {"a": 0.1, "b": 0.1, "c": 0.1, "d": 1e-3, "e": 1e-3},
    )
    first, second, *_ = told(tree)
    assert first == "Two things must fail together; the cheapest pair is `d` and `e` (1e-06)."
    assert second == "More probable than that is a cut set of three: `a`, `b` and `c` (0.001)."


def test_a_pair_that_is_not_listed_is_not_made_up() -> None:
    found = Analysis(
        VALVES, 0.1, (0.1, 0.1), "m", None, None, 9, (CutSet(("blocked", "relief", "sensor"), 0.05),), {2: 1, 3: 8}
    )
    assert story(VALVES, found, {})[0] == (
        "Two things must fail together; each pair is less probable than the cut sets listed."
    )


def test_equal_pairs_are_not_ranked() -> None:
    tree = Tree("top", {"top": Gate("at least", ("a", "b", "c"), 2)}, dict.fromkeys("abc", 0.1))
    sentences = told(tree)
    assert sentences[0] == "Two things must fail together; one of the cheapest pairs is `a` and `b` (0.01)."
    assert any(each.startswith("`a`, `b` and `c` matter most, all alike") for each in sentences)
    assert any(each.startswith("Halving the probability of one of them") for each in sentences)


def test_halving_and_removing_are_what_a_truth_table_gives() -> None:
    for seed in range(40):
        tree = some_tree(seed)
        found = by_truth_table(tree)
        sentence = next((each for each in story(tree, found, {}) if each.startswith("Halving")), None)
        if sentence is None:
            continue
        name = by_weight(found)[0]
        chances = dict(tree.probabilities)
        chances[name] /= 2
        halved = by_truth_table(Tree(tree.top, tree.gates, chances)).exact
        gone = by_truth_table(Tree(tree.top, tree.gates, {**chances, name: 0.0})).exact
        assert halved is not None
        assert gone is not None
        assert f" to {say_probability(halved)};" in sentence
        assert (f"altogether to {say_probability(gone)} (" if gone else "altogether leaves nothing (") in sentence


def test_what_is_shared_and_what_is_settled_is_said() -> None:
    tree = Tree(
        "top",
        {
            "top": Gate("all", ("one", "two", "on")),
            "one": Gate("any", ("a", "supply")),
            "two": Gate("any", ("b", "supply", "off")),
        },
        {"a": 0.1, "b": 0.1, "supply": 0.01, "on": 1, "off": 0},
    )
    found = by_truth_table(tree)
    sentences = story(tree, found, {"supply": "24 V supply"})
    shared = "Shared, so that the branches with it do not fail independently: `24 V supply` (two places)."
    assert shared in sentences
    assert "Taken as certain (house event), and so not named in any cut set: `on`." in sentences
    assert "Taken as impossible (house event), and so not named in any cut set: `off`." in sentences
    assert not {"on", "off"} & set(by_weight(found))


def test_a_top_that_needs_no_failure_or_cannot_come_about_is_said() -> None:
    tree = Tree("top", {"top": Gate("any", ("on", "a"))}, {"on": 1.0, "a": 0.1})
    certain = Analysis(tree, 1.0, (1.0, 1.0), "m", 1.0, 1.0, 1, (CutSet((), 1.0),), {0: 1})
    assert story(tree, certain, {})[0] == "Nothing has to fail: `top` comes about by what is taken as certain."
    never = Analysis(tree, 0.0, (0.0, 0.0), "m", 0.0, 0.0, 0, ())
    assert story(tree, never, {})[0] == "No cut set is left: with these events nothing brings `top` about."


def test_a_product_below_what_a_computer_holds_is_not_called_zero() -> None:
    chances = {f"e{place}": 1e-9 for place in range(40)}
    tree = Tree("top", {"top": Gate("all", tuple(chances))}, chances)
    found = Analysis(tree, 0.0, (0.0, 0.0), "m", 0.0, 0.0, 1, (CutSet(tuple(chances), 0.0),), {40: 1})
    sentences = story(tree, found, {})
    assert "The probability of `top` is below 1e-300, less than is worked out here." in sentences
    assert sentences[0] == (
        "40 things must fail together; the cheapest set of 40 is `e0`, `e1`, `e2`, `e3`, `e4` and 35 more "
        "(below 1e-300)."
    )


def test_a_count_beyond_any_list_is_still_a_count() -> None:
    found = Analysis(VALVES, 0.1, (0.1, 0.1), "m", 0.2, 0.11, 10**41, (), dict.fromkeys(range(2, 12), 10**40))
    sentence = next(each for each in story(VALVES, found, {}) if "minimal cut sets:" in each)
    assert sentence.startswith("There are 1.00e+41 minimal cut sets: 1.00e+40 of two events,")
    assert sentence.endswith("and 4.00e+40 larger, up to eleven events.")
    assert any("0.2 (100 % too much)" in each for each in story(VALVES, found, {}))


@pytest.mark.parametrize("seed", range(60))
def test_no_story_judges_permits_or_shows_what_is_no_number(seed: int) -> None:
    tree = some_tree(seed)
    sentences = told(tree)
    text = " ".join(sentences)
    for pattern in (*CLAIMS, *PERMISSIONS, *ADVICE, *GRADES):
        assert not re.search(rf"\b(?:{pattern})\b", text, re.IGNORECASE), pattern
    assert not re.search(r"\b(nan|inf|small|low|enough|unlikely|None)\b", text)
    assert all(each[0].isupper() or each[0] == "`" for each in sentences)
    assert all(each.endswith(".") and "  " not in each for each in sentences)


# -- numbers and names --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (0.0, "0"),
        (1.0, "1"),
        (3.0100e-5, "3.01e-05"),
        (0.9996, "1 - 0.0004"),
        (1 - 1e-9, "1 - 1e-09"),
        (0.9994, "0.999"),
    ],
)
def test_what_is_not_quite_certain_is_never_written_as_one(value: float, words: str) -> None:
    assert say_probability(value) == words


@pytest.mark.parametrize(
    ("limits", "words"),
    [((0.0, 2.001e-6), "at most 2.01e-06"), ((0.003, 0.003), "0.003 to 0.003"), ((0.99951, 1.0), "0.999 to 1"),
     ((0.0999951, 0.099996), "0.0999 to 0.1")],
)  # fmt: skip
def test_limits_are_rounded_outwards(limits: tuple[float, float], words: str) -> None:
    assert say_limits(limits) == words


def test_counts_shares_and_lists_in_words() -> None:
    assert [say_whole(count) for count in (3942, 929_039, 2 * 10**41)] == ["3,942", "929,039", "2.00e+41"]
    assert [say_share(share) for share in (0.12345, 0.99999, 1.0)] == ["12.3 %", "more than 99.9 %", "100 %"]
    assert [say_worth(worth) for worth in (332.2, 7012.3, 1.0033, math.inf)] == ["332", "7,010", "1.003", "infinite"]
    assert say_list(["a"]) == "a"
    assert say_list(list("abcdefg")) == "a, b, c, d, e and 2 more"


def test_places_count_every_input_below_the_top_and_nothing_else() -> None:
    tree = Tree(
        "top",
        {"top": Gate("all", ("g", "g", "a")), "g": Gate("any", ("a", "b")), "unused": Gate("any", ("b", "b"))},
        {"a": 0.1, "b": 1.0},
    )
    assert dict(places(tree)) == {"g": 2, "a": 2, "b": 1}
    assert settled(tree, "b")
    assert not settled(tree, "g")


# -- gates --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("least", "count", "expected"), [(2, 3, 0.028), (3, 4, 0.0037), (3, 5, 0.00856), (4, 7, 0.002728)]
)
def test_a_gate_of_k_of_n(least: int, count: int, expected: float) -> None:
    """Source: binomial sums at q = 0.1, elementary."""
    chances = {f"e{place}": 0.1 for place in range(count)}
    found = gate_probabilities(Tree("t", {"t": Gate("at least", tuple(chances), least)}, chances))
    assert found["t"] == pytest.approx(expected, abs=1e-12)


def test_a_repeated_event_is_not_multiplied_as_if_it_were_two() -> None:
    """Constructed: any(all(A, B), all(A, C)), all 0.1: 0.019; taken as independent it would be 0.0199."""
    tree = Tree(
        "t",
        {"t": Gate("any", ("x", "y")), "x": Gate("all", ("A", "B")), "y": Gate("all", ("A", "C"))},
        dict.fromkeys("ABC", 0.1),
    )
    assert gate_probabilities(tree)["t"] == pytest.approx(0.019, abs=1e-15)


def test_the_bridge_of_five() -> None:
    """Source: the standard textbook bridge at q = 0.1, Q = 0.02152, from memory."""
    paths = {"u": "12", "v": "45", "w": "135", "z": "234"}
    gates = {name: Gate("all", tuple(events)) for name, events in paths.items()}
    tree = Tree("t", {"t": Gate("any", tuple(paths)), **gates}, dict.fromkeys("12345", 0.1))
    assert gate_probabilities(tree)["t"] == pytest.approx(0.02152, abs=1e-12)


@pytest.mark.parametrize("seed", range(60))
def test_every_gate_is_what_a_truth_table_gives(seed: int) -> None:
    tree = some_tree(seed)
    for name, value in gate_probabilities(tree).items():
        assert value == pytest.approx(by_truth_table(Tree(name, tree.gates, tree.probabilities)).exact, abs=1e-12)


def test_a_gate_with_too_many_shared_events_is_left_out() -> None:
    chances = {f"e{place}": 0.1 for place in range(30)}
    gates = {"t": Gate("all", ("x", "y")), "x": Gate("any", tuple(chances)), "y": Gate("at least", tuple(chances), 2)}
    assert set(gate_probabilities(Tree("t", gates, chances))) == {"x", "y"}


def test_a_chain_of_three_thousand_gates_is_no_trouble() -> None:
    """Source: all of n events of 0.999 is 0.999^n, elementary."""
    gates = {f"g{place}": Gate("all", (f"e{place}", f"g{place + 1}")) for place in range(2999)}
    gates["g2999"] = Gate("all", ("e2999", "e3000"))
    chances = {f"e{place}": 0.999 for place in range(3001)}
    assert gate_probabilities(Tree("g0", gates, chances))["g0"] == pytest.approx(0.999**3001, rel=1e-12)
