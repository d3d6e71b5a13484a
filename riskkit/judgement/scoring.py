"""Where each risk lies in the policy's matrix: before controls, as claimed, and as supported by evidence.

Probabilities are multiplied and binned exactly; ranks are never multiplied. A range takes the corner
that asks most.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from riskkit.model.policy import Policy
from riskkit.model.records import Hazard, Likelihood
from riskkit.model.register import Register


@dataclass(frozen=True, slots=True)
class Score:
    """One position in the matrix.

    Attributes:
        severity: Severity level.
        p: Lowest and highest probability of harm per exposure; None where a level was given.
        levels: Most and least likely level of the range.
        regions: Every region that the range touches, the one that asks most first.
        exposure: What the likelihood is counted per.
    """

    severity: str
    p: tuple[Fraction, Fraction] | None
    levels: tuple[str, str]
    regions: tuple[str, ...]
    exposure: str

    @property
    def region(self) -> str:
        """The region of the worst corner."""
        return self.regions[0]


@dataclass(frozen=True, slots=True)
class HazardScore:
    """The positions of one hazard; `supported` is worked out from evidence, never typed."""

    id: str
    severity: str
    before: Score | None
    claimed: Score | None
    supported: Score | None = None
    problem: str | None = None

    @property
    def region(self) -> str | None:
        """Where the hazard is said to lie now: as claimed, or as before where nothing is claimed."""
        now = self.claimed or self.before
        return now.region if now is not None else None


@dataclass(frozen=True, slots=True)
class Moved:
    """A score that lies in another region under another policy."""

    hazard: str
    what: str
    was: str | None
    now: str | None


class _Unscorable(Exception):
    """A likelihood or severity that the policy has no place for; the message is the sentence."""


def scores(register: Register, policy: Policy) -> Mapping[str, HazardScore]:
    """Scores of all hazards by id, in the order of the register."""
    return {hazard.id: score(hazard, policy) for hazard in register.hazards}


def with_support(stated: Mapping[str, HazardScore], supported: Mapping[str, Score | None]) -> Mapping[str, HazardScore]:
    """The scores with what evidence supports beside what is claimed."""
    return {id: replace(each, supported=supported.get(id)) for id, each in stated.items()}


def score(hazard: Hazard, policy: Policy) -> HazardScore:
    """Before and claimed position of a hazard; what cannot be placed is None, with the sentence why."""
    positions: dict[str, Score | None] = {}
    problem = None
    stated = hazard.likelihood
    for name, likelihood in (("before", stated.before), ("claimed", stated.claimed)):
        positions[name] = None
        if likelihood is None:
            continue
        try:
            positions[name] = _position(hazard, likelihood, stated.exposure, policy)
        except _Unscorable as why:
            problem = problem or str(why)
    rank = policy.severity_rank(hazard.severity)
    severity = policy.severity[rank].level if rank >= 0 else hazard.severity
    return HazardScore(hazard.id, severity, positions["before"], positions["claimed"], None, problem)


def place(severity: str, level: str, p: float | None, hazard: Hazard, policy: Policy) -> Score | None:
    """A position worked out from evidence; None where the policy has no place for the hazard."""
    rank = policy.severity_rank(severity)
    exposure = hazard.likelihood.exposure
    if rank < 0 or (exposure is not None and exposure != policy.likelihood.exposure):
        return None
    label = policy.severity[rank].level
    exact = None if p is None else (Fraction(p), Fraction(p))
    return Score(label, exact, (level, level), (policy.region(level, label).name,), policy.likelihood.exposure)


def _position(hazard: Hazard, likelihood: Likelihood, exposure: str | None, policy: Policy) -> Score:
    severity = likelihood.severity or hazard.severity
    if policy.severity_rank(severity) < 0:
        raise _Unscorable(f"severity `{severity}` is not on the policy's scale")
    severity = policy.severity[policy.severity_rank(severity)].level
    scale = policy.likelihood
    if exposure is not None and exposure != scale.exposure:
        raise _Unscorable(f"it is counted {exposure}, and the policy counts {scale.exposure}")
    probability = _probability(likelihood)
    if likelihood.tree is not None and probability is None:
        raise _Unscorable(f"its fault tree {likelihood.tree} has no probability to give")
    first, last = _levels(likelihood, probability, policy)
    ranks = range(policy.likelihood_rank(first), policy.likelihood_rank(last) + 1)
    touched = {policy.region(scale.levels[rank].level, severity).name for rank in ranks}
    regions = tuple(sorted(touched, key=policy.region_rank))
    return Score(severity, probability, (first, last), regions, scale.exposure)


def _probability(likelihood: Likelihood) -> tuple[Fraction, Fraction] | None:
    """Probability of harm, lowest and highest: P, or P1 x P2 multiplied exactly."""
    if likelihood.p is not None:
        low, high = likelihood.p
        return low.exact, high.exact
    if likelihood.p1 is not None and likelihood.p2 is not None:
        return (
            likelihood.p1[0].exact * likelihood.p2[0].exact,
            likelihood.p1[1].exact * likelihood.p2[1].exact,
        )
    return None


def _levels(likelihood: Likelihood, probability: tuple[Fraction, Fraction] | None, policy: Policy) -> tuple[str, str]:
    """Most and least likely level."""
    scale = policy.likelihood
    if likelihood.eliminated:
        gone = next((band.level for band in scale.levels if band.eliminated), None)
        if gone is None:
            raise _Unscorable("it is called eliminated, and the policy has no such state")
        return gone, gone
    if probability is not None:
        return scale.band(probability[1]).level, scale.band(probability[0]).level
    given = likelihood.level or ()
    ranks = [policy.likelihood_rank(level) for level in given]
    if -1 in ranks:
        raise _Unscorable(f"likelihood `{given[ranks.index(-1)]}` is not on the policy's scale")
    return scale.levels[min(ranks)].level, scale.levels[max(ranks)].level


def replay(register: Register, old: Policy, new: Policy) -> tuple[Moved, ...]:
    """Every score that lies in another region under a new policy."""
    return moves(scores(register, old), scores(register, new))


def moves(before: Mapping[str, HazardScore], after: Mapping[str, HazardScore]) -> tuple[Moved, ...]:
    """Every score of the same hazard that lies in another region; None where it has no place."""
    moved = []
    for id, was in before.items():
        now = after[id]
        for what, one, other in (
            ("before", was.before, now.before),
            ("claimed", was.claimed, now.claimed),
            ("supported", was.supported, now.supported),
        ):
            regions = (one.region if one else None, other.region if other else None)
            if regions[0] != regions[1]:
                moved.append(Moved(id, what, *regions))
    return tuple(moved)
