"""Fault trees worked out: what each event's likelihood is and where it comes from, and what the tree then says.

A tree stands in a register or in a file of its own; here it makes no difference but for what its events point at.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from riskkit.model.fault_trees import FaultEvent, FaultTree, TreeSheet
from riskkit.model.fields import Probability, Record
from riskkit.model.records import FailureMode, Hazard, Likelihood, Part
from riskkit.model.register import Register

if TYPE_CHECKING:
    from riskkit.faults import Analysis, Tree
    from riskkit.faults.trees import GateKind


@dataclass(frozen=True, slots=True)
class EventNumber:
    """How likely one event is.

    Attributes:
        name: The event.
        probability: Per exposure; None where nobody has said.
        how: How it was come by, in words: "1e-5 1/h over 8 h, 1 - exp(-rate x time)".
        source: Where it comes from; empty where nobody has said.
        error_factor: 95 % point over median; None where it is taken as exact.
        house: Whether it is set as there or not there.
    """

    name: str
    probability: float | None
    how: str
    source: str = ""
    error_factor: float | None = None
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
        before: P(top) with every event of a control taken as there; None where no event is a control, or not exact.
    """

    sheet: TreeSheet
    tree: Tree | None
    events: Mapping[str, EventNumber]
    unknown: tuple[str, ...] = ()
    analysis: Analysis | None = None
    problem: str = ""
    before: float | None = None

    @property
    def hazard(self) -> str | None:
        """The hazard whose tree it is; None for a tree in a file of its own."""
        return self.sheet.hazard if isinstance(self.sheet, FaultTree) else None

    @property
    def titles(self) -> Mapping[str, str]:
        """What gates and events are called, where their names do not say it."""
        gates = {name: gate.title for name, gate in self.sheet.gates.items() if gate.title is not None}
        return gates | {name: event.title for name, event in self.sheet.events.items() if event.title is not None}

    @property
    def idle(self) -> tuple[str, ...]:
        """Events that stand in no minimal cut set: wherever they could matter, something else has decided already."""
        if self.analysis is None or self.analysis.exact is None:
            return ()
        weights = self.analysis.importance
        return tuple(
            name
            for name, number in self.events.items()
            if not number.house and name in weights and number.probability != 0 and weights[name].birnbaum == 0
        )

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


def work_out_trees(register: Register, bounds: Mapping[str, Mapping[str, float]]) -> Mapping[str, WorkedTree]:
    """Every fault tree of the register by id.

    Args:
        register: The records.
        bounds: By tree and control, upper bound of its failure per demand by its evidence; none without evidence.
    """
    return {tree.id: work_out_tree(tree, register, bounds.get(tree.id)) for tree in register.of(FaultTree)}


def work_out_tree(
    sheet: TreeSheet, register: Register | None = None, bounds: Mapping[str, float] | None = None, listed: int = 20
) -> WorkedTree:
    """One tree with its numbers; without a register, nothing that its events point at is looked up.

    Args:
        sheet: The tree as typed.
        register: Where rates of failure modes stand.
        bounds: What the evidence of each control supports.
        listed: How many minimal cut sets are listed.
    """
    from riskkit.faults import FaultError, analyse

    numbers = {name: _number(name, event, register, bounds or {}) for name, event in sheet.events.items()}
    unknown = tuple(name for name in numbers if name in sheet.reached() and numbers[name].probability is None)
    tree = None
    try:
        tree, numbers = as_tree(sheet, numbers)
        analysis = analyse(tree, listed=listed)
    except FaultError as error:
        return WorkedTree(sheet, tree, numbers, unknown, problem=f"{error.headline}; {error.help}")
    return WorkedTree(sheet, tree, numbers, unknown, analysis, before=_before(sheet, tree, unknown))


def as_tree(sheet: TreeSheet, numbers: Mapping[str, EventNumber]) -> tuple[Tree, dict[str, EventNumber]]:
    """The tree that is worked out, and its events: what the top needs, with common causes as events of their own.

    Raises:
        FaultError: where a common cause cannot be taken apart.
    """
    from riskkit.faults import FaultError, Gate, Tree

    gates: dict[str, Gate] = {}
    reached = sheet.reached()
    known = {name: numbers[name] for name in sheet.events if name in reached}
    stands_for: dict[str, str] = {}
    for group in sheet.common_cause:
        members = [name for name in group.of if name in known]
        if len(members) < 2:
            continue
        share = float(group.beta.exact)
        strikes = group.name or f"common cause of {', '.join(members)}"
        if strikes in sheet.gates or strikes in sheet.events:
            raise FaultError(f"the common cause `{strikes}` is named as a gate or event is", "give it another `name`")
        given = [known[name].probability for name in members]
        if any(known[name].house for name in members):
            raise FaultError(
                f"a house event cannot share the common cause `{strikes}`", "take it out of `of`: it is no failure"
            )
        least = None if None in given else min(each for each in given if each is not None)
        how = f"{group.beta.written} of {least:.3g}" if least is not None else ""
        alike = least is not None and all(each == least for each in given)
        how += "" if alike or least is None else ", the least of them"
        known[strikes] = EventNumber(strikes, None if least is None else share * least, how, group.source or "")
        for name in members:
            number = known[name]
            if number.probability is not None and least is not None:
                rest = number.probability - share * least
                known[name] = EventNumber(
                    name, rest, f"{number.how}, less the common cause", number.source, number.error_factor
                )
            alone = f"{name}, alone or with others"
            gates[alone] = Gate("any", (name, strikes))
            stands_for[name] = alone
    for name, gate in sheet.gates.items():
        if name in reached:
            kind: GateKind = "all" if gate.all_of is not None else "any" if gate.any_of is not None else "at least"
            inputs = tuple(stands_for.get(below, below) for below in gate.inputs)
            gates[name] = Gate(kind, inputs, gate.at_least or 0)
    probabilities = {
        name: _PLACEHOLDER if each.probability is None else each.probability for name, each in known.items()
    }
    return Tree(stands_for.get(sheet.top, sheet.top), gates, probabilities), known


def _before(sheet: TreeSheet, tree: Tree, unknown: tuple[str, ...]) -> float | None:
    """P(top) with every control taken as failed."""
    from riskkit.faults import Tree, analyse

    controls = {name for name, event in sheet.events.items() if event.control is not None}
    if unknown or not controls & tree.probabilities.keys():
        return None
    without = {name: 1.0 if name in controls else p for name, p in tree.probabilities.items()}
    return analyse(Tree(tree.top, tree.gates, without), listed=1).exact


def _number(name: str, event: FaultEvent, register: Register | None, bounds: Mapping[str, float]) -> EventNumber:
    source = event.source or ""
    if event.happens is not None:
        return EventNumber(name, float(event.happens), "set by hand", source, house=True)
    if event.probability is not None:
        given = event.probability
        return EventNumber(name, float(given.exact), given.written, source, event.error_factor)
    if event.from_evidence and event.control is not None:
        bound = bounds.get(event.control)
        if bound is None:
            return EventNumber(name, 1.0, f"nothing is known of how rarely {event.control} fails", source)
        return EventNumber(
            name, bound, f"bound by the evidence of {event.control}", source or f"evidence of {event.control}"
        )
    time = event.mission or event.test_interval
    if time is None:
        return EventNumber(name, None, "", source)
    rate = event.rate
    mode = failure_mode(event, register)
    if rate is None and mode is not None and mode.rate is not None and mode.rate.kind == "frequency":
        rate = mode.rate
        source = source or mode.source or ""
    if rate is None:
        return EventNumber(name, None, "", source)
    expected = rate.value * time.value
    if event.mission is not None:
        how = f"{rate.written} over {time.written}"
        return EventNumber(name, -math.expm1(-expected), how, source, event.error_factor)
    how = f"{rate.written}, checked every {time.written}, on average"
    return EventNumber(name, average_unavailability(expected), how, source, event.error_factor)


def average_unavailability(expected: float) -> float:
    """1 - (1 - exp(-x)) / x with x = rate x test interval: the share of time in which a dormant failure is there.

    IEC 61508-6 and textbooks give x / 2 for small x; this is the exact average for a constant rate.
    """
    if expected < 1e-4:
        # The difference would lose its digits: three terms of the series are exact to 1e-14 here.
        return expected / 2 - expected**2 / 6 + expected**3 / 24
    return 1 + math.expm1(-expected) / expected


def failure_mode(event: FaultEvent, register: Register | None) -> FailureMode | None:
    """The failure mode of the part that an event is."""
    part = register.get(event.part, Part) if register is not None and event.part is not None else None
    if part is None or event.mode is None:
        return None
    wanted = " ".join(event.mode.casefold().split())
    return next((each for each in part.fails if " ".join(each.mode.casefold().split()) == wanted), None)


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
    """One sentence for each event that changes nothing."""
    for name in worked.idle:
        yield (
            f"`{worked.sheet.words(name)}` stands in no cut set: wherever it could matter, something else has decided "
            "already, so that what guards against it counts for nothing here."
        )


def tree_of(hazard: Hazard, register: Register) -> tuple[FaultTree, ...]:
    """The fault trees of a hazard."""
    return tuple(tree for tree in register.of(FaultTree) if tree.hazard == hazard.id)
