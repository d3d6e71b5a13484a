"""Rules about alarms: too late, too quiet, heard by nobody, never going off."""

from __future__ import annotations

from collections.abc import Iterator

from riskkit.checks import Context, Finding, rule
from riskkit.judgement.story import assumption_words
from riskkit.model.records import Trip
from riskkit.model.verification import Calculation
from riskkit.units import Quantity

USUAL_MARGIN = 15.0
"""How far a signal should stand above the background [dB]. Common practice (subject of ISO 7731), no source read."""


@rule("error")
def alarm_slower_than_harm(context: Context) -> Iterator[Finding]:
    """An alarm whose chain of delays is longer than the time a person has.

    It will sound, someone will come, and it will be too late.

    Bad:

        hazards:
          H01:
            title: Flow stops
            condition: single fault
            harm: {text: carbon dioxide poisoning, severity: 5}
            time_to_harm: {value: 58 s, assumption: A01}
            controls: [C01]   # <-
        controls:
          C01:
            title: low-flow alarm
            kind: protective
            alarm: {detect: 6 s, delay: 4 s, signal: 1 s, notice: 30 s, act: 25 s, listener: attendant}
        assumptions:
          A01: {text: harm begins at 3 % carbon dioxide, owner: emergency physician}

    Good:

        hazards:
          H01:
            title: Flow stops
            condition: single fault
            harm: {text: carbon dioxide poisoning, severity: 5}
            time_to_harm: {value: 58 s, assumption: A01}
            controls: [C01]
        controls:
          C01:
            title: low-flow alarm
            kind: protective
            alarm: {detect: 6 s, delay: 4 s, signal: 1 s, notice: 15 s, act: 25 s, listener: attendant}
        assumptions:
          A01: {text: harm begins at 3 % carbon dioxide, owner: emergency physician}
    """
    for budget in context.alarms:
        if not budget.late or budget.time_to_harm is None:
            continue
        steps = " + ".join(f"{delay.value:g} {name}" for name, delay in budget.steps)
        longest, delay = max(budget.steps, key=lambda step: step[1].value)
        by = assumption_words(budget.assumption, context.register)
        yield Finding(
            budget.hazard,
            ("controls",),
            f"{budget.control} comes too late for {budget.hazard}: {budget.total_seconds:g} s from the fault to the act "
            f"({steps}), {budget.time_to_harm.value:.3g} s until harm{by}",
            f"shorten the longest link, {longest} ({delay.written}), and measure it; or make the time to harm longer",
            ((budget.control, ("alarm", longest), "the longest link"),),
        )


@rule("warning")
def alarm_delay_not_stated(context: Context) -> Iterator[Finding]:
    """An alarm against a hazard with a time to harm that does not state all its delays.

    The delay that nobody stated is usually the longest: noticing, and coming.

    Bad:

        hazards:
          H01:
            title: Flow stops
            condition: single fault
            harm: {text: carbon dioxide poisoning, severity: 5}
            time_to_harm: {value: 58 s, assumption: A01}
            controls: [C01]
        controls:
          C01:
            title: low-flow alarm
            kind: protective
            alarm: {detect: 6 s, delay: 4 s, signal: 1 s, listener: attendant}   # <-
        assumptions:
          A01: {text: harm begins at 3 % carbon dioxide, owner: emergency physician}

    Good:

        hazards:
          H01:
            title: Flow stops
            condition: single fault
            harm: {text: carbon dioxide poisoning, severity: 5}
            time_to_harm: {value: 58 s, assumption: A01}
            controls: [C01]
        controls:
          C01:
            title: low-flow alarm
            kind: protective
            alarm: {detect: 6 s, delay: 4 s, signal: 1 s, notice: 15 s, act: 25 s, listener: attendant}
        assumptions:
          A01: {text: harm begins at 3 % carbon dioxide, owner: emergency physician}
    """
    told = set()
    for budget in context.alarms:
        if budget.missing and budget.time_to_harm is not None and budget.control not in told:
            told.add(budget.control)
            yield Finding(
                budget.control,
                ("alarm",),
                f"{budget.control} does not state {', '.join(budget.missing)}, and {budget.hazard} leaves {budget.time_to_harm.written}",
                f"measure it and add `{budget.missing[0]}:` under `alarm:`",
            )


@rule("error")
def alarm_without_listener(context: Context) -> Iterator[Finding]:
    """An alarm that nobody is named to hear.

    An alarm in an empty room is a noise.

    Bad:

        controls:
          C01:
            title: low-flow alarm
            kind: protective
            alarm: {detect: 6 s}   # <-

    Good:

        controls:
          C01:
            title: low-flow alarm
            kind: protective
            alarm: {detect: 6 s, listener: trained attendant}
    """
    for control in context.register.controls:
        if control.withdrawn is None and control.alarm is not None and control.alarm.listener is None:
            yield Finding(
                control.id,
                ("alarm",),
                f"nobody is named to hear {control.id}",
                "add `listener:` with a role under `alarm:`",
            )


@rule("warning")
def alarm_too_quiet(context: Context) -> Iterator[Finding]:
    """An alarm that does not stand far enough above the sound of the place.

    The usual aim is 15 dB (subject of ISO 7731); the policy may state another.

    Bad:

        controls:
          C01:
            title: sounder
            kind: protective
            alarm:
              listener: attendant
              loudness: 68 dB(A)   # <-
              background: 62 dB(A)

    Good:

        controls:
          C01:
            title: sounder
            kind: protective
            alarm:
              listener: attendant
              loudness: 80 dB(A)
              background: 62 dB(A)
    """
    wanted = context.policy.alarm_margin.value if context.policy.alarm_margin is not None else USUAL_MARGIN
    for control in context.register.controls:
        alarm = control.alarm
        if control.withdrawn is not None or alarm is None or alarm.loudness is None or alarm.background is None:
            continue
        margin = alarm.loudness.value - alarm.background.value
        if margin < wanted:
            yield Finding(
                control.id,
                ("alarm", "loudness"),
                f"{control.id} stands {margin:g} dB above the background at the listener; {wanted:g} dB is asked for",
                "make it louder, bring it nearer, or make the place quieter",
            )


@rule("error")
def alarm_never_trips(context: Context) -> Iterator[Finding]:
    """An alarm credited against a hazard in which its threshold is never crossed.

    A pressure alarm hears nothing when flow fails and pressure stays.

    Bad:

        hazards:
          H01:
            title: Outlet covered
            condition: use error
            harm: {text: carbon dioxide poisoning, severity: 5}
            controls: [C01]   # <-
            calculations: [K01]
        controls:
          C01:
            title: pressure alarm
            kind: protective
            alarm: {listener: attendant, trips: [{quantity: hood pressure, below: 4.0 hPa, above: 16 hPa}]}
        calculations:
          K01: {title: blocked outlet, answers: {hood pressure: 9.2 hPa}}

    Good:

        hazards:
          H01:
            title: Outlet covered
            condition: use error
            harm: {text: carbon dioxide poisoning, severity: 5}
            controls: [C01]
            calculations: [K01]
        controls:
          C01:
            title: pressure alarm
            kind: protective
            alarm: {listener: attendant, trips: [{quantity: hood pressure, above: 8 hPa}]}
        calculations:
          K01: {title: blocked outlet, answers: {hood pressure: 9.2 hPa}}
    """
    for hazard in context.standing_hazards:
        answers = [
            (calculation.id, name, answer)
            for calculation in context.register.all_of(hazard.calculations, Calculation)
            for name, answer in context.worked[calculation.id].answers.items()
        ]
        for control in context.live_controls(hazard):
            if control.alarm is None or not control.alarm.trips:
                continue
            watched = {trip.quantity for trip in control.alarm.trips}
            heard = [(id, name, answer) for id, name, answer in answers if name in watched]
            crossed = any(
                _crossed(trip, answer)
                for _, name, answer in heard
                for trip in control.alarm.trips
                if trip.quantity == name
            )
            if heard and not crossed:
                id, name, answer = heard[0]
                place = hazard.controls.index(control.id)
                yield Finding(
                    hazard.id,
                    ("controls", place),
                    f"{control.id} never goes off in {hazard.id}: {name} is {answer.written} ({id}), and it acts {_words(control.alarm.trips, name)}",
                    "watch another quantity, such as flow; or take this control off the hazard",
                    (
                        (id, ("answers", name), f"{id} works out {answer.written}"),
                        (control.id, ("alarm", "trips"), "where it acts"),
                    ),
                )


def _crossed(trip: Trip, answer: Quantity) -> bool:
    below = trip.below is not None and trip.below.kind == answer.kind and answer.value < trip.below.value
    above = trip.above is not None and trip.above.kind == answer.kind and answer.value > trip.above.value
    return below or above


def _words(trips: tuple[Trip, ...], name: str) -> str:
    words = []
    for trip in trips:
        if trip.quantity == name:
            words += [f"below {trip.below.written}"] if trip.below is not None else []
            words += [f"above {trip.above.written}"] if trip.above is not None else []
    return " or ".join(words)
