"""Rules about barriers that fall together: "three controls" that are one."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from riskkit.checks import Context, Finding, rule


@rule("warning")
def controls_share_element(context: Context) -> Iterator[Finding]:
    """Two or more controls of one hazard that fall to one part, supply or person.

    On paper they are two barriers; the day that element fails they are none.

    Bad:

        hazards:
          H01:
            title: Gas too hot
            condition: normal
            harm: {text: burn, severity: 3}
            controls: [C01, C02]   # <-
        controls:
          C01: {title: low-pressure alarm, kind: protective, depends_on: [P05]}
          C02: {title: speed floor, kind: protective, depends_on: [P05]}
        parts:
          P05: {title: controller}

    Good:

        hazards:
          H01:
            title: Gas too hot
            condition: normal
            harm: {text: burn, severity: 3}
            controls: [C01, C02]
        controls:
          C01: {title: low-pressure alarm, kind: protective, depends_on: [P05]}
          C02: {title: speed floor, kind: protective, depends_on: [P04]}
        parts:
          P04: {title: motor driver}
          P05: {title: controller}
    """
    started = {fault.element: {on.hazard for on in fault.hazards} for fault in context.faults}
    shared: dict[str, dict[tuple[str, ...], list[str]]] = defaultdict(lambda: defaultdict(list))
    for each in context.shared:
        # Where the same element also starts the hazard, the rule about causes says more.
        if each.hazard not in started.get(each.element, ()):
            shared[each.hazard][each.controls].append(each.element)
    for hazard, groups in shared.items():
        for controls, elements in groups.items():
            names = " and ".join(
                f"{id} ({context.register.title_of(id)})" if id in context.register.records else id for id in elements
            )
            yield Finding(
                hazard,
                ("controls",),
                f"{' and '.join(controls)} of {hazard} fall together with {names}",
                "count them as one barrier, or give one of them a sensor, supply or person of its own",
            )


@rule("warning")
def cause_disables_control(context: Context) -> Iterator[Finding]:
    """A failure that starts a hazard and takes some of its controls with it.

    The controls that matter are those which are left when the cause has happened.

    Bad:

        hazards:
          H01:
            title: Overpressure
            condition: single fault
            causes: [P05]
            harm: {text: lung injury, severity: 4}
            controls: [C01, C02]   # <-
        controls:
          C01: {title: firmware cut, kind: protective, depends_on: [P05]}
          C02: {title: weighted blow-off, kind: protective, depends_on: [P11]}
        parts:
          P05: {title: controller}
          P11: {title: blow-off}

    Good:

        hazards:
          H01:
            title: Overpressure
            condition: single fault
            causes: [P05]
            harm: {text: lung injury, severity: 4}
            controls: [C01, C02]
        controls:
          C01: {title: cut in hardware, kind: protective, depends_on: [P04]}
          C02: {title: weighted blow-off, kind: protective, depends_on: [P11]}
        parts:
          P04: {title: driver}
          P05: {title: controller}
          P11: {title: blow-off}
    """
    for fault in context.faults:
        for on in fault.hazards:
            if on.disabled and on.left:
                total = len(on.disabled) + len(on.left)
                yield Finding(
                    on.hazard,
                    ("controls",),
                    f"{fault.element} ({context.register.title_of(fault.element)}) starts {on.hazard} and disables "
                    f"{' and '.join(on.disabled)}: of {total} controls {len(on.left)} {'is' if len(on.left) == 1 else 'are'} left",
                    f"count only {' and '.join(on.left)} against this cause, or move the disabled ones off {fault.element}",
                )


@rule("error")
def single_fault_leaves_nothing(context: Context) -> Iterator[Finding]:
    """One failure that starts a hazard and disables every control against it.

    One thing goes wrong, and nothing stands between it and a person.

    Bad:

        hazards:
          H01:
            title: Stuck at the upper level
            condition: single fault
            causes: [P05]
            harm: {text: strain, severity: 3}
            controls: [C01]   # <-
        controls:
          C01: {title: timeout in firmware, kind: protective, depends_on: [P05]}
        parts:
          P05: {title: controller}

    Good:

        hazards:
          H01:
            title: Stuck at the upper level
            condition: single fault
            causes: [P05]
            harm: {text: strain, severity: 3}
            controls: [C01]
        controls:
          C01: {title: timeout in hardware, kind: protective, depends_on: [P04]}
        parts:
          P04: {title: driver}
          P05: {title: controller}
    """
    for fault in context.faults:
        for on in fault.hazards:
            if on.disabled and not on.left:
                yield Finding(
                    on.hazard,
                    ("controls",),
                    f"{fault.element} ({context.register.title_of(fault.element)}) starts {on.hazard} and disables all that stands "
                    f"against it ({' and '.join(on.disabled)})",
                    f"add a control that works without {fault.element}",
                )
