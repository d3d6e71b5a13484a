"""Trees with known answers. Where the source says "from memory", nobody had the print at hand."""

from __future__ import annotations

import math
from math import exp

import pytest
from scipy.integrate import quad

from riskkit.faults import Gate, Tree, analyse


def pressure_tank(k1: float = 3e-5) -> Tree:
    """NUREG-0492, Fault Tree Handbook (1981), chapter VIII, from memory: tree, cut sets and probabilities."""
    return Tree(
        "E1",
        {
            "E1": Gate("any", ("T", "E2")),
            "E2": Gate("any", ("K2", "E3")),
            "E3": Gate("all", ("S", "E4")),
            "E4": Gate("any", ("S1", "E5")),
            "E5": Gate("any", ("K1", "R")),
        },
        {"T": 5e-6, "K2": 3e-5, "S": 1e-4, "S1": 3e-5, "K1": k1, "R": 1e-4},
    )


def test_pressure_tank() -> None:
    """Probability by enumeration of 64 states (constructed from the handbook's tree)."""
    answer = analyse(pressure_tank())
    assert answer.exact == pytest.approx(3.501584875004e-5, rel=1e-12)
    assert answer.rare_event == pytest.approx(3.5016e-5, rel=1e-12)
    assert answer.upper_bound == pytest.approx(3.501584943999e-5, rel=1e-12)
    assert answer.bounds == (answer.exact, answer.exact)
    assert {one.events: one.probability for one in answer.cut_sets} == pytest.approx(
        {("T",): 5e-6, ("K2",): 3e-5, ("S", "S1"): 3e-9, ("K1", "S"): 3e-9, ("R", "S"): 1e-8}
    )
    assert [one.events for one in answer.cut_sets[:3]] == [("K2",), ("T",), ("R", "S")]
    assert (answer.cut_set_count, dict(answer.orders)) == (5, {1: 2, 2: 3})
    assert answer.single_points == ("K2", "T")


def test_pressure_tank_is_not_the_rounded_total_in_print_nor_the_other_copy() -> None:
    """The handbook prints a rounded total (3.4e-5, remembered with low confidence); a copy with K1 = 5e-6 circulates."""
    assert analyse(pressure_tank()).exact != pytest.approx(3.4e-5, rel=0.01)
    assert analyse(pressure_tank(k1=5e-6)).exact == pytest.approx(3.501334916e-5, rel=1e-9)


def bridge(q: float) -> Tree:
    cuts = {"c1": ("1", "2"), "c2": ("4", "5"), "c3": ("1", "3", "5"), "c4": ("2", "3", "4")}
    gates = {name: Gate("all", events) for name, events in cuts.items()}
    return Tree("top", gates | {"top": Gate("any", tuple(cuts))}, dict.fromkeys("12345", q))


def test_bridge() -> None:
    """Standard textbook example, from memory: R = 2 r^2 + 2 r^3 - 5 r^4 + 2 r^5."""
    answer = analyse(bridge(0.1))
    assert answer.exact == pytest.approx(0.02152, abs=1e-15)
    assert {one.events for one in answer.cut_sets} == {("1", "2"), ("4", "5"), ("1", "3", "5"), ("2", "3", "4")}
    assert answer.importance["3"].birnbaum == pytest.approx(0.0162, abs=1e-15)
    for other in "1245":
        assert answer.importance[other].birnbaum == pytest.approx(0.1062, abs=1e-15)


def voting(least: int, count: int, q: float) -> Tree:
    names = tuple(f"c{place}" for place in range(count))
    return Tree("top", {"top": Gate("at least", names, least)}, dict.fromkeys(names, q))


@pytest.mark.parametrize(
    ("least", "count", "q", "chance"),
    [
        (2, 3, 0.1, 0.028),  # R(0.9) = 0.972, textbook
        (2, 3, 0.5, 0.5),  # as good as one unit there, exact
        (3, 4, 0.1, 0.0037),  # binomial sums, elementary
        (3, 5, 0.1, 0.00856),
        (4, 7, 0.1, 0.002728),
        (1, 4, 0.1, 0.3439),
        (4, 4, 0.1, 1e-4),
    ],
)
def test_so_many_of_so_many(least: int, count: int, q: float, chance: float) -> None:
    answer = analyse(voting(least, count, q))
    assert answer.exact == pytest.approx(chance, abs=1e-15)
    assert answer.cut_set_count == math.comb(count, least)


def test_a_vote_over_many() -> None:
    """50 of 100, against the binomial tail in whole numbers; cut sets are C(100, 50), far too many to list."""
    answer = analyse(voting(50, 100, 0.25))
    tail = sum(math.comb(100, k) * 3 ** (100 - k) for k in range(50, 101)) / 4**100
    assert answer.exact == pytest.approx(tail, rel=1e-12)
    assert answer.cut_set_count == math.comb(100, 50)
    assert len(answer.cut_sets) == 100
    assert answer.rare_event == pytest.approx(math.comb(100, 50) * 0.25**50, rel=1e-12)
    large = analyse(voting(200, 400, 0.25))  # orders are counted term by term here
    assert dict(large.orders) == {200: math.comb(400, 200)}


def test_an_event_in_two_places_counts_once() -> None:
    """Constructed trap: OR(AND(A, B), AND(A, C)), all 0.1, is 0.019; two independent ANDs would be 0.0199."""
    tree = Tree(
        "top",
        {"top": Gate("any", ("x", "y")), "x": Gate("all", ("A", "B")), "y": Gate("all", ("A", "C"))},
        dict.fromkeys("ABC", 0.1),
    )
    answer = analyse(tree)
    assert answer.exact == pytest.approx(0.019, abs=1e-16)
    assert answer.exact != pytest.approx(0.0199, abs=1e-5)
    assert answer.rare_event == pytest.approx(0.02, abs=1e-16)


def test_an_or_of_three() -> None:
    """Elementary: 0.496 exactly, 0.6 by adding up."""
    answer = analyse(Tree("top", {"top": Gate("any", ("a", "b", "c"))}, {"a": 0.1, "b": 0.2, "c": 0.3}))
    assert answer.exact == pytest.approx(0.496, abs=1e-15)
    assert answer.rare_event == pytest.approx(0.6, abs=1e-15)
    assert answer.upper_bound == pytest.approx(0.496, abs=1e-15)  # sets of one event each: exact


@pytest.mark.parametrize(
    ("needed", "count", "simple", "average"),
    [  # ISA-TR84.00.02 / IEC 61508-6, equations from memory; averages recomputed
        (1, 1, 8.760000e-3, 8.709064891e-3),
        (2, 2, 1.023168e-4, 1.009832810e-4),  # 1oo2: both must fail
        (2, 3, 3.069504e-4, 3.003168069e-4),  # 2oo3
        (1, 2, 1.752000e-2, 1.731714650e-2),  # 2oo2: one is enough
        (3, 3, 1.344443e-6, 1.316518009e-6),  # 1oo3
    ],
)
def test_average_over_a_test_interval(needed: int, count: int, simple: float, average: float) -> None:
    """lambda 2e-6/h, T 8760 h: exact at every time by the vote, averaged over the interval by quadrature."""
    rate, interval = 2e-6, 8760.0
    found, _ = quad(
        lambda time: analyse(voting(needed, count, 1 - exp(-rate * time))).exact, 0, interval, epsrel=1e-11, epsabs=0
    )
    assert found / interval == pytest.approx(average, rel=1e-8)
    assert found / interval < simple  # the simple equations are on the side of more failures


def test_constant_rates() -> None:
    """Constructed: three of 1e-5/h in series over 1000 h; two parallel blocks of one such part."""
    q = -math.expm1(-1e-5 * 1000)
    assert analyse(voting(1, 3, q)).exact == pytest.approx(0.0295544665, abs=1e-10)
    assert analyse(voting(2, 2, q)).exact == pytest.approx(9.900581e-5, rel=1e-6)


def test_three_protections_that_are_not_three() -> None:
    """Constructed for this project by the methods of NUREG-0492 and IEC 61025: a set that holds another falls away."""
    tree = Tree(
        "top",
        {
            "top": Gate("any", ("a", "b", "c")),
            "a": Gate("all", ("blk", "rel", "prs")),
            "b": Gate("all", ("blk", "rel", "fw")),
            "c": Gate("all", ("fw", "rel")),
        },
        {"blk": 2e-3, "rel": 1e-2, "prs": 5e-3, "fw": 3e-3},
    )
    answer = analyse(tree)
    assert [one.events for one in answer.cut_sets] == [("fw", "rel"), ("blk", "prs", "rel")]
    assert answer.exact == pytest.approx(3.0100e-5, rel=2e-5)
    assert answer.exact == pytest.approx(1e-2 * (3e-3 + 1e-5 * 0.997), rel=1e-14)
    assert answer.rare_event == pytest.approx(3.01e-5, rel=1e-14)
    assert answer.importance["fw"].birnbaum == pytest.approx(1.0e-2, rel=1e-3)
    assert answer.importance["rel"].birnbaum == pytest.approx(3.01e-3, rel=1e-4)
    assert answer.importance["rel"].fussell_vesely == 1.0
    assert answer.importance["fw"].fussell_vesely == pytest.approx(0.997, abs=5e-4)
    assert answer.importance["fw"].achievement_worth == pytest.approx(332, abs=0.5)
    assert answer.importance["rel"].achievement_worth == pytest.approx(100, abs=1e-9)
    assert answer.importance["rel"].reduction_worth == math.inf
    assert answer.single_points == ()
