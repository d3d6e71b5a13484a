"""Rules about claims: what is said to be better than anything on file allows."""

from __future__ import annotations

from collections.abc import Iterator
from types import MappingProxyType

from riskkit.checks import Context, Finding, rule
from riskkit.judgement.verdicts import replaced_results
from riskkit.model.records import Control, TimeToHarm
from riskkit.model.upkeep import Decision
from riskkit.model.verification import Assumption, Test


@rule("error")
def severity_lowered_without_harm_change(context: Context) -> Iterator[Finding]:
    """A lower severity claimed although no control makes the harm itself smaller.

    A cut-off makes an overpressure rarer, not gentler. Only a control that changes the harm may lower
    its severity.

    Bad:

        policy: five-by-five
        hazards:
          H01:
            title: Overpressure
            condition: single fault
            harm: {text: lung injury, severity: 4}
            likelihood:
              claimed: {level: D, severity: 3, because: firmware cut}   # <-
            controls: [C01]
        controls:
          C01: {title: firmware cut, kind: protective}

    Good:

        policy: five-by-five
        hazards:
          H01:
            title: Overpressure
            condition: single fault
            harm: {text: lung injury, severity: 4}
            likelihood:
              claimed: {level: D, severity: 3, because: the blower cannot give more}
            controls: [C01]
        controls:
          C01: {title: weaker blower, kind: design, changes_harm: true}
    """
    for hazard in context.register.hazards:
        claimed = hazard.likelihood.claimed
        if claimed is None or claimed.severity is None:
            continue
        fell = context.policy.severity_rank(claimed.severity) < context.policy.severity_rank(hazard.severity)
        if fell and not any(control.changes_harm for control in context.live_controls(hazard)):
            yield Finding(
                hazard.id,
                ("likelihood", "claimed", "severity"),
                f"{hazard.id} claims severity {claimed.severity} instead of {hazard.severity}, and none of its controls changes the harm",
                "take `severity:` out here, or name a control with `changes_harm: true`",
            )


@rule("warning")
def claimed_worse_than_before(context: Context) -> Iterator[Finding]:
    """A hazard that is claimed to be more likely with its controls than without them.

    Two numbers were swapped, or a control does harm.

    Bad:

        policy: five-by-five
        hazards:
          H01:
            title: Overpressure
            condition: single fault
            harm: {text: lung injury, severity: 4}
            likelihood:
              before: {level: D, because: rare}
              claimed: {level: B, because: valve}   # <-

    Good:

        policy: five-by-five
        hazards:
          H01:
            title: Overpressure
            condition: single fault
            harm: {text: lung injury, severity: 4}
            likelihood:
              before: {level: B, because: seen twice}
              claimed: {level: D, because: valve}
    """
    for score in context.scores.values():
        if score.before is None or score.claimed is None:
            continue
        ranks = [context.policy.likelihood_rank(each.levels[0]) for each in (score.before, score.claimed)]
        if ranks[1] < ranks[0]:
            yield Finding(
                score.id,
                ("likelihood", "claimed"),
                f"{score.id} is claimed at {score.claimed.levels[0]} with controls and {score.before.levels[0]} without",
                "see which of the two was meant, or say which control makes it worse",
            )


@rule("warning")
def likelihood_without_reason(context: Context) -> Iterator[Finding]:
    """A likelihood without a reason.

    A bare number cannot be argued with, and a reviewer has to.

    Bad:

        hazards:
          H01:
            title: Hose off
            condition: use error
            harm: {text: faint, severity: 3}
            likelihood:
              before: {level: B}   # <-
              claimed: {level: C, because: clip holds 40 N}

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
    for hazard in context.register.hazards:
        for name in ("before", "claimed"):
            stated = getattr(hazard.likelihood, name)
            # A fault tree is a reason: its events say where they come from.
            if stated is not None and stated.because is None and stated.tree is None:
                yield Finding(
                    hazard.id,
                    ("likelihood", name),
                    f"{hazard.id} gives no reason for its likelihood `{name}`",
                    "add `because:`",
                )


@rule("warning")
def information_credited_too_far(context: Context) -> Iterator[Finding]:
    """Labels and training credited with more than one band of likelihood.

    Nobody has shown that a label makes anything a hundred times rarer.

    Bad:

        policy: five-by-five
        hazards:
          H01:
            title: Straps too tight
            condition: use error
            harm: {text: pressure mark, severity: 2}
            likelihood:
              before: {level: A, because: every second try}
              claimed: {level: D, because: label}   # <-
            controls: [C01]
        controls:
          C01: {title: two-finger label, kind: information}

    Good:

        policy: five-by-five
        hazards:
          H01:
            title: Straps too tight
            condition: use error
            harm: {text: pressure mark, severity: 2}
            likelihood:
              before: {level: A, because: every second try}
              claimed: {level: B, because: label}
            controls: [C01]
        controls:
          C01: {title: two-finger label, kind: information}
    """
    for hazard in context.standing_hazards:
        live, score = context.live_controls(hazard), context.scores[hazard.id]
        if not live or any(control.kind != "information" for control in live):
            continue
        if score.before is None or score.claimed is None:
            continue
        ranks = [context.policy.likelihood_rank(each.levels[0]) for each in (score.before, score.claimed)]
        if ranks[1] - ranks[0] > 1:
            yield Finding(
                hazard.id,
                ("likelihood", "claimed"),
                f"{hazard.id} is claimed {ranks[1] - ranks[0]} bands lower on information alone",
                "claim one band at most, or add a control that does not depend on reading",
            )


@rule("warning")
def introduces_unanswered(context: Context) -> Iterator[Finding]:
    """A protective measure about which nobody has asked what new hazard it brings.

    A check valve that keeps oxygen from the motor also closes the way out.

    Bad:

        controls:
          C01: {title: check valve, kind: protective}   # <-

    Good:

        controls:
          C01: {title: check valve, kind: protective, introduces: []}
    """
    for control in _live(context):
        if control.kind == "protective" and control.introduces is None:
            yield Finding(
                control.id,
                ("introduces",),
                f"{control.id} does not say which hazards it brings",
                "add `introduces:` with their ids, or `introduces: []` once someone has looked",
            )


@rule("warning")
def fails_how_unanswered(context: Context) -> Iterator[Finding]:
    """A protective measure that does not say how it fails, or how anyone would notice.

    A measure whose failure nobody notices is worth less every day.

    Bad:

        controls:
          C01: {title: blow-off, kind: protective, fails_how: disc sticks}   # <-

    Good:

        controls:
          C01: {title: blow-off, kind: protective, fails_how: disc sticks, noticed: {how: lift test before use}}
    """
    for control in _live(context):
        missing = [name for name in ("fails_how", "noticed") if getattr(control, name) is None]
        if control.kind == "protective" and missing:
            yield Finding(
                control.id,
                (),
                f"{control.id} does not say " + " or ".join(_FAILURE_WORDS[name] for name in missing),
                f"add `{missing[0]}:`" + (" with `how:` and `within:`" if missing[0] == "noticed" else ""),
            )


_FAILURE_WORDS = MappingProxyType({"fails_how": "how it fails", "noticed": "how its failure is noticed"})


@rule("warning")
def depends_on_unanswered(context: Context) -> Iterator[Finding]:
    """A protective measure that names nothing and nobody it depends on.

    Everything depends on something; what is not named cannot be found to be shared.

    Bad:

        controls:
          C01: {title: low-pressure alarm, kind: protective}   # <-

    Good:

        controls:
          C01: {title: low-pressure alarm, kind: protective, depends_on: [P06]}
        parts:
          P06: {title: pressure sensor}
    """
    for control in _live(context):
        if control.kind == "protective" and not control.depends_on and not control.people:
            yield Finding(
                control.id,
                ("depends_on",),
                f"{control.id} names nothing it depends on",
                "add `depends_on:` with parts and supplies, or `people:` with roles",
            )


@rule("warning")
def why_not_higher_unanswered(context: Context) -> Iterator[Finding]:
    """Information against severe harm that does not say why nothing better was possible.

    The order is design, protection, information; a step down needs a reason.

    Bad:

        policy: five-by-five
        hazards:
          H01: {title: Flame near oxygen, condition: normal, harm: {text: burn, severity: 5}, controls: [C01]}
        controls:
          C01: {title: place-of-use statement, kind: information}   # <-

    Good:

        policy: five-by-five
        hazards:
          H01: {title: Flame near oxygen, condition: normal, harm: {text: burn, severity: 5}, controls: [C01]}
        controls:
          C01: {title: place-of-use statement, kind: information, why_not_higher: the flame is not ours}
    """
    severe = {id: hazard for hazard in context.standing_hazards if context.is_severe(hazard) for id in hazard.controls}
    for control in _live(context):
        if control.kind == "information" and control.why_not_higher is None and control.id in severe:
            yield Finding(
                control.id,
                ("why_not_higher",),
                f"{control.id} only informs about {severe[control.id].id}, and does not say why nothing better was possible",
                "add `why_not_higher:`",
            )


@rule("error")
def dormant_control_without_interval(context: Context) -> Iterator[Finding]:
    """A control that can be broken unnoticed and is checked at no stated interval.

    It may have been broken since the first day.

    Bad:

        controls:
          C01:   # <-
            title: blow-off
            kind: protective
            dormant: true

    Good:

        controls:
          C01:
            title: blow-off
            kind: protective
            dormant: true
            check_interval: 30 d
    """
    for control in _live(context):
        if control.dormant and control.check_interval is None:
            yield Finding(
                control.id,
                ("check_interval",),
                f"{control.id} can be broken unnoticed, and nobody says how often it is checked",
                "add `check_interval:`, such as `30 d`, and a test for it",
            )


@rule("error")
def risk_without_decision(context: Context) -> Iterator[Finding]:
    """A risk left in a region where the policy asks for a decision, and nobody has decided.

    A risk that is simply left has been taken by silence.

    Bad:

        policy: five-by-five
        hazards:
          H01:
            title: Noise at the ear
            condition: normal
            harm: {text: ringing ears, severity: 3}
            likelihood:
              claimed: {level: A, because: measured on the bench}   # <-

    Good:

        policy: five-by-five
        hazards:
          H01:
            title: Noise at the ear
            condition: normal
            harm: {text: ringing ears, severity: 3}
            likelihood:
              claimed: {level: B, because: foam at the inlet}
    """
    decided = {id for decision in context.register.of(Decision) for id in decision.covers}
    for hazard in context.standing_hazards:
        claimed = context.scores[hazard.id].claimed
        if claimed is None or hazard.id in decided:
            continue
        region = context.policy.regions[context.policy.region_rank(claimed.region)]
        if region.decision:
            yield Finding(
                hazard.id,
                ("likelihood", "claimed"),
                f"{hazard.id} is left in region `{region.name}`, and nobody has decided on that",
                "make the risk smaller, or add a record under `decisions:` by the role that the policy names",
            )


@rule("error")
def decision_void(context: Context) -> Iterator[Finding]:
    """A decision about something that has changed since.

    Whoever decided had another hazard, other controls or another policy before them.

    Bad:

        policy: five-by-five
        hazards:
          H01: {title: Noise at the ear, condition: normal, harm: {text: ringing ears, severity: 3}}
        decisions:
          D01:
            on: 2026-11-01
            by: emergency physician
            covers:
              H01: 0123456789ab   # <-
            because: ear plugs are worn anyway

    Good:

        hazards:
          H01: {title: Noise at the ear, condition: normal, harm: {text: ringing ears, severity: 3}}
    """
    for decision in context.register.of(Decision):
        for id, fingerprint in decision.covers.items():
            now = context.fingerprints.get(id)
            if now is not None and fingerprint != now:
                yield Finding(
                    decision.id,
                    ("covers", id),
                    f"{decision.id} was about {id} as it was ({fingerprint}); it is another now ({now})",
                    f"decide again and write `{id}: {now}`, or take the decision out",
                )


@rule("error")
def decision_expired(context: Context) -> Iterator[Finding]:
    """A decision whose end has passed.

    It was made for a time, and that time is over.

    Bad:

        decisions:
          D01:
            on: 2019-11-01
            by: emergency physician
            covers: {H01: 0123456789ab}
            because: bench only
            until: 2019-12-01   # <-
        hazards:
          H01: {title: Noise at the ear, condition: normal, harm: {text: ringing ears, severity: 3}}

    Good:

        decisions:
          D01:
            on: 2026-11-01
            by: emergency physician
            covers: {H01: 0123456789ab}
            because: bench only
            until: 2199-12-01
        hazards:
          H01: {title: Noise at the ear, condition: normal, harm: {text: ringing ears, severity: 3}}
    """
    for decision in context.register.of(Decision):
        if decision.until is not None and decision.until < context.today:
            yield Finding(
                decision.id,
                ("until",),
                f"{decision.id} ended on {decision.until}",
                "decide again, with a new date and fingerprint",
            )


@rule("error")
def mean_where_worst_is_needed(context: Context) -> Iterator[Finding]:
    """An average reported for a test whose limit is meant for the worst reading.

    An average hides the one cycle that hurts.

    Bad:

        tests:
          T01: {title: dynamic levels, statistic: worst, limit: {at_most: 10 hPa}}
        results:
          R01:
            test: T01
            on: 2026-11-02
            readings: {upper level: [9.1 hPa]}
            reported: mean   # <-

    Good:

        tests:
          T01: {title: dynamic levels, statistic: worst, limit: {at_most: 10 hPa}}
        results:
          R01:
            test: T01
            on: 2026-11-02
            readings: {upper level: [9.8 hPa]}
            reported: worst
    """
    for result in context.register.results:
        test = context.register.get(result.test, Test)
        if test is not None and test.statistic == "worst" and result.reported == "mean":
            yield Finding(
                result.id,
                ("reported",),
                f"{result.id} reports a mean, and {test.id} asks for the worst reading",
                "enter the worst reading with `reported: worst`",
            )


@rule("error")
def result_under_other_conditions(context: Context) -> Iterator[Finding]:
    """A result taken at another setting than the one its limit is for.

    Gas is hottest at the lowest flow; a reading at the highest says nothing about it.

    Bad:

        tests:
          T01: {title: gas temperature, conditions: {flow: 20 L/min}, limit: {at_most: 8 K}}
        results:
          R01:
            test: T01
            on: 2026-11-02
            conditions: {flow: 60 L/min}   # <-

    Good:

        tests:
          T01: {title: gas temperature, conditions: {flow: 20 L/min}, limit: {at_most: 8 K}}
        results:
          R01:
            test: T01
            on: 2026-11-02
            conditions: {flow: 20 L/min}
    """
    replaced = replaced_results(context.register)
    for result in context.register.results:
        test = context.register.get(result.test, Test)
        if test is None or result.id in replaced:
            continue
        for name, wanted in test.conditions.items():
            was = result.conditions.get(name)
            if was is None:
                yield Finding(
                    result.id,
                    ("conditions",),
                    f"{result.id} does not say at which {name} it was taken; {test.id} asks for {wanted.written}",
                    f"add `{name}:` under `conditions:`",
                )
            elif not was.same_as(wanted, rel=1e-3):
                yield Finding(
                    result.id,
                    ("conditions", name),
                    f"{result.id} was taken at {name} {was.written}; the limit of {test.id} is for {wanted.written}",
                    f"repeat {test.id} at {wanted.written}",
                )


@rule("warning")
def unit_without_its_test(context: Context) -> Iterator[Finding]:
    """A test meant for every unit that was done on some and not on others.

    A copy is another device; the reading of one says nothing about the next.

    Bad:

        tests:
          T01: {title: static levels, scope: every unit, limit: {at_most: 6 hPa}}
        units:
          U01: {title: first unit}
          U02: {title: second unit}   # <-
        results:
          R01: {test: T01, on: 2026-11-02, unit: U01, readings: {level: [5.1 hPa]}}

    Good:

        tests:
          T01: {title: static levels, scope: every unit, limit: {at_most: 6 hPa}}
        units:
          U01: {title: first unit}
        results:
          R01: {test: T01, on: 2026-11-02, unit: U01, readings: {level: [5.1 hPa]}}
    """
    done = {(result.test, result.unit) for result in context.register.results}
    started = {result.test for result in context.register.results}
    for unit in context.register.units:
        if unit.retired is not None:
            continue
        missing = [
            test.id
            for test in context.register.tests
            if test.scope == "every unit" and test.id in started and (test.id, unit.id) not in done
        ]
        if missing:
            yield Finding(
                unit.id,
                (),
                f"{unit.id} has no result of {', '.join(missing)}, which every unit needs",
                f"do {missing[0]} on {unit.id} and add the result with `unit: {unit.id}`",
            )


@rule("error")
def time_to_harm_without_assumption(context: Context) -> Iterator[Finding]:
    """A time to harm that names no assumption about where harm begins.

    Where harm begins is a clinician's judgement, never a fact of the bench. It needs an owner.

    Bad:

        hazards:
          H01:
            title: Flow stops
            condition: single fault
            harm: {text: carbon dioxide poisoning, severity: 5}
            time_to_harm: {value: 58 s}   # <-

    Good:

        hazards:
          H01:
            title: Flow stops
            condition: single fault
            harm: {text: carbon dioxide poisoning, severity: 5}
            time_to_harm: {value: 58 s, assumption: A01}
        assumptions:
          A01: {text: harm begins at 3 % carbon dioxide, owner: emergency physician}
    """
    for hazard in context.register.hazards:
        if hazard.time_to_harm is not None and hazard.time_to_harm.assumption is None:
            yield Finding(
                hazard.id,
                ("time_to_harm",),
                f"{hazard.id} gives {_time(hazard.time_to_harm)} until harm, by nobody's assumption",
                "add `assumption:` with an assumption that a clinician owns",
            )


@rule("note")
def unconfirmed_assumption(context: Context) -> Iterator[Finding]:
    """A hazard's mark of harm that its owner has not confirmed yet.

    Every sentence that uses it says so; this note is a reminder to ask.

    Bad:

        hazards:
          H01:
            title: Flow stops
            condition: single fault
            harm: {text: carbon dioxide poisoning, severity: 5}
            time_to_harm: {value: 58 s, assumption: A01}
        assumptions:
          A01: {text: harm begins at 3 % carbon dioxide, owner: emergency physician}   # <-

    Good:

        hazards:
          H01:
            title: Flow stops
            condition: single fault
            harm: {text: carbon dioxide poisoning, severity: 5}
            time_to_harm: {value: 58 s, assumption: A01}
        assumptions:
          A01: {text: harm begins at 3 % carbon dioxide, owner: emergency physician, confirmed: 2026-11-01}
    """
    used = {hazard.time_to_harm.assumption for hazard in context.register.hazards if hazard.time_to_harm is not None}
    for assumption in context.register.of(Assumption):
        if assumption.id in used and assumption.owner is not None and assumption.confirmed is None:
            yield Finding(
                assumption.id,
                (),
                f"{assumption.id} marks where harm begins, and its owner ({assumption.owner}) has not confirmed it",
                "ask, then add `confirmed:` with the day",
            )


def _time(harm: TimeToHarm) -> str:
    return harm.value.written if harm.value is not None else f"what {harm.calculation} works out"


def _live(context: Context) -> Iterator[Control]:
    return (control for control in context.register.controls if control.withdrawn is None)
