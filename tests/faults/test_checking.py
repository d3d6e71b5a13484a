"""What is refused, with its sentence; constructed."""

from __future__ import annotations

import math

import pytest

from riskkit.faults import FaultError, Gate, Tree, analyse


@pytest.mark.parametrize(
    ("tree", "sentence"),
    [
        (Tree("t", {"t": Gate("any", ("a", "b"))}, {"a": 0.1}), "gate `t` names `b`, which is neither"),
        (Tree("x", {}, {"a": 0.1}), "the top event `x` is neither a gate nor a basic event"),
        (Tree("t", {"t": Gate("any", ())}, {"a": 0.1}), "gate `t` has no inputs"),
        (Tree("t", {"t": Gate("not", ("a",))}, {"a": 0.1}), "unknown kind `not`"),  # type: ignore[arg-type]
        (Tree("a", {"a": Gate("any", ("b",))}, {"a": 0.1, "b": 0.1}), "`a` is both a gate and a basic event"),
        (Tree("t", {"t": Gate("at least", ("a", "b"), 3)}, {"a": 0.1, "b": 0.1}), "asks for at least 3 of its 2"),
        (Tree("t", {"t": Gate("at least", ("a", "b"), 0)}, {"a": 0.1, "b": 0.1}), "asks for at least 0 of its 2"),
        (Tree("t", {"t": Gate("at least", ("a", "b"), True)}, {"a": 0.1, "b": 0.1}), "asks for at least True"),
        (Tree("t", {"t": Gate("at least", ("a", "a"), 2)}, {"a": 0.1}), "gate `t` counts `a` twice"),
        (Tree("a", {}, {"a": 1.5}), "the probability of `a` is 1.5"),
        (Tree("a", {}, {"a": -1e-9}), "the probability of `a` is -1e-09"),
        (Tree("a", {}, {"a": math.nan}), "the probability of `a` is nan"),
        (Tree("a", {}, {"a": "0.1"}), "the probability of `a` is 0.1, and must lie from 0 to 1"),  # type: ignore[dict-item]
        (
            Tree("t", {"t": Gate("any", ("u",)), "u": Gate("all", ("a", "v")), "v": Gate("any", ("t",))}, {"a": 0.1}),
            "gates stand in a circle: t -> u -> v -> t",
        ),
        (Tree("t", {"t": Gate("any", ("t", "a"))}, {"a": 0.1}), "gates stand in a circle: t -> t"),
        (  # away from the top too: it was meant to belong somewhere
            Tree("a", {"u": Gate("any", ("v",)), "v": Gate("any", ("u",))}, {"a": 0.1}),
            "gates stand in a circle: u -> v -> u",
        ),
    ],
)
def test_a_wrong_tree_is_refused(tree: Tree, sentence: str) -> None:
    with pytest.raises(FaultError) as refused:
        analyse(tree)
    assert sentence in refused.value.headline
    assert refused.value.help


def test_a_circle_of_thousands_is_named_in_short() -> None:
    gates = {f"g{i}": Gate("any", (f"g{(i + 1) % 5000}", "a")) for i in range(5000)}
    with pytest.raises(FaultError, match=r"g0 -> g1 .* more \.\.\. .* -> g0$") as refused:
        analyse(Tree("g0", gates, {"a": 0.1}))
    assert len(refused.value.headline) < 200


def test_what_nothing_uses_is_a_note() -> None:
    answer = analyse(Tree("t", {"t": Gate("any", ("a",)), "u": Gate("any", ("b",))}, {"a": 0.1, "b": 0.2}))
    assert answer.notes == (
        "gate `u` does not lead to `t` and was left out",
        "event `b` does not lead to `t` and was left out",
    )
    assert set(answer.importance) == {"a"}


def test_house_events() -> None:
    """What is certain is not named in cut sets, what is impossible is in none; both have an exact importance."""
    gates = {"t": Gate("any", ("x", "y")), "x": Gate("all", ("on", "a")), "y": Gate("all", ("off", "b"))}
    answer = analyse(Tree("t", gates, {"on": 1, "off": 0, "a": 0.1, "b": 0.2}))
    assert answer.exact == 0.1
    assert [one.events for one in answer.cut_sets] == [("a",)]
    assert answer.single_points == ("a",)
    assert answer.importance["off"].birnbaum == pytest.approx(0.9 * 0.2, rel=1e-12)
    assert answer.importance["on"].birnbaum == pytest.approx(0.1, rel=1e-12)
    assert any("`on`: certain" in note for note in answer.notes)


def test_a_top_event_that_is_certain_or_impossible() -> None:
    certain = analyse(Tree("t", {"t": Gate("any", ("on", "a"))}, {"on": 1, "a": 0.1}))
    assert (certain.exact, certain.upper_bound, certain.cut_set_count, certain.single_points) == (1, 1, 1, ())
    assert any("by what is certain alone" in note for note in certain.notes)
    never = analyse(Tree("t", {"t": Gate("all", ("off", "a"))}, {"off": 0, "a": 0.1}))
    assert (never.exact, never.rare_event, never.upper_bound, never.cut_set_count) == (0, 0, 0, 0)
    assert never.cut_sets == ()
    assert never.importance["a"].achievement_worth == 1
    assert never.importance["off"].achievement_worth == math.inf


def test_the_smallest_trees() -> None:
    assert analyse(Tree("a", {}, {"a": 0.25})).exact == 0.25
    one = analyse(Tree("t", {"t": Gate("at least", ("u",), 1), "u": Gate("all", ("a",))}, {"a": 0.25}))
    assert (one.exact, one.single_points, one.importance["a"].birnbaum) == (0.25, ("a",), 1)


def test_what_is_tiny_stays_exact() -> None:
    """No 1 - (1 - p): twenty events of 1e-20 in an OR, and in an AND with one of 1e-200."""
    names = tuple(f"e{i}" for i in range(20))
    tree = Tree(
        "t", {"t": Gate("all", ("o", "r")), "o": Gate("any", names)}, dict.fromkeys(names, 1e-20) | {"r": 1e-200}
    )
    answer = analyse(tree)
    assert answer.exact == pytest.approx(2e-219, rel=1e-12)
    assert answer.upper_bound == pytest.approx(2e-219, rel=1e-12)
