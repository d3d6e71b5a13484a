"""Rules about what has been thought of: hazards without controls, controls without tests, parts never asked about."""

from __future__ import annotations

from collections.abc import Iterator

from riskkit.checks import Context, Finding, rule
from riskkit.judgement.listing import with_and
from riskkit.model.fields import Record
from riskkit.model.records import EnergySource, Function, UseStep


@rule("warning")
def no_device_sheet(context: Context) -> Iterator[Finding]:
    """A register that does not say what the device is, who must not use it and when a test is stopped.

    A stranger who copies the device reads these lines first, and a reviewer asks for them first.

    Bad:

        device:   # <-
          name: bubble bottle
        parts: {}

    Good:

        device:
          name: bubble bottle
          not_for: [people]
          stop_conditions: [anyone feels unwell]
        parts: {}
    """
    device = context.register.device
    if device is None:
        yield Finding(
            "device",
            (),
            "the register has no device sheet",
            "add `device:` with name, summary, not_for and stop_conditions",
        )
        return
    missing = [name for name in ("not_for", "stop_conditions") if not getattr(device, name)]
    if missing:
        yield Finding(
            "device",
            (),
            f"the device sheet says nothing under {with_and(missing)}",
            f"add `{missing[0]}:` "
            + ("and who must not use it" if missing[0] == "not_for" else "and when a test stops at once"),
        )


@rule("warning")
def no_policy(context: Context) -> Iterator[Finding]:
    """A register without a policy of its own.

    Scores then follow a scale that nobody in the project has decided on.

    Bad:

        parts:   # <-
          P01: {title: bottle}

    Good:

        policy: five-by-five
        parts:
          P01: {title: bottle}
    """
    if context.register.policy is None:
        yield Finding(
            "",
            (),
            "the register has no policy; the shipped 5 x 5 is used, which nobody here has decided on",
            "write `policy: five-by-five` to make it yours, or list your own scales and matrix under `policy:`",
        )


@rule("warning")
def register_without_hazard(context: Context) -> Iterator[Finding]:
    """A register in which nothing can go wrong.

    Nobody has looked yet.

    Bad:

        parts:   # <-
          P01: {title: bottle}

    Good:

        parts:
          P01: {title: bottle}
        hazards:
          H01: {title: Water is blown out, condition: normal, harm: {text: wet floor, severity: 1}}
    """
    if not context.register.hazards and not context.register.broken:
        yield Finding(
            "",
            (),
            "the register lists no hazard",
            "ask what happens when it stops, and write that as H01 under `hazards:`",
        )


@rule("error")
def hazard_without_control(context: Context) -> Iterator[Finding]:
    """A hazard that no control answers.

    Such a risk is taken in silence; nobody has decided on it.

    Bad:

        hazards:
          H01:
            title: Air stops
            condition: single fault
            harm: {text: too little oxygen, severity: 5}
            controls: []   # <-

    Good:

        hazards:
          H01:
            title: Air stops
            condition: single fault
            harm: {text: too little oxygen, severity: 5}
            controls: [C01]
        controls:
          C01: {title: room-air flap, kind: protective}
    """
    for hazard in context.standing_hazards:
        if not context.live_controls(hazard):
            yield Finding(
                hazard.id,
                ("controls",),
                f"{hazard.id} has no control",
                "name one under `controls:`, or park the hazard with a reason, an owner and an end",
            )


@rule("warning")
def severe_hazard_with_one_control(context: Context) -> Iterator[Finding]:
    """A severe hazard that hangs on one control which is not a design measure.

    When that control fails, and every protective measure does one day, nothing is left.

    Bad:

        policy: five-by-five
        hazards:
          H01:
            title: Air stops
            condition: single fault
            harm: {text: too little oxygen, severity: 5}
            controls: [C01]   # <-
        controls:
          C01: {title: sounder, kind: protective}

    Good:

        policy: five-by-five
        hazards:
          H01:
            title: Air stops
            condition: single fault
            harm: {text: too little oxygen, severity: 5}
            controls: [C01, C02]
        controls:
          C01: {title: sounder, kind: protective}
          C02: {title: room-air flap, kind: protective}
    """
    for hazard in context.standing_hazards:
        live = context.live_controls(hazard)
        if context.is_severe(hazard) and len(live) == 1 and live[0].kind == "protective":
            yield Finding(
                hazard.id,
                ("controls",),
                f"{hazard.id} has severity {hazard.severity} and hangs on {live[0].id} alone",
                "add a second control that shares nothing with it, or design the hazard out",
            )


@rule("error")
def information_only(context: Context) -> Iterator[Finding]:
    """A severe hazard that only warnings, labels or training answer.

    People read labels on a good day. ISO 14971 puts information last for that reason.

    Bad:

        policy: five-by-five
        hazards:
          H01:
            title: Left unattended
            condition: foreseeable misuse
            harm: {text: too little oxygen, severity: 5}
            controls: [C01]   # <-
        controls:
          C01: {title: two-line warning, kind: information}

    Good:

        policy: five-by-five
        hazards:
          H01:
            title: Left unattended
            condition: foreseeable misuse
            harm: {text: too little oxygen, severity: 5}
            controls: [C01, C02]
        controls:
          C01: {title: two-line warning, kind: information}
          C02: {title: room-air flap, kind: protective}
    """
    for hazard in context.standing_hazards:
        live = context.live_controls(hazard)
        if context.is_severe(hazard) and live and all(control.kind == "information" for control in live):
            yield Finding(
                hazard.id,
                ("controls",),
                f"{hazard.id} has severity {hazard.severity} and only information stands against it ({with_and(control.id for control in live)})",
                "add a control of kind `design` or `protective`",
            )


@rule("warning")
def withdrawn_control_still_named(context: Context) -> Iterator[Finding]:
    """A hazard that still names a control which was withdrawn.

    A reader counts it as a barrier, and it is not there.

    Bad:

        hazards:
          H01:
            title: Air stops
            condition: single fault
            harm: {text: too little oxygen, severity: 3}
            controls:
              - C01
              - C02   # <-
        controls:
          C01: {title: flap, kind: protective}
          C02: {title: sounder, kind: protective, withdrawn: {on: 2026-10-01, because: too quiet}}

    Good:

        hazards:
          H01:
            title: Air stops
            condition: single fault
            harm: {text: too little oxygen, severity: 3}
            controls: [C01]
        controls:
          C01: {title: flap, kind: protective}
          C02: {title: sounder, kind: protective, withdrawn: {on: 2026-10-01, because: too quiet}}
    """
    live = {control.id for control in context.register.controls if control.withdrawn is None}
    known = {control.id for control in context.register.controls}
    for hazard in context.register.hazards:
        for place, id in enumerate(hazard.controls):
            if id in known and id not in live:
                yield Finding(
                    hazard.id,
                    ("controls", place),
                    f"{hazard.id} names {id}, which was withdrawn",
                    f"take {id} out of `controls:` and see what is left",
                )


@rule("warning")
def control_answers_nothing(context: Context) -> Iterator[Finding]:
    """A control that no hazard names.

    Either a hazard was forgotten, or the control protects nobody.

    Bad:

        controls:
          C01: {title: sounder, kind: protective}   # <-

    Good:

        hazards:
          H01:
            title: Air stops
            condition: single fault
            harm: {text: too little oxygen, severity: 3}
            controls: [C01]
        controls:
          C01: {title: sounder, kind: protective}
    """
    for control in context.register.controls:
        if control.withdrawn is None and control.id not in context.named_controls:
            yield Finding(
                control.id,
                (),
                f"{control.id} answers no hazard",
                f"name {control.id} under `controls:` of the hazard that it answers, or withdraw it",
            )


@rule("warning")
def control_without_implementation_test(context: Context) -> Iterator[Finding]:
    """A control that no test shows to be there on a built unit.

    A measure on a drawing protects nobody; the copy that a stranger built may lack it.

    Bad:

        hazards:
          H01: {title: Air stops, condition: normal, harm: {text: faint, severity: 3}, controls: [C01], tests: [T01]}
        controls:
          C01: {title: flap, kind: protective}   # <-
        tests:
          T01: {title: flap resistance, proves: C01, shows: effectiveness}

    Good:

        hazards:
          H01: {title: Air stops, condition: normal, harm: {text: faint, severity: 3}, controls: [C01], tests: [T01]}
        controls:
          C01: {title: flap, kind: protective}
        tests:
          T01: {title: flap resistance, proves: C01, shows: [implementation, effectiveness]}
    """
    yield from _controls_without(context, "implementation", "it is there on a built unit")


@rule("warning")
def control_without_effectiveness_test(context: Context) -> Iterator[Finding]:
    """A control that no test shows to do what is claimed.

    It may be there and still come too late, open too little or not be heard.

    Bad:

        hazards:
          H01: {title: Air stops, condition: normal, harm: {text: faint, severity: 3}, controls: [C01], tests: [T01]}
        controls:
          C01: {title: flap, kind: protective}   # <-
        tests:
          T01: {title: flap fitted, proves: C01, shows: implementation}

    Good:

        hazards:
          H01: {title: Air stops, condition: normal, harm: {text: faint, severity: 3}, controls: [C01], tests: [T01]}
        controls:
          C01: {title: flap, kind: protective}
        tests:
          T01: {title: flap resistance, proves: C01, shows: [implementation, effectiveness]}
    """
    yield from _controls_without(context, "effectiveness", "it does what is claimed")


def _controls_without(context: Context, word: str, meaning: str) -> Iterator[Finding]:
    shown = {control for test in context.register.tests if word in test.shows for control in test.proves}
    for control in context.register.controls:
        if control.withdrawn is None and control.id in context.named_controls and control.id not in shown:
            yield Finding(
                control.id,
                (),
                f"no test of {word} speaks for {control.id}",
                f"add a test with `proves: {control.id}` and `shows: {word}`, showing that {meaning}",
            )


@rule("warning")
def hazard_without_test(context: Context) -> Iterator[Finding]:
    """A hazard whose controls were never tried against that very situation.

    A valve that was tested for one hazard is credited for another, where it may not help at all.

    Bad:

        hazards:
          H01:   # <-
            title: Oxygen runs on into the closed hood
            condition: single fault
            harm: {text: overpressure, severity: 4}
            controls: [C01]
        controls:
          C01: {title: weighted blow-off, kind: design}

    Good:

        hazards:
          H01:
            title: Oxygen runs on into the closed hood
            condition: single fault
            harm: {text: overpressure, severity: 4}
            controls: [C01]
            tests: [T01]
        controls:
          C01: {title: weighted blow-off, kind: design}
        tests:
          T01: {title: blow-off at 5 L/min oxygen, proves: C01, shows: effectiveness}
    """
    brought_by = {hazard: control.id for control in context.register.controls for hazard in control.introduces or ()}
    for hazard in context.standing_hazards:
        if context.live_controls(hazard) and not hazard.tests:
            maker = brought_by.get(hazard.id)
            by = f", though {maker} brought it in" if maker else ""
            yield Finding(
                hazard.id,
                ("tests",),
                f"no test tries {hazard.id}{by}",
                "name under `tests:` a test that tries its controls in this very situation",
                ((maker, ("introduces",), f"{maker} introduces {hazard.id}"),) if maker else (),
            )


@rule("warning")
def test_proves_nothing(context: Context) -> Iterator[Finding]:
    """A test that speaks for no control and tries no hazard.

    Its readings support nothing that is claimed.

    Bad:

        tests:
          T01: {title: static levels, shows: effectiveness}   # <-

    Good:

        hazards:
          H01: {title: Level too high, condition: normal, harm: {text: strain, severity: 3}, tests: [T01]}
        tests:
          T01: {title: static levels, shows: effectiveness}
    """
    tried = {id for hazard in context.register.hazards for id in hazard.tests}
    for test in context.register.tests:
        if not test.proves and test.id not in tried:
            yield Finding(
                test.id,
                (),
                f"{test.id} speaks for no control and tries no hazard",
                f"add `proves:`, or name {test.id} in a hazard",
            )


@rule("error")
def test_without_limit(context: Context) -> Iterator[Finding]:
    """A test that does not say what its reading must keep to.

    "Tested: fine" can be written under any reading.

    Bad:

        tests:
          T01: {title: flap resistance, proves: C01, shows: effectiveness}   # <-
        controls:
          C01: {title: flap, kind: protective}

    Good:

        tests:
          T01: {title: flap resistance, proves: C01, shows: effectiveness, limit: {at_most: 1.5 hPa}}
        controls:
          C01: {title: flap, kind: protective}
    """
    for test in context.register.tests:
        if not test.limit:
            yield Finding(
                test.id,
                ("limit",),
                f"{test.id} has no limit",
                "add `limit: {at_most: 1.5 hPa}`, `at_least`, `between`, or `shows:` with what an inspection must show",
            )


@rule("warning")
def test_without_result(context: Context) -> Iterator[Finding]:
    """A test that has not been done.

    A plan is no evidence.

    Bad:

        tests:
          T01: {title: noise at the ear, limit: {at_most: 65 dB(A)}}   # <-

    Good:

        tests:
          T01: {title: noise at the ear, limit: {at_most: 65 dB(A)}}
        results:
          R01: {test: T01, on: 2026-11-02, readings: {noise: [63 dB(A)]}}
    """
    done = {result.test for result in context.register.results}
    for test in context.register.tests:
        if test.id not in done and test.parked is None:
            yield Finding(
                test.id,
                (),
                f"{test.id} has no result on file",
                f"do it and add a result with `test: {test.id}`, or park it with an end",
            )


@rule("warning")
def part_never_asked(context: Context) -> Iterator[Finding]:
    """A part about which nobody has asked what happens when it fails.

    The part that is forgotten is the one that surprises: tubing, straps, firmware.

    Bad:

        parts:
          P01: {title: strap}   # <-

    Good:

        parts:
          P01: {title: strap, no_hazard_because: it carries nothing on the bench}
    """
    yield from _never_asked(context, context.register.parts, "`causes:` or `parts:`")


@rule("warning")
def function_never_asked(context: Context) -> Iterator[Finding]:
    """A function about which nobody has asked what happens when it is missing, too much or too late.

    Someone relies on every function; otherwise it would not be one.

    Bad:

        functions:
          F01: {title: carry off carbon dioxide}   # <-

    Good:

        functions:
          F01: {title: show the time, no_hazard_because: nobody acts on it}
    """
    yield from _never_asked(context, context.register.of(Function), "`functions:`")


@rule("warning")
def use_step_never_asked(context: Context) -> Iterator[Finding]:
    """A use step about which nobody has asked what a tired person may do wrong.

    Cleaning and storing are steps too, and they are forgotten most.

    Bad:

        use_steps:
          S01: {title: wash the seal}   # <-

    Good:

        use_steps:
          S01: {title: open the box, no_hazard_because: nothing is connected yet}
    """
    yield from _never_asked(context, context.register.of(UseStep), "`use_steps:` or `causes:`")


@rule("warning")
def energy_source_never_asked(context: Context) -> Iterator[Finding]:
    """An energy source about which nobody has asked what it does, and what its absence does.

    Energy hurts when it gets out, and also when it is gone.

    Bad:

        energy_sources:
          E01: {title: battery pack}   # <-

    Good:

        energy_sources:
          E01: {title: indicator cell, no_hazard_because: 3 V and 20 mAh}
    """
    yield from _never_asked(context, context.register.of(EnergySource), "`energy:` or `loss_of:`")


def _never_asked(context: Context, records: tuple[Record, ...], where: str) -> Iterator[Finding]:
    """One finding per record; one for all of them together where the project has not begun to ask."""
    asked = [record for record in records if record.id in context.asked_about]
    open_ones = [
        record
        for record in records
        if record.id not in context.asked_about and getattr(record, "no_hazard_because", None) is None
    ]
    if not asked and len(open_ones) > 1:
        ids = [record.id for record in open_ones]
        yield Finding(
            f"section of {ids[0]}",
            (),
            f"no hazard mentions any of {ids[0]} to {ids[-1]} ({context.register.title_of(ids[0])} and so on)",
            f"take the one that worries you most and name it under {where} of a hazard",
        )
        return
    for record in open_ones:
        yield Finding(
            record.id,
            (),
            f"no hazard mentions {record.id} ({context.register.title_of(record.id)})",
            f"name it under {where} of a hazard, or say `no_hazard_because:`",
        )


@rule("warning")
def no_normal_condition_hazard(context: Context) -> Iterator[Finding]:
    """A register without a hazard in normal use, with nothing broken and nobody wrong.

    Rebreathed gas, noise and a tight seal need no fault.

    Bad:

        hazards:   # <-
          H01: {title: Blower stops, condition: [single fault], harm: {text: faint, severity: 3}}

    Good:

        hazards:
          H01: {title: Noise at the ear, condition: normal, harm: {text: ringing ears, severity: 3}}
    """
    yield from _no_hazard_in(context, "normal", "what can hurt when everything works as intended")


@rule("warning")
def no_single_fault_hazard(context: Context) -> Iterator[Finding]:
    """A register without a hazard that a single fault starts.

    Every part fails one day.

    Bad:

        hazards:   # <-
          H01: {title: Noise at the ear, condition: normal, harm: {text: ringing ears, severity: 3}}

    Good:

        hazards:
          H01: {title: Blower stops, condition: single fault, harm: {text: faint, severity: 3}}
    """
    yield from _no_hazard_in(context, "single fault", "what each part does when it fails")


@rule("warning")
def no_use_error_hazard(context: Context) -> Iterator[Finding]:
    """A register without a hazard that comes from a slip of the person using it.

    People under stress connect the wrong hose and forget the next step.

    Bad:

        hazards:   # <-
          H01: {title: Blower stops, condition: single fault, harm: {text: faint, severity: 3}}

    Good:

        hazards:
          H01: {title: Hose left off, condition: use error, harm: {text: faint, severity: 3}}
    """
    yield from _no_hazard_in(context, "use error", "what a tired person may do wrong at each step")


@rule("warning")
def no_misuse_hazard(context: Context) -> Iterator[Finding]:
    """A register without a hazard from use that was not intended but can be foreseen.

    It will be left unattended, used too long and cleaned with what is at hand.

    Bad:

        hazards:   # <-
          H01: {title: Blower stops, condition: single fault, harm: {text: faint, severity: 3}}

    Good:

        hazards:
          H01: {title: Left unattended, condition: foreseeable misuse, harm: {text: faint, severity: 3}}
    """
    yield from _no_hazard_in(context, "foreseeable misuse", "what people will do with it that you would not")


def _no_hazard_in(context: Context, condition: str, question: str) -> Iterator[Finding]:
    hazards = context.register.hazards
    if hazards and not any(condition in hazard.condition for hazard in hazards):
        yield Finding(
            context.section_of_hazards,
            (),
            f"no hazard has the condition `{condition}`",
            f"ask {question}, and add what you find",
        )


@rule("warning")
def no_loss_of_energy_hazard(context: Context) -> Iterator[Finding]:
    """A register without a hazard from energy that goes away.

    A device that breathes for someone hurts most by stopping.

    Bad:

        hazards:   # <-
          H01: {title: Battery fire, condition: single fault, harm: {text: burn, severity: 4}, energy: [E01]}
        energy_sources:
          E01: {title: battery}

    Good:

        hazards:
          H01: {title: All power gone, condition: single fault, harm: {text: faint, severity: 4}, loss_of: [E01]}
        energy_sources:
          E01: {title: battery}
    """
    hazards = context.register.hazards
    if hazards and not any(hazard.loss_of for hazard in hazards):
        yield Finding(
            context.section_of_hazards,
            (),
            "no hazard comes from the loss of an energy source",
            "ask what happens when it stops, and name the source under `loss_of:` of that hazard",
        )


@rule("warning")
def chain_incomplete(context: Context) -> Iterator[Finding]:
    """A hazard whose chain from source to harm has a link missing.

    "Motor fails" is a cause. The question is what then reaches a person, and how.

    Bad:

        hazards:
          H01:   # <-
            title: Motor fails
            condition: single fault
            source: exhaled carbon dioxide
            situation: person breathes stale gas
            harm: {text: too little oxygen, severity: 3}

    Good:

        hazards:
          H01:
            title: Motor fails
            condition: single fault
            source: exhaled carbon dioxide
            sequence: [motor stops, flow stops]
            situation: person breathes stale gas
            harm: {text: too little oxygen, severity: 3}
    """
    for hazard in context.standing_hazards:
        missing = [name for name in ("source", "sequence", "situation") if not getattr(hazard, name)]
        if missing:
            yield Finding(
                hazard.id,
                (),
                f"the chain of {hazard.id} lacks {with_and(missing)}",
                f"add `{missing[0]}:`; ask: and what then reaches a person?",
            )


@rule("warning")
def likelihood_not_stated(context: Context) -> Iterator[Finding]:
    """A hazard without a likelihood before its controls, or as claimed with them.

    Without both, nobody can see what the controls are supposed to do.

    Bad:

        hazards:
          H01:
            title: Hose off
            condition: use error
            harm: {text: faint, severity: 3}
            likelihood:   # <-
              before: {level: B, because: seen twice in 40 runs}

    Good:

        hazards:
          H01:
            title: Hose off
            condition: use error
            harm: {text: faint, severity: 3}
            likelihood:
              before: {level: B, because: seen twice in 40 runs}
              claimed: {level: C, because: clip holds 40 N}
    """
    for hazard in context.standing_hazards:
        missing = [name for name in ("before", "claimed") if getattr(hazard.likelihood, name) is None]
        if missing:
            yield Finding(
                hazard.id,
                ("likelihood",),
                f"{hazard.id} states no likelihood {with_and(missing)}",
                f"add `{missing[0]}:` under `likelihood:`, with p1 and p2 or a level, and because",
            )


@rule("warning")
def entry_without_owner(context: Context) -> Iterator[Finding]:
    """A hazard that nobody looks after.

    What belongs to everybody is looked after by nobody.

    Bad:

        hazards:
          H01: {title: Hose off, condition: use error, harm: {text: faint, severity: 3}}   # <-

    Good:

        device: {name: bubble bottle, owner: bench group}
        hazards:
          H01: {title: Hose off, condition: use error, harm: {text: faint, severity: 3}}
    """
    device = context.register.device
    if device is not None and device.owner is not None:
        return
    lonely = [hazard.id for hazard in context.register.hazards if hazard.owner is None]
    if device is not None and len(lonely) > 1:
        yield Finding(
            "device", (), f"nobody looks after {with_and(lonely)}", "add `owner:` under `device:`; a role, not a name"
        )
        return
    for id in lonely:
        yield Finding(
            id, (), f"nobody looks after {id}", "add `owner:` here, or once under `device:`; a role, not a name"
        )
