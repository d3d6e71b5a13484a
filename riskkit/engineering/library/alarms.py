"""From a fault to the act: the delays of an alarm against the time that there is."""

from __future__ import annotations

from types import MappingProxyType

from riskkit.engineering.models import Check, EngineeringError, Found, Given, Model, Outcome

STEPS = ("detect", "delay", "signal", "notice", "act")


def _budget(
    detect: float, delay: float, signal: float, notice: float, act: float, time_to_harm: float | None
) -> Outcome:
    steps = dict(zip(STEPS, (detect, delay, signal, notice, act), strict=True))
    total = sum(steps.values())
    values = {"total": total}
    longest = max(steps, key=lambda name: steps[name])
    remarks = [f"{longest} takes the most: {steps[longest]:.3g} s of {total:.3g} s"] if total else []
    if time_to_harm is None:
        remarks.append("no time to harm is given, so nothing is said about whether it is in time")
        return Outcome(values, tuple(remarks))
    if time_to_harm <= 0:
        raise EngineeringError(
            "alarm-budget: no time to harm leaves no room for an alarm", "use another kind of control"
        )
    margin = time_to_harm - total
    values |= {"margin": margin, "share": total / time_to_harm}
    if margin < 0:
        remarks.append(f"{total:.3g} s > {time_to_harm:.3g} s: the alarm comes too late, by {-margin:.3g} s")
    else:
        remarks.append(f"{total:.3g} s of {time_to_harm:.3g} s are used")
    remarks.append("the time to harm is an assumption whose owner should be a clinician")
    return Outcome(values, tuple(remarks))


_DEMO = MappingProxyType(
    {"detect": "6 s", "delay": "4 s", "signal": "1 s", "notice": "30 s", "act": "25 s", "time_to_harm": "58 s"}
)

ALARM_BUDGET = Model(
    name="alarm-budget",
    title="delays of an alarm against the time to harm",
    formula="detect + delay + signal + notice + act <= time_to_harm",
    source="sum of delays in a chain",
    holds="each delay is its worst, not its mean, and they follow each other",
    givens=(
        Given("detect", "time", "time until the fault can be seen in what is measured", "s", None, "0 s", "7 d"),
        Given("delay", "time", "time of filter and confirmation", "s", None, "0 s", "7 d"),
        Given("signal", "time", "time until the signal sounds or shows", "s", None, "0 s", "7 d"),
        Given("notice", "time", "time until a person notices", "s", None, "0 s", "7 d"),
        Given("act", "time", "time until that person has acted", "s", None, "0 s", "7 d"),
        Given("time_to_harm", "time", "time to harm, an assumption", "s", "", "0 s", "30 d"),
    ),
    finds=(
        Found("total", "time", "s", "time from the fault to the act"),
        Found("margin", "time", "s", "time that is left, below nothing where it is too late"),
        Found("share", "fraction", "percent", "share of the time to harm that is used"),
    ),
    function=_budget,
    checks=(
        Check(_DEMO, "total", "66 s", "constructed", "hand-worked sheet M23", rel=1e-9),
        Check(_DEMO, "share", "113.7931 %", "constructed", "hand-worked sheet M23: 66 s over 58 s", rel=1e-6),
        Check(_DEMO | {"act": "17 s"}, "share", "100 %", "limit", "exactly in time", rel=1e-9),
    ),
    example=_DEMO,
    traps=(
        "Are these the worst times, or the usual ones?",
        "Does the value cross the alarm's threshold in this fault at all?",
        "Who listens, and may that person be away?",
    ),
)
