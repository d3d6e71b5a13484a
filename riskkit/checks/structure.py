"""Rules about words and numbers that do not fit the policy; such a register cannot be scored as written."""

from __future__ import annotations

from collections.abc import Iterator

from riskkit.checks import Context, Finding, rule
from riskkit.model.records import Hazard, Likelihood
from riskkit.model.references import Path


@rule("error", breaks=True)
def undefined_severity(context: Context) -> Iterator[Finding]:
    """A severity that the policy's scale does not have.

    A level without a meaning cannot be placed in the matrix, so the risk cannot be seen.

    Bad:

        policy: five-by-five
        hazards:
          H01:
            title: Air stops
            condition: single fault
            harm: {text: too little oxygen, severity: 6}   # <-

    Good:

        policy: five-by-five
        hazards:
          H01:
            title: Air stops
            condition: single fault
            harm: {text: too little oxygen, severity: 5}
    """
    for hazard in context.register.hazards:
        stated: list[tuple[Path, str]] = [(("harm", "severity"), hazard.harm.severity)]
        for name, likelihood in _likelihoods(hazard):
            if likelihood.severity is not None:
                stated.append((("likelihood", name, "severity"), likelihood.severity))
        for path, level in stated:
            if context.policy.severity_rank(level) < 0:
                levels = ", ".join(step.level for step in context.policy.severity)
                yield Finding(
                    hazard.id,
                    path,
                    f"{hazard.id} has severity `{level}`, which the policy does not know",
                    f"write one of {levels}",
                )


@rule("error", breaks=True)
def undefined_likelihood(context: Context) -> Iterator[Finding]:
    """A likelihood level that the policy's scale does not have.

    A level without edges cannot be placed in the matrix, so the risk cannot be seen.

    Bad:

        policy: five-by-five
        hazards:
          H01:
            title: Air stops
            condition: single fault
            harm: {text: too little oxygen, severity: 5}
            likelihood:
              before: {level: often, because: no spare}   # <-

    Good:

        policy: five-by-five
        hazards:
          H01:
            title: Air stops
            condition: single fault
            harm: {text: too little oxygen, severity: 5}
            likelihood:
              before: {level: B, because: no spare}
    """
    for hazard in context.register.hazards:
        for name, likelihood in _likelihoods(hazard):
            for level in dict.fromkeys(likelihood.level or ()):
                if context.policy.likelihood_rank(level) < 0:
                    levels = ", ".join(band.level for band in context.policy.likelihood.levels)
                    yield Finding(
                        hazard.id,
                        ("likelihood", name, "level"),
                        f"{hazard.id} has likelihood `{level}`, which the policy does not know",
                        f"write one of {levels}, or a probability as `p:`",
                    )
            eliminated = any(band.eliminated for band in context.policy.likelihood.levels)
            if likelihood.eliminated and not eliminated:
                yield Finding(
                    hazard.id,
                    ("likelihood", name, "eliminated"),
                    f"{hazard.id} is called eliminated, and the policy has no such state",
                    "give a probability, or add a level with `eliminated: true` to the policy",
                )


@rule("error", breaks=True)
def mixed_exposure(context: Context) -> Iterator[Finding]:
    """A likelihood counted per something else than the policy's scale.

    One in a thousand per hour and one in a thousand per use are different risks; they cannot stand
    in one matrix.

    Bad:

        policy: {use: five-by-five, exposure: per transfer}
        hazards:
          H01:
            title: Air stops
            condition: single fault
            harm: {text: too little oxygen, severity: 5}
            likelihood:
              exposure: per hour   # <-
              before: {p: 1e-3, because: count of last winter}

    Good:

        policy: {use: five-by-five, exposure: per transfer}
        hazards:
          H01:
            title: Air stops
            condition: single fault
            harm: {text: too little oxygen, severity: 5}
            likelihood:
              exposure: per transfer
              before: {p: 1e-3, because: count of last winter}
    """
    wanted = context.policy.likelihood.exposure
    for hazard in context.register.hazards:
        stated = hazard.likelihood.exposure
        if stated is not None and stated != wanted:
            yield Finding(
                hazard.id,
                ("likelihood", "exposure"),
                f"{hazard.id} counts its likelihood {stated}; the policy counts {wanted}",
                f"restate the likelihood {wanted}, or change the policy's exposure",
            )


def _likelihoods(hazard: Hazard) -> Iterator[tuple[str, Likelihood]]:
    for name, likelihood in (("before", hazard.likelihood.before), ("claimed", hazard.likelihood.claimed)):
        if likelihood is not None:
            yield name, likelihood
