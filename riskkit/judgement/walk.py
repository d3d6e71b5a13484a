"""What one failure does: which hazards it starts, which controls it disables, which controls share an element.

A control depends on what it names under `depends_on` and `people`, on the parts that do a function named
there, on whatever supplies those parts, and on nothing else; a pure design measure that names nothing is
never disabled.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

from riskkit.model.records import EnergySource, Function, Hazard, Part
from riskkit.model.register import Register


@dataclass(frozen=True, slots=True)
class SharedElement:
    """An element on which two or more live controls of one hazard depend.

    `starts` is true where the element's own failure starts the hazard.
    """

    hazard: str
    element: str
    controls: tuple[str, ...]
    starts: bool


@dataclass(frozen=True, slots=True)
class FaultOnHazard:
    """What a failure does to one hazard that it starts: controls it disables, controls that are left."""

    hazard: str
    mode: str | None
    disabled: tuple[str, ...]
    left: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SingleFault:
    """One element fails: hazards that start, and every control anywhere that is disabled."""

    element: str
    starts: tuple[str, ...]
    disables: tuple[str, ...]
    hazards: tuple[FaultOnHazard, ...]


def supplies(register: Register) -> Mapping[str, frozenset[str]]:
    """Part -> everything without which it does nothing, over any number of steps, itself included."""
    direct = {part.id: part.supplied_by for part in register.parts}
    closed: dict[str, frozenset[str]] = {}
    for id in direct:
        reached: set[str] = set()
        waiting = [id]
        while waiting:
            here = waiting.pop()
            if here not in reached:
                reached.add(here)
                waiting.extend(direct.get(here, ()))
        closed[id] = frozenset(reached)
    return closed


def dependencies(register: Register) -> Mapping[str, frozenset[str]]:
    """Live control -> every element (record id or role of a person) without which it does nothing."""
    supplied = supplies(register)
    doing = {function.id: function.parts for function in register.of(Function)}
    found = {}
    for control in register.controls:
        if control.withdrawn is None:
            elements = set(control.people)
            for id in control.depends_on:
                elements.add(id)
                for part in doing.get(id, (id,)):
                    elements |= supplied.get(part, frozenset((part,)))
            found[control.id] = frozenset(elements)
    return found


def shared_elements(register: Register) -> tuple[SharedElement, ...]:
    """All elements shared by live controls of one hazard, hazard by hazard."""
    needs = dependencies(register)
    shared = []
    for hazard in register.hazards:
        users: dict[str, list[str]] = defaultdict(list)
        for control in dict.fromkeys(hazard.controls):
            for element in needs.get(control, ()):
                users[element].append(control)
        started_by = {cause.by for cause in hazard.causes}
        for element in sorted(users):
            if len(users[element]) > 1:
                shared.append(SharedElement(hazard.id, element, tuple(users[element]), element in started_by))
    return tuple(shared)


def single_faults(register: Register) -> tuple[SingleFault, ...]:
    """Every part and energy source whose failure starts a hazard or disables a control."""
    needs = dependencies(register)
    disabled_by: dict[str, list[str]] = defaultdict(list)
    for control, elements in needs.items():
        for element in elements:
            disabled_by[element].append(control)
    started_by: dict[str, dict[str, str | None]] = defaultdict(dict)
    for hazard in register.hazards:
        for cause in hazard.causes:
            started_by[cause.by][hazard.id] = cause.mode
        for source in hazard.loss_of:
            started_by[source].setdefault(hazard.id, "is lost")
    faults = []
    for kind in (Part, EnergySource):
        for record in register.of(kind):
            starts, disables = started_by.get(record.id, {}), disabled_by.get(record.id, [])
            if starts or disables:
                hit = frozenset(disables)
                hazards = tuple(_on_hazard(register, id, mode, hit, needs) for id, mode in starts.items())
                faults.append(SingleFault(record.id, tuple(starts), tuple(disables), hazards))
    return tuple(faults)


def _on_hazard(
    register: Register, hazard_id: str, mode: str | None, hit: frozenset[str], needs: Mapping[str, frozenset[str]]
) -> FaultOnHazard:
    hazard = register.get(hazard_id, Hazard)
    live = tuple(control for control in dict.fromkeys(hazard.controls if hazard else ()) if control in needs)
    disabled = tuple(control for control in live if control in hit)
    left = tuple(control for control in live if control not in hit)
    return FaultOnHazard(hazard_id, mode, disabled, left)
