"""A first fault tree of a hazard, drawn from the graph of the register; and what a later tree no longer matches.

Shared elements appear once: a controller that starts the hazard and carries two of its controls is one event.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from riskkit.judgement.fault_trees import failure_mode
from riskkit.judgement.walk import dependencies
from riskkit.model.fault_trees import FaultTree
from riskkit.model.fields import Block
from riskkit.model.records import Cause, Control, EnergySource, Function, Hazard, Part, UseStep
from riskkit.model.references import Path
from riskkit.model.register import Register

_FIELD_OF: Mapping[type[Block], str] = MappingProxyType(
    {Part: "part", EnergySource: "part", UseStep: "use_step", Function: "function", Control: "control"}
)


@dataclass(frozen=True, slots=True)
class Drift:
    """One way in which a tree does not match the register any more: where, what, and what to do."""

    path: Path
    headline: str
    help: str


def draft(hazard: Hazard, register: Register) -> dict[str, object]:
    """A tree as plain data in the form of `fault_trees`, to be written as YAML and edited.

    The hazard happens where one of its causes is there and every live control fails; a control fails by itself, or
    with any element that it depends on. Events have no numbers yet: those are for people to find.
    """
    needs = dependencies(register)
    events: dict[str, dict[str, str]] = {}
    starts: dict[str, list[str]] = {}
    for cause in hazard.causes:
        starts.setdefault(cause.by, []).append(_started(cause, register, events))
    for id in hazard.loss_of:
        if id not in starts:
            starts[id] = [_lost(id, register, events)]
    causes = [name for names in starts.values() for name in names]
    gates: dict[str, dict[str, object]] = {}
    top: list[str] = []
    if len(causes) > 1:
        gates["a cause is there"] = {"any_of": causes}
        top.append("a cause is there")
    else:
        top += causes
    live = {each.id: each for each in register.all_of(hazard.controls, Control) if each.withdrawn is None}
    for control in live.values():
        ways = [f"{control.id} fails by itself"]
        events[ways[0]] = {"title": f"{control.id} ({control.title}) fails by itself", "control": control.id}
        for element in sorted(needs.get(control.id, ())):
            for name in starts.get(element) or _falls_out(element, register, events):
                if name not in ways:
                    ways.append(name)
        gate = f"{control.id} does not act"
        gates[gate] = {"title": f"{control.id} ({control.title}) does not act", "any_of": ways}
        top.append(gate)
    outcome = f"{hazard.id} happens"
    if len(top) == 1:
        gates[outcome] = {"title": hazard.title, "any_of": top}
    elif top:
        gates[outcome] = {"title": hazard.title, "all_of": top}
    else:
        events[outcome] = {"title": hazard.title}
    ordered = {outcome: gates.pop(outcome), **gates} if outcome in gates else gates
    return {"title": hazard.title, "hazard": hazard.id, "top": outcome, "gates": ordered, "events": events}


def _started(cause: Cause, register: Register, events: dict[str, dict[str, str]]) -> str:
    mode = cause.mode or "fails"
    name = f"{cause.by} {mode}"
    record = register.records.get(cause.by)
    event = {"title": f"{register.title_of(cause.by)} {mode}"}
    field = _FIELD_OF.get(type(record)) if record is not None else None
    if field is not None:
        event[field] = cause.by
    if cause.mode is not None and field == "part":
        event["mode"] = cause.mode
    events[name] = event
    return name


def _lost(id: str, register: Register, events: dict[str, dict[str, str]]) -> str:
    name = f"{id} is lost"
    events[name] = {"title": f"{register.title_of(id)} is lost", "part": id}
    return name


def _falls_out(element: str, register: Register, events: dict[str, dict[str, str]]) -> tuple[str, ...]:
    """The event in which an element takes its controls with it; none for an assumption, which does not fail."""
    record = register.records.get(element)
    if record is None:
        name = f"{element} does not act"
        events.setdefault(name, {"person": element})
        return (name,)
    field = _FIELD_OF.get(type(record))
    if field is None or field == "function":
        return ()
    if isinstance(record, EnergySource):
        return (_lost(element, register, events),)
    words = "is not done" if field == "use_step" else "fails"
    name = f"{element} {words}"
    events.setdefault(name, {"title": f"{register.title_of(element)} {words}", field: element})
    return (name,)


def _own_elements(hazard: Hazard, live: Mapping[str, Control], register: Register) -> Mapping[str, frozenset[str]]:
    """What each control needs that neither another one needs nor the hazard starts with: its failure is the control's."""
    needs = dependencies(register)
    causes = {cause.by for cause in hazard.causes} | set(hazard.loss_of)
    users = Counter(element for id in live for element in needs.get(id, ()))
    return {id: frozenset(each for each in needs.get(id, ()) if users[each] == 1 and each not in causes) for id in live}


def drifts(tree: FaultTree, register: Register) -> Iterator[Drift]:
    """What the tree does not know of the register, and what it knows that is not there any more."""
    hazard = register.get(tree.hazard, Hazard)
    if hazard is None:
        return
    reached = tree.reached()
    events = {name: event for name, event in tree.events.items() if name in reached}
    known = {element for event in events.values() for element in event.elements}
    live = {each.id: each for each in register.all_of(hazard.controls, Control) if each.withdrawn is None}
    own = _own_elements(hazard, live, register)
    for id, control in live.items():
        if id not in known and not own[id] & known:
            yield Drift(
                ("top",),
                f"{tree.id} has no event for {id} ({control.title}), which answers {hazard.id}",
                f"add an event with `control: {id}`, or take {id} off {hazard.id}",
            )
    for id in dict.fromkeys((*(cause.by for cause in hazard.causes), *hazard.loss_of)):
        source = register.get(id, EnergySource)
        if id not in known and not (source is not None and known & set(source.carried_by)):
            yield Drift(
                ("top",),
                f"{tree.id} has no event for {id} ({register.title_of(id)}), which starts {hazard.id}",
                f"add an event that names {id}",
            )
    for name, event in events.items():
        if event.control is not None and event.control not in live and event.control in register.records:
            counted = register.get(event.control, Control)
            gone = counted is not None and counted.withdrawn is not None
            why = "is withdrawn" if gone else f"does not answer {hazard.id}"
            yield Drift(
                ("events", name, "control"),
                f"`{name}` of {tree.id} counts on {event.control}, which {why}",
                "let it happen: `happens: true`; or take the gate out that stands for the whole of it",
            )
        part = register.get(event.part, Part) if event.part is not None else None
        if event.mode is not None and part is not None and failure_mode(event, register) is None:
            modes = ", ".join(f"`{each.mode}`" for each in part.fails) or "none"
            listed_nowhere = not part.fails and any(
                cause.by == part.id and cause.mode == event.mode for cause in hazard.causes
            )
            if not listed_nowhere:
                yield Drift(
                    ("events", name, "mode"),
                    f"{part.id} ({part.title}) does not list the failure `{event.mode}` of `{name}`; it lists {modes}",
                    f"list it under `fails:` of {part.id}, or write a mode that stands there",
                )
    for name in (*tree.gates, *tree.events):
        if name not in reached:
            section = "gates" if name in tree.gates else "events"
            yield Drift(
                (section, name), f"`{name}` of {tree.id} leads nowhere", f"name it in a gate below `{tree.top}`"
            )
