"""Values that stand for now and that nobody has decided: a cautious value is kept, and the gap with it."""

from __future__ import annotations

from collections.abc import Iterator

from riskkit.checks import Context, Finding, rule


@rule("warning")
def not_decided_yet(context: Context) -> Iterator[Finding]:
    """A field of a hazard whose value stands for now because nobody knew it when the hazard was written down.

    `riskkit add hazard` takes the worst severity and says so, rather than asking for a guess or inventing one.
    What was not decided is listed under `undecided` until someone does.

    Bad:

        hazards:
          H01:
            title: blocked outlet stops flow
            condition: single fault
            harm: {text: too little fresh gas, severity: 5}
            undecided: [harm.severity]   # <-

    Good:

        hazards:
          H01:
            title: blocked outlet stops flow
            condition: single fault
            harm: {text: too little fresh gas, severity: 4, because: nobody is asleep}
    """
    for hazard in context.register.hazards:
        if hazard.undecided:
            *others, last = (f"`{name}`" for name in hazard.undecided)
            names = f"{', '.join(others)} and {last}" if others else last
            are = "is" if len(hazard.undecided) == 1 else "are"
            yield Finding(
                hazard.id,
                ("undecided",),
                f"{names} of {hazard.id} {are} not decided yet; what stands there is taken for now",
                f"riskkit set {hazard.id} {hazard.undecided[0]} VALUE",
            )
