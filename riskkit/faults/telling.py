"""What a fault tree says, in plain sentences: what must fail together, what fails alone, what matters most.

The sentences follow from the numbers only. They judge nothing: no number is called small, none is called enough.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from riskkit.faults.saying import (
    UNDERFLOW,
    say_limits,
    say_list,
    say_number,
    say_probability,
    say_product,
    say_share,
    say_whole,
    say_worth,
)
from riskkit.faults.sharing import by_weight, places, reached, settled
from riskkit.faults.trees import Analysis, CutSet, Tree

NAMED = 5
"""How many events of one kind are named; the others are counted."""

ORDER_NAMED = 8
"""A cut set of so many events is named in full."""

ORDERS_NAMED = 6
ALIKE = 1e-9
"""Relative difference below which two probabilities or two shares count as the same."""


def story(tree: Tree, analysis: Analysis, titles: Mapping[str, str]) -> tuple[str, ...]:
    """The story of a tree, most important first.

    Args:
        tree: The tree.
        analysis: What was worked out for it.
        titles: What gates and events are called; a name without a title stands for itself.

    Returns:
        Whole sentences. Where no exact value stands, the first one says so and gives the limits.
    """
    tell = _Teller(tree, analysis, titles)
    return (
        *tell.limits(),
        *tell.together(),
        *tell.value(),
        *tell.counts(),
        *tell.weightiest(),
        *tell.watched(),
        *tell.shared(),
        *tell.houses(),
        *tell.notes(),
    )


class _Teller:
    """One tree with its names; each method yields the sentences of one question, or none."""

    def __init__(self, tree: Tree, analysis: Analysis, titles: Mapping[str, str]) -> None:
        self.tree, self.analysis, self.titles = tree, analysis, titles
        self.top = self.name(tree.top)

    def name(self, name: str) -> str:
        return f"`{self.titles.get(name, name)}`"

    def names(self, names: Sequence[str]) -> str:
        return say_list([self.name(each) for each in names], NAMED)

    # -- how probable ---------------------------------------------------------------------------------

    def limits(self) -> Iterator[str]:
        found = self.analysis
        if found.exact is None:
            yield (
                f"No exact value stands here: for {self.top} only these limits were found: "
                f"{say_limits(found.bounds)} ({found.method})."
            )

    def value(self) -> Iterator[str]:
        found = self.analysis
        if found.exact is None:
            return
        if found.exact == 0 and any(self._chance(cut) == UNDERFLOW for cut in found.cut_sets):
            yield f"The probability of {self.top} is {UNDERFLOW}, less than is worked out here."
            return
        said = f"The probability of {self.top} is {say_probability(found.exact)}, worked out exactly"
        beside = []
        if found.rare_event is not None:
            over = found.rare_event / found.exact - 1 if found.exact > 0 else 0.0
            more = f" ({say_share(over)} too much)" if over >= 0.01 else ""
            beside.append(f"the sum over its cut sets (rare-event) gives {found.rare_event:.3g}{more}")
        if found.upper_bound is not None:
            beside.append(f"the min-cut upper bound {say_probability(found.upper_bound)}")
        yield "; ".join([said, *([" and ".join(beside)] if beside else [])]) + "."

    def _chance(self, cut: CutSet) -> str:
        return say_product(cut.probability, (self.tree.probabilities[event] for event in cut.events))

    # -- what fails together --------------------------------------------------------------------------

    def together(self) -> Iterator[str]:
        found = self.analysis
        if found.cut_set_count == 0 or (found.exact == 0 and not found.cut_sets and not found.orders):
            yield f"No cut set is left: with these events nothing brings {self.top} about."
            return
        order, counted = self._fewest()
        if order == 0:
            yield f"Nothing has to fail: {self.top} comes about by what is taken as certain."
        elif found.single_points:
            yield self._alone()
        elif order is None:
            yield "Minimal cut sets were not listed."
        else:
            listed = [cut for cut in found.cut_sets if len(cut.events) == order]
            lead = f"{say_number(order).capitalize()} thing{'s' if order > 1 else ''} must fail together"
            if not counted:
                lead = f"In the smallest of the cut sets listed {say_number(order)} things fail together"
            yield f"{lead}; {self._cheapest(order, listed)}."
        yield from self._more_probable(order)

    def _fewest(self) -> tuple[int | None, bool]:
        """The number of events in the smallest cut set, and whether all cut sets were counted."""
        orders = [order for order, count in self.analysis.orders.items() if count]
        if orders:
            return min(orders), True
        return min((len(cut.events) for cut in self.analysis.cut_sets), default=None), False

    def _alone(self) -> str:
        chances = self.tree.probabilities
        single = sorted(self.analysis.single_points, key=lambda name: (-chances[name], name))
        said = say_list([f"{self.name(name)} ({say_probability(chances[name])})" for name in single], NAMED)
        if len(single) == 1:
            return f"One failure alone brings it about: {said}."
        return f"Any one of {say_number(len(single))} failures alone brings it about: {said}."

    def _cheapest(self, order: int, listed: Sequence[CutSet]) -> str:
        one, several = (
            ("pair", "pairs") if order == 2 else (f"set of {say_number(order)}", f"sets of {say_number(order)}")
        )
        if not listed:
            return f"each {one} is less probable than the cut sets listed"
        first = max(listed, key=lambda cut: cut.probability)
        alike = sum(math.isclose(cut.probability, first.probability, rel_tol=ALIKE) for cut in listed)
        events = say_list([self.name(event) for event in first.events], order if order <= ORDER_NAMED else NAMED)
        lead = f"the cheapest {one} is" if alike == 1 else f"one of the cheapest {several} is"
        return f"{lead} {events} ({self._chance(first)})"

    def _more_probable(self, order: int | None) -> Iterator[str]:
        """A larger cut set may be more probable than every smaller one; that is easily overlooked."""
        cuts = self.analysis.cut_sets
        if not cuts or order is None:
            return
        first = max(cuts, key=lambda cut: cut.probability)
        small = max((cut.probability for cut in cuts if len(cut.events) == order), default=0.0)
        if len(first.events) > order and first.probability > small * (1 + ALIKE):
            events = say_list([self.name(event) for event in first.events], NAMED)
            yield (
                f"More probable than that is a cut set of {say_number(len(first.events))}: {events} "
                f"({self._chance(first)})."
            )

    def counts(self) -> Iterator[str]:
        found = self.analysis
        if found.cut_set_count is None:
            if found.cut_sets and not any("not counted" in note for note in found.notes):
                yield "The minimal cut sets were not counted."
            return
        if found.cut_set_count == 0 or 0 in found.orders:
            return
        orders = sorted((order, count) for order, count in found.orders.items() if count)
        if found.cut_set_count == 1:
            yield f"There is one minimal cut set{f', of {_events(orders[0][0])}' if orders else ''}."
            return
        said = [f"{say_whole(count)} of {_events(order)}" for order, count in orders[:ORDERS_NAMED]]
        if len(orders) > ORDERS_NAMED:
            rest = sum(count for _, count in orders[ORDERS_NAMED:])
            said.append(f"{say_whole(rest)} larger, up to {_events(orders[-1][0])}")
        behind = f": {say_list(said, len(said))}" if said else ""
        yield f"There are {say_whole(found.cut_set_count)} minimal cut sets{behind}."

    # -- what matters ---------------------------------------------------------------------------------

    def weightiest(self) -> Iterator[str]:
        found, ordered = self.analysis, by_weight(self.analysis)
        if not found.importance:
            yield "What each event weighs was not worked out."
        if not ordered or not found.exact:
            return
        weight = found.importance[ordered[0]]
        if weight.fussell_vesely <= 0:
            return
        alike = [
            name
            for name in ordered
            if math.isclose(found.importance[name].fussell_vesely, weight.fussell_vesely, rel_tol=ALIKE)
            and math.isclose(found.importance[name].criticality, weight.criticality, rel_tol=ALIKE)
        ]
        now = say_probability(found.exact)
        halved = say_probability(found.exact * (1 - weight.criticality / 2))
        gone = "leaves nothing"
        if math.isfinite(weight.reduction_worth):
            gone = f"to {say_probability(found.exact / weight.reduction_worth)}"
        several = len(alike) > 1
        part = "all" if weight.fussell_vesely >= 1 - ALIKE else say_share(weight.fussell_vesely)
        each = "each of them" if several else "it"
        yield (
            f"{self.names(alike)} matter{'' if several else 's'} most{', all alike' if several else ''}: "
            f"{each} has a part in {part} of the probability (Fussell-Vesely)."
        )
        yield (
            f"Halving the probability of {'one of them' if several else self.name(ordered[0])} would bring {now} to "
            f"{halved}; taking it out altogether {gone} (reduction worth {say_worth(weight.reduction_worth)})."
        )

    def watched(self) -> Iterator[str]:
        found = self.analysis
        ordered = by_weight(found)
        if not ordered or not found.exact:
            return
        worst = max(found.importance[name].achievement_worth for name in ordered)
        if not worst > 1 + ALIKE:
            return
        alike = [
            name for name in ordered if math.isclose(found.importance[name].achievement_worth, worst, rel_tol=ALIKE)
        ]
        were = "were one of them" if len(alike) > 1 else "were it"
        yield (
            f"{self.names(alike)} must not get worse: {were} certain to happen, {say_probability(found.exact)} would "
            f"become {say_probability(min(1.0, found.exact * worst))} (achievement worth {say_worth(worst)})."
        )

    # -- what is easily overlooked --------------------------------------------------------------------

    def shared(self) -> Iterator[str]:
        count = places(self.tree)
        shared = sorted((name for name in count if count[name] > 1), key=lambda name: (-count[name], name))
        if shared:
            said = say_list([f"{self.name(name)} ({say_number(count[name])} places)" for name in shared], NAMED)
            yield f"Shared, so that the branches with it do not fail independently: {said}."

    def houses(self) -> Iterator[str]:
        for value, word in ((1, "certain"), (0, "impossible")):
            those = [name for name in self._settled() if self.tree.probabilities[name] == value]
            if those:
                yield f"Taken as {word} (house event), and so not named in any cut set: {self.names(those)}."

    def notes(self) -> Iterator[str]:
        """What the analysis notes, but for what has been said of house events."""
        said = tuple(f"`{name}`: " for name in self._settled())
        for note in self.analysis.notes:
            if not note.startswith(said):
                yield note[:1].upper() + note[1:].rstrip(".") + "."

    def _settled(self) -> tuple[str, ...]:
        return tuple(name for name in reached(self.tree) if settled(self.tree, name))


def _events(count: int) -> str:
    return f"{say_number(count)} event{'' if count == 1 else 's'}"
