"""Fault trees worked out: what each event's likelihood is and where it comes from, and what the tree then says.

A tree stands in a register or in a file of its own; here it makes no difference but for what its events point at.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from typing import TYPE_CHECKING

from riskkit.judgement.common_causes import causes_of, counted_events, with_common_causes
from riskkit.judgement.dormancy import dormant_unavailability_exact
from riskkit.judgement.support import ControlEvidence
from riskkit.model.fault_trees import FaultEvent, FaultTree, HumanError, TreeSheet
from riskkit.model.fields import Probability, Record, plain_words
from riskkit.model.records import FailureMode, Hazard, Likelihood, Part
from riskkit.model.register import Register

if TYPE_CHECKING:
    from riskkit.faults import Analysis, Beta, Lognormal, TopUncertainty, Tree
    from riskkit.faults.trees import GateKind


@dataclass(frozen=True, slots=True)
class EventNumber:
    """How likely one event is.

    Attributes:
        name: The event.
        probability: Per exposure; None where nobody has said.
        how: How it was come by, in words: "1e-5 1/h over 8 h, 1 - exp(-rate x time)".
        source: Where it comes from; empty where nobody has said.
        event: The event of the sheet that it is, or is a share of; empty for a common cause.
        spread: How it varies, as far as that was said; None where it is taken as exact.
        house: Whether it is set as there or not there.
    """

    name: str
    probability: float | None
    how: str
    source: str = ""
    event: str = ""
    spread: Lognormal | Beta | None = None
    house: bool = False


@dataclass(frozen=True)
class WorkedTree:
    """A tree with its numbers and what follows.

    Attributes:
        sheet: The tree as typed.
        tree: The tree with common causes as events of their own; None where it could not be built.
        events: What is known of each event that the top needs, common causes included.
        unknown: Events without a probability; where there are any, only the cut sets are worth reading.
        analysis: What the tree says; None where it cannot be worked out.
        problem: Why not; empty where it can.
    """

    sheet: TreeSheet
    tree: Tree | None
    events: Mapping[str, EventNumber]
    unknown: tuple[str, ...] = ()
    analysis: Analysis | None = None
    problem: str = ""

    @property
    def hazard(self) -> str | None:
        """The hazard whose tree it is; None for a tree in a file of its own."""
        return self.sheet.hazard if isinstance(self.sheet, FaultTree) else None

    @property
    def titles(self) -> Mapping[str, str]:
        """What gates and events are called, where their names do not say it."""
        titled = {name: gate.title for name, gate in self.sheet.gates.items() if gate.title is not None}
        titled |= {name: event.title for name, event in self.sheet.events.items() if event.title is not None}
        for name, number in self.events.items():
            if number.event != name and number.event in titled:
                titled[name] = f"{titled[number.event]}, alone"
        return titled

    @property
    def unsaid(self) -> tuple[str, ...]:
        """Events without a probability, common causes and what is left beside them included."""
        return tuple(name for name, number in self.events.items() if number.probability is None)

    @cached_property
    def idle(self) -> tuple[str, ...]:
        """Events that stand in no minimal cut set: wherever they could matter, something else has decided already.

        Only where all cut sets can be looked through: a weight of 0 may also be one that is too small for a number.
        """
        if self.analysis is None or self.analysis.exact is None or self.tree is None:
            return ()
        weights, chances = self.analysis.importance, self.tree.probabilities
        light = {
            name
            for name, number in self.events.items()
            if not number.house and name in weights and chances[name] != 0 and weights[name].birnbaum == 0
        }
        written_out = sum(order * count for order, count in self.analysis.orders.items())
        if not light or self.analysis.cut_set_count is None or written_out > _MOST_WRITTEN_OUT:
            return ()
        from riskkit.faults import Tree, analyse

        even = {name: _PLACEHOLDER if 0 < p < 1 or name in light else p for name, p in chances.items()}
        found = analyse(Tree(self.tree.top, self.tree.gates, even), seconds=2.0, listed=_MOST_LOOKED_THROUGH)
        if found.cut_set_count is None or found.cut_set_count > len(found.cut_sets):
            return ()
        named = {name for each in found.cut_sets for name in each.events}
        return tuple(name for name in self.events if name in light and name not in named)

    @cached_property
    def before(self) -> float | None:
        """P(top) with every event of a control taken as there; None where no event is a control, or not exact."""
        from riskkit.faults import Tree, analyse

        if self.tree is None or self.analysis is None or self.unknown:
            return None
        controls = {name for name, event in self.sheet.events.items() if event.control is not None}
        controls |= {f"{name} alone" for name in controls}
        if not controls & self.tree.probabilities.keys():
            return None
        without = {name: 1.0 if name in controls else p for name, p in self.tree.probabilities.items()}
        return analyse(Tree(self.tree.top, self.tree.gates, without), listed=1).exact

    @property
    def exact(self) -> float | None:
        """P(top), exact; None where it is not known."""
        return self.analysis.exact if self.analysis is not None and not self.unknown else None

    @property
    def at_least(self) -> float | None:
        """The least that P(top) can be: itself, or the lower end of its bounds."""
        return self.analysis.bounds[0] if self.analysis is not None and not self.unknown else None

    @property
    def single_points(self) -> tuple[str, ...]:
        """Events that bring the top about alone; house events are no failures."""
        found = self.analysis.single_points if self.analysis is not None else ()
        return tuple(name for name in found if not self.events[name].house)


_PLACEHOLDER = 1e-3
"""Stands where an event has no probability, so that cut sets can be found; no number that follows is shown."""

_MOST_LOOKED_THROUGH = 2000
"""Cut sets that are looked through for events that stand in none."""

_MOST_WRITTEN_OUT = 50_000
"""Events in all cut sets together, up to which they are looked through."""

_MOST_NAMED = 5
"""Events that change nothing and are each told in a sentence of its own."""


def work_out_trees(
    register: Register, evidence: Mapping[str, Mapping[str, ControlEvidence]]
) -> Mapping[str, WorkedTree]:
    """Every fault tree of the register by id.

    Args:
        register: The records.
        evidence: By tree and control, what is known of its failure per demand; none without evidence.
    """
    return {tree.id: work_out_tree(tree, register, evidence.get(tree.id)) for tree in register.of(FaultTree)}


def work_out_tree(
    sheet: TreeSheet,
    register: Register | None = None,
    evidence: Mapping[str, ControlEvidence] | None = None,
    listed: int = 20,
) -> WorkedTree:
    """One tree with its numbers; without a register, nothing that its events point at is looked up.

    Args:
        sheet: The tree as typed.
        register: Where rates of failure modes stand.
        evidence: What is known of how rarely each control fails.
        listed: How many minimal cut sets are listed.
    """
    from riskkit.faults import FaultError, analyse

    numbers = {name: _number(name, event, register, evidence or {}) for name, event in sheet.events.items()}
    counted = counted_events(sheet)
    unknown = tuple(name for name in numbers if name in counted and numbers[name].probability is None)
    tree = None
    try:
        tree, numbers = as_tree(sheet, numbers)
        analysis = analyse(tree, listed=listed)
    except FaultError as error:
        return WorkedTree(sheet, tree, numbers, unknown, problem=f"{error.headline}; {error.help}")
    return WorkedTree(sheet, tree, numbers, unknown, analysis)


def as_tree(sheet: TreeSheet, numbers: Mapping[str, EventNumber]) -> tuple[Tree, dict[str, EventNumber]]:
    """The tree that is worked out, and its events: what the top needs, with common causes as events of their own.

    Raises:
        FaultError: where a common cause cannot be taken apart.
    """
    from riskkit.faults import FaultError, Gate, Tree

    reached = sheet.reached()
    causes = causes_of(sheet)
    for stated in causes.values():
        house = next((name for name in stated.of if numbers[name].house), None)
        if house is not None:
            raise FaultError(f"the house event `{house}` has a common cause", "take it out of `of`: it is no failure")
    counted = counted_events(sheet)
    known = {name: numbers[name] for name in sheet.events if name in counted}
    gates: dict[str, Gate] = {}
    for name, gate in sheet.gates.items():
        if name in reached:
            kind: GateKind = "all" if gate.all_of is not None else "any" if gate.any_of is not None else "at least"
            gates[name] = Gate(kind, gate.inputs, gate.at_least or 0)
    chances = {name: _PLACEHOLDER if each.probability is None else each.probability for name, each in known.items()}
    tree = Tree(sheet.top, gates, chances)
    expanded = with_common_causes(tree, causes) if causes else tree
    found: dict[str, EventNumber] = {}
    for name, chance in expanded.probabilities.items():
        own = name.removesuffix(" alone")
        if name in known:
            found[name] = known[name]
        elif own in known:
            before = known[own]
            told = f"{before.how}, less the common cause"
            found[name] = replace(
                before, name=name, how=told, probability=None if before.probability is None else chance
            )
        else:
            group = causes[max((cause for cause in causes if name.startswith(f"{cause} in common")), key=len)]
            missing = any(known[member].probability is None for member in group.of)
            share = f"beta {group.beta.written}" if group.beta is not None else "alpha factors"
            found[name] = EventNumber(name, None if missing else chance, share, group.source or "")
    return expanded, found


def _number(
    name: str, event: FaultEvent, register: Register | None, evidence: Mapping[str, ControlEvidence]
) -> EventNumber:
    source = event.source or ""
    if event.happens is not None:
        return EventNumber(name, float(event.happens), "set by hand", source, name, house=True)
    if event.heart is not None:
        return _by_heart(name, event, event.heart)
    if event.from_evidence is not None and event.control is not None:
        return _by_evidence(name, event, event.control, evidence.get(event.control))
    spread = _lognormal(event.error_factor)
    if event.probability is not None:
        given = event.probability
        return EventNumber(name, float(given.exact), given.written, source, name, spread)
    rate = event.rate
    mode = failure_mode(event, register)
    if rate is None and mode is not None and mode.rate is not None and mode.rate.kind == "frequency":
        rate = mode.rate
        source = source or mode.source or ""
    if rate is None or (event.mission or event.test_interval or event.repair) is None:
        return EventNumber(name, None, "", source, name)
    if event.mission is not None:
        how = f"{rate.written} over {event.mission.written}"
        return EventNumber(name, -math.expm1(-rate.value * event.mission.value), how, source, name, spread)
    repair = event.repair.value if event.repair is not None else 0.0
    announced = float(event.announced.exact) if event.announced is not None else 0.0
    said = f", back after {event.repair.written}" if event.repair is not None else ""
    if event.test_interval is None:
        down = rate.value * repair
        return EventNumber(name, down / (1 + down), f"{rate.written}, announces itself{said}", source, name, spread)
    p = waiting_unavailability(rate.value, event.test_interval.value, repair, announced)
    how = f"{rate.written}, checked every {event.test_interval.written}{said}, on average"
    how += f", {event.announced.written} announced" if event.announced is not None else ""
    return EventNumber(name, p, how, source, name, spread)


def waiting_unavailability(rate: float, interval: float, repair: float, announced: float) -> float:
    """Share of time for which something that is checked now and then is down.

    Args:
        rate: Failures per second.
        interval: Seconds between checks.
        repair: Mean seconds until it works again once it is found.
        announced: Share of the failures that announce themselves and wait for no check.

    Source: IEC 61508-6:2010 Annex B gives rate x ((1 - announced) (interval / 2 + repair) + announced x repair) for one
    channel, from memory. Here the average over the interval is exact.
    """
    hidden = dormant_unavailability_exact(rate * (1 - announced), interval)
    return min(1.0, hidden + rate * repair)


def _lognormal(error_factor: float | None) -> Lognormal | None:
    if error_factor is None:
        return None
    from riskkit.faults import Lognormal

    return Lognormal(error_factor)


def _by_heart(name: str, event: FaultEvent, human: HumanError) -> EventNumber:
    from riskkit.faults import heart

    conditions = [(each.effect, float(each.share.exact)) for each in human.conditions]
    count = len(conditions)
    how = f"HEART, task {human.task}" + (f", {count} condition{'s' if count > 1 else ''}" if count else "")
    p = heart(human.task, conditions)
    return EventNumber(name, p, how, event.source or "nominal values of HEART", name, _lognormal(event.error_factor))


def _by_evidence(name: str, event: FaultEvent, control: str, found: ControlEvidence | None) -> EventNumber:
    if found is None:
        return EventNumber(name, 1.0, f"nothing is known of how rarely {control} fails", event.source or "", name)
    source = event.source or f"evidence of {control}"
    if event.from_evidence == "bound" or found.runs is None or found.failures is None:
        return EventNumber(name, found.bound, f"bound by the evidence of {control}", source, name)
    from riskkit.faults import Beta

    # Jeffreys prior Beta(0.5, 0.5): after f failures in n runs Beta(f + 0.5, n - f + 0.5).
    a, b = found.failures + 0.5, found.runs - found.failures + 0.5
    how = f"mean after {found.failures} failures in {found.runs} runs of {control}, Jeffreys prior"
    return EventNumber(name, a / (a + b), how, source, name, Beta(a, b))


def failure_mode(event: FaultEvent, register: Register | None) -> FailureMode | None:
    """The failure mode of the part that an event is."""
    part = register.get(event.part, Part) if register is not None and event.part is not None else None
    if part is None or event.mode is None:
        return None
    wanted = plain_words(event.mode)
    return next((each for each in part.fails if plain_words(each.mode) == wanted), None)


def with_likelihoods(register: Register, worked: Mapping[str, WorkedTree]) -> Register:
    """The register with likelihoods that come from trees in their places; itself where none does."""
    changed: dict[str, Record] = {}
    for hazard in register.hazards:
        stated = hazard.likelihood
        before, claimed = stated.before, stated.claimed
        if before is not None and before.tree is not None and before.tree in worked:
            before = _likelihood(before, worked[before.tree].before)
        if claimed is not None and claimed.tree is not None and claimed.tree in worked:
            claimed = _likelihood(claimed, worked[claimed.tree].exact)
        if before is not stated.before or claimed is not stated.claimed:
            likelihood = stated.model_copy(update={"before": before, "claimed": claimed})
            changed[hazard.id] = hazard.model_copy(update={"likelihood": likelihood})
    if not changed:
        return register
    records = {id: changed.get(id, record) for id, record in register.records.items()}
    return Register(records, register.device, register.policy, register.broken)


def _likelihood(stated: Likelihood, p: float | None) -> Likelihood:
    """The likelihood with the number of its tree; as it is where the tree has none."""
    if p is None:
        return stated
    one = Probability(f"{p:.3g}", Fraction(p))
    return stated.model_copy(update={"p": (one, one)} if stated.p2 is None else {"p1": (one, one)})


def before_words(worked: WorkedTree) -> str:
    """The likelihood that the controls stand against, as a sentence; empty where it is not known."""
    if worked.before is None:
        return ""
    from riskkit.faults.saying import say_probability

    return f"With every control in it failed, it has probability {say_probability(worked.before)}."


def idle_words(worked: WorkedTree) -> Iterator[str]:
    """One sentence for each event that changes nothing; one for all where they are many."""
    names = [f"`{worked.titles.get(name, name)}`" for name in worked.idle]
    if len(names) > _MOST_NAMED:
        yield (
            f"{', '.join(names[:_MOST_NAMED])} and {len(names) - _MOST_NAMED} more stand in no cut set: wherever one could "
            "matter, something else has decided already, so that what guards against it counts for nothing here."
        )
        return
    for name in names:
        yield (
            f"{name} stands in no cut set: wherever it could matter, something else has decided "
            "already, so that what guards against it counts for nothing here."
        )


def uncertainty_of(worked: WorkedTree, trials: int = 10_000, seed: int = 1) -> TopUncertainty | None:
    """How far the top spreads with its events; None where no event says how it varies, or nothing is worked out.

    Raises:
        FaultError: where the tree does not fit into the budget.
    """
    from riskkit.faults import top_uncertainty

    spreads = {name: each.spread for name, each in worked.events.items() if each.spread is not None}
    if worked.tree is None or worked.exact is None or not spreads:
        return None
    return top_uncertainty(worked.tree, spreads, trials=trials, seed=seed)


def tree_of(hazard: Hazard, register: Register) -> tuple[FaultTree, ...]:
    """The fault trees of a hazard."""
    return tuple(tree for tree in register.of(FaultTree) if tree.hazard == hazard.id)
