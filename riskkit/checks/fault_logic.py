"""Rules about fault trees: single points, claims below what the logic gives, trees that time has left behind."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from riskkit.checks import Context, Finding, rule
from riskkit.judgement.fault_drafts import drifts
from riskkit.judgement.fault_trees import WorkedTree
from riskkit.model.fault_trees import FaultTree
from riskkit.model.records import Control, Hazard

_ROUNDING = Fraction(101, 100)
"""A claim written with two digits may lie that much below what was worked out."""


def _worked(context: Context) -> Iterator[tuple[FaultTree, WorkedTree, Hazard]]:
    """Trees with their hazards; trees without one are complained about where references are read."""
    for tree in context.register.of(FaultTree):
        hazard = context.register.get(tree.hazard, Hazard)
        if hazard is not None and not (tree.parked is not None and tree.parked.until >= context.today):
            yield tree, context.trees[tree.id], hazard


@rule("error")
def single_point_of_failure(context: Context) -> Iterator[Finding]:
    """A severe hazard whose fault tree has an event that brings it about alone.

    Whatever else was built: on the day of that one event nothing stands between it and a person.

    Bad:

        fault_trees:
          F01:
            hazard: H01
            top: too much pressure
            gates:
              too much pressure: {any_of: [valve stuck, both cuts fail]}
              both cuts fail: {all_of: [cut one, cut two]}
            events:
              valve stuck: {probability: 1e-3, source: data sheet}   # <-
              cut one: {probability: 1e-2, source: data sheet}
              cut two: {probability: 1e-2, source: data sheet}
        hazards:
          H01: {title: Overpressure, condition: single fault, harm: {text: lung injury, severity: 5}}

    Good:

        fault_trees:
          F01:
            hazard: H01
            top: too much pressure
            gates:
              too much pressure: {all_of: [valve stuck, any cut fails]}
              any cut fails: {any_of: [cut one, cut two]}
            events:
              valve stuck: {probability: 1e-3, source: data sheet}
              cut one: {probability: 1e-2, source: data sheet}
              cut two: {probability: 1e-2, source: data sheet}
        hazards:
          H01: {title: Overpressure, condition: single fault, harm: {text: lung injury, severity: 5}}
    """
    for tree, worked, hazard in _worked(context):
        if context.is_severe(hazard):
            for name in worked.single_points:
                event = worked.events[name].event
                yield Finding(
                    tree.id,
                    ("events", event) if event else ("common_cause",),
                    f"`{worked.titles.get(name, name)}` by itself brings about {hazard.id} ({hazard.title}), severity {hazard.severity}",
                    "put something between that works without it, and into the tree beside it",
                )


@rule("error")
def claim_below_tree(context: Context) -> Iterator[Finding]:
    """A likelihood that is claimed to be lower than what the hazard's own fault tree gives.

    The tree and the claim are both the project's; they cannot both be right.

    Bad:

        fault_trees:
          F01:
            hazard: H01
            top: too much pressure
            gates: {too much pressure: {all_of: [valve stuck, cut fails]}}
            events:
              valve stuck: {probability: 1e-2, source: data sheet}
              cut fails: {probability: 1e-1, source: data sheet}
        hazards:
          H01:
            title: Overpressure
            condition: single fault
            harm: {text: lung injury, severity: 5}
            likelihood:
              claimed: {p: 1e-5, because: guess}   # <-

    Good:

        fault_trees:
          F01:
            hazard: H01
            top: too much pressure
            gates: {too much pressure: {all_of: [valve stuck, cut fails]}}
            events:
              valve stuck: {probability: 1e-2, source: data sheet}
              cut fails: {probability: 1e-1, source: data sheet}
        hazards:
          H01:
            title: Overpressure
            condition: single fault
            harm: {text: lung injury, severity: 5}
            likelihood:
              claimed: {tree: F01, because: worked out}
    """
    for tree, worked, hazard in _worked(context):
        claimed = hazard.likelihood.claimed
        least = worked.at_least
        if claimed is None or claimed.tree is not None or claimed.eliminated or least is None:
            continue
        stated: Fraction | None = None
        if tree.outcome == "hazardous situation":
            stated = claimed.p1[1].exact if claimed.p1 is not None else None
        elif claimed.p is not None:
            stated = claimed.p[1].exact
        elif claimed.p1 is not None and claimed.p2 is not None:
            stated = claimed.p1[1].exact * claimed.p2[1].exact
        where = "of the hazardous situation " if tree.outcome == "hazardous situation" else ""
        if stated is not None and stated * _ROUNDING < least:
            yield Finding(
                hazard.id,
                ("likelihood", "claimed"),
                f"{hazard.id} claims a likelihood {where}of {float(stated):.2g}, and its fault tree {tree.id} gives {least:.2g}",
                f"claim what the tree gives (`tree: {tree.id}`), or change the device or the tree",
                ((tree.id, (), "the tree"),),
            )
        elif claimed.level is not None and tree.outcome == "harm":
            policy = context.policy
            given = policy.likelihood.band(Fraction(least)).level
            ranks = [policy.likelihood_rank(level) for level in claimed.level]
            if -1 not in ranks and min(ranks) > policy.likelihood_rank(given):
                yield Finding(
                    hazard.id,
                    ("likelihood", "claimed"),
                    f"{hazard.id} claims likelihood {claimed.level[ranks.index(min(ranks))]}, and its fault tree {tree.id} "
                    f"gives {least:.2g}, which is {given}",
                    f"claim what the tree gives (`tree: {tree.id}`), or change the device or the tree",
                    ((tree.id, (), "the tree"),),
                )


@rule("warning")
def tree_out_of_step(context: Context) -> Iterator[Finding]:
    """A fault tree that does not match the register any more.

    A control was added, a cause was found, a part lost a failure mode, and the tree still says what it said.

    Bad:

        fault_trees:
          F01:
            hazard: H01
            top: valve stuck   # <-
            events: {valve stuck: {part: P01, probability: 1e-3, source: data sheet}}
        hazards:
          H01:
            title: Overpressure
            condition: single fault
            causes: [P01]
            controls: [C01]
            harm: {text: lung injury, severity: 3}
        controls:
          C01: {title: blow-off, kind: protective}
        parts:
          P01: {title: valve}

    Good:

        fault_trees:
          F01:
            hazard: H01
            top: too much pressure
            gates: {too much pressure: {all_of: [valve stuck, blow-off shut]}}
            events:
              valve stuck: {part: P01, probability: 1e-3, source: data sheet}
              blow-off shut: {control: C01, probability: 1e-3, source: data sheet}
        hazards:
          H01:
            title: Overpressure
            condition: single fault
            causes: [P01]
            controls: [C01]
            harm: {text: lung injury, severity: 3}
        controls:
          C01: {title: blow-off, kind: protective}
        parts:
          P01: {title: valve}
    """
    for tree, _, _ in _worked(context):
        for each in drifts(tree, context.register):
            yield Finding(tree.id, each.path, each.headline, each.help)


@rule("warning")
def tree_multiplies_dependent_branches(context: Context) -> Iterator[Finding]:
    """A fault tree that counts two controls as independent although one element carries both.

    Their probabilities are multiplied, and on the day that element fails both are gone: the product is too low.

    Bad:

        fault_trees:
          F01:
            hazard: H01
            top: gas too hot
            gates: {gas too hot: {all_of: [alarm silent, floor lost]}}   # <-
            events:
              alarm silent: {control: C01, probability: 1e-2, source: data sheet}
              floor lost: {control: C02, probability: 1e-2, source: data sheet}
        hazards:
          H01:
            title: Gas too hot
            condition: normal
            harm: {text: burn, severity: 3}
            controls: [C01, C02]
        controls:
          C01: {title: alarm, kind: protective, depends_on: [P05]}
          C02: {title: speed floor, kind: protective, depends_on: [P05]}
        parts:
          P05: {title: controller}

    Good:

        fault_trees:
          F01:
            hazard: H01
            top: gas too hot
            gates:
              gas too hot: {all_of: [no alarm, no floor]}
              no alarm: {any_of: [alarm silent, controller hangs]}
              no floor: {any_of: [floor lost, controller hangs]}
            events:
              alarm silent: {control: C01, probability: 1e-2, source: data sheet}
              floor lost: {control: C02, probability: 1e-2, source: data sheet}
              controller hangs: {part: P05, probability: 1e-3, source: data sheet}
        hazards:
          H01:
            title: Gas too hot
            condition: normal
            harm: {text: burn, severity: 3}
            controls: [C01, C02]
        controls:
          C01: {title: alarm, kind: protective, depends_on: [P05]}
          C02: {title: speed floor, kind: protective, depends_on: [P05]}
        parts:
          P05: {title: controller}
    """
    for tree, _, hazard in _worked(context):
        reached = tree.reached()
        events = {name: event for name, event in tree.events.items() if name in reached}
        known = {element for event in events.values() for element in event.elements}
        tied = [frozenset(group.of) for group in tree.common_cause]
        for each in context.shared:
            names = [name for name, event in events.items() if event.control in each.controls]
            if each.hazard != hazard.id or each.element in known or len(names) < 2:
                continue
            if any(group.issuperset(names) for group in tied):
                continue
            together = next(
                (gate for gate in tree.gates if gate in reached and len(set(tree.gates[gate].inputs) & set(names)) > 1),
                None,
            )
            path = ("gates", together) if together is not None else ("gates",)
            title = context.register.title_of(each.element)
            element = each.element if title == each.element else f"{each.element} ({title})"
            yield Finding(
                tree.id,
                path,
                f"{tree.id} multiplies {' and '.join(each.controls)} as if they were independent, and both need {element}",
                f"add an event for {each.element} to the gates of both, or a `common_cause`",
            )


@rule("warning")
def event_without_origin(context: Context) -> Iterator[Finding]:
    """An event of a fault tree whose probability nobody says the origin of, or that has none.

    A top probability is as good as its worst input; a number that nobody answers for is an opinion.

    Bad:

        fault_trees:
          F01:
            hazard: H01
            top: too much pressure
            gates: {too much pressure: {all_of: [valve stuck, cut fails]}}
            events:
              valve stuck: {probability: 1e-2}   # <-
              cut fails: {title: the cut does not act}   # <-
        hazards:
          H01: {title: Overpressure, condition: single fault, harm: {text: lung injury, severity: 3}}

    Good:

        fault_trees:
          F01:
            hazard: H01
            top: too much pressure
            gates: {too much pressure: {all_of: [valve stuck, cut fails]}}
            events:
              valve stuck: {probability: 1e-2, source: data sheet of the valve}
              cut fails: {probability: 1e-1, source: 2 of 20 runs}
        hazards:
          H01: {title: Overpressure, condition: single fault, harm: {text: lung injury, severity: 3}}
    """
    for tree, worked, _ in _worked(context):
        for name, number in worked.events.items():
            if number.house or number.source:
                continue
            path = ("events", number.event) if number.event else ("common_cause",)
            event = tree.events.get(number.event)
            if number.probability is None:
                if not number.event:
                    continue  # its members are complained about
                headline = f"`{number.event}` of {tree.id} has no probability, so that {tree.id} gives none"
                help = "add `probability:`, or `rate:` with `mission:` or `test_interval:`, and `source:`"
            elif event is not None and event.from_evidence is not None:
                control = context.register.get(event.control or "", Control)
                if control is None or control.withdrawn is not None:
                    continue  # a control that is not there is complained about elsewhere
                headline = f"`{number.event}` of {tree.id} is taken as certain: {event.control} has no evidence"
                help = f"test the effect of {event.control}; `riskkit plan` says how many runs"
            else:
                headline = f"nobody says where the number of `{number.event or name}` in {tree.id} comes from"
                help = "add `source:`, such as a data sheet, a test or a role that estimated it"
            yield Finding(tree.id, path, headline, help)


@rule("error")
def tree_not_worked_out(context: Context) -> Iterator[Finding]:
    """A fault tree that cannot be worked out as it is written.

    It looks like an answer on the page and gives none.

    Bad:

        fault_trees:
          F01:   # <-
            hazard: H01
            top: both stuck
            gates: {both stuck: {all_of: [one, two]}}
            events:
              one: {probability: 1e-2, source: data sheet}
              two: {happens: true}
            common_cause: {of: [one, two], beta: 5 %, source: estimate of the builder}
        hazards:
          H01: {title: Overpressure, condition: single fault, harm: {text: lung injury, severity: 3}}

    Good:

        fault_trees:
          F01:
            hazard: H01
            top: both stuck
            gates: {both stuck: {all_of: [one, two]}}
            events:
              one: {probability: 1e-2, source: data sheet}
              two: {probability: 1e-2, source: data sheet}
            common_cause: {of: [one, two], beta: 5 %, source: estimate of the builder}
        hazards:
          H01: {title: Overpressure, condition: single fault, harm: {text: lung injury, severity: 3}}
    """
    for tree, worked, _ in _worked(context):
        if worked.problem:
            yield Finding(
                tree.id, (), f"{tree.id} cannot be worked out: {worked.problem}", "change the tree as it says"
            )


@rule("warning")
def control_that_cannot_fail(context: Context) -> Iterator[Finding]:
    """An event of a fault tree that says of a control, a part or a person that it never fails.

    Everything fails. A zero takes its whole branch away, and the top with it.

    Bad:

        fault_trees:
          F01:
            hazard: H01
            top: too much pressure
            gates: {too much pressure: {all_of: [valve stuck, cut fails]}}
            events:
              valve stuck: {part: P01, probability: 1e-2, source: data sheet of the valve}
              cut fails: {control: C01, probability: 0, source: it is digital}   # <-
        hazards:
          H01: {title: Overpressure, condition: normal, harm: {text: lung injury, severity: 3}, causes: P01, controls: C01}
        controls:
          C01: {title: cut, kind: protective}
        parts:
          P01: {title: valve}

    Good:

        fault_trees:
          F01:
            hazard: H01
            top: too much pressure
            gates: {too much pressure: {all_of: [valve stuck, cut fails]}}
            events:
              valve stuck: {part: P01, probability: 1e-2, source: data sheet of the valve}
              cut fails: {control: C01, probability: 1e-3, source: 0 of 20 runs and the estimate of two people}
        hazards:
          H01: {title: Overpressure, condition: normal, harm: {text: lung injury, severity: 3}, causes: P01, controls: C01}
        controls:
          C01: {title: cut, kind: protective}
        parts:
          P01: {title: valve}
    """
    for tree, worked, _ in _worked(context):
        for number in worked.events.values():
            event = tree.events.get(number.event)
            if event is not None and event.elements and number.probability == 0:
                yield Finding(
                    tree.id,
                    ("events", number.event),
                    f"`{number.event}` of {tree.id} says that {event.elements[-1]} never fails",
                    "write how rarely it fails, and where that comes from; or `happens: true` to see what it is worth",
                )
