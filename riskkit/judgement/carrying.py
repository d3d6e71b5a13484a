"""What would carry a claim that evidence does not carry yet, as one sentence."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from riskkit.judgement.counted import Runs, counted_runs, failure_free_runs, percent
from riskkit.model.policy import Policy
from riskkit.model.records import Control


@dataclass(frozen=True, slots=True)
class Barrier:
    """One control and the best that its evidence supports.

    Attributes:
        control: The control.
        kind: "runs", "bought part" or "field records".
        bound: Upper bound of the probability that it fails when called upon.
        confidence: Confidence of the bound; 1 for stated data of a part. Where several controls count together it is
            higher than the policy's, so that all bounds together hold at the policy's.
        counted: Runs behind it, None where it rests on something else.
        words: What was found and what it supports alone, in the middle of a sentence.
    """

    control: str
    kind: str
    bound: float
    confidence: float
    counted: Runs | None
    words: str


@dataclass(frozen=True, slots=True)
class Carrying:
    """What would carry a claim on one hazard.

    Attributes:
        policy: Scales, and what each kind of evidence may support.
        proving: Control -> tests that are meant to show its effect.
        own: Tests that try the controls against this very hazard.
    """

    policy: Policy
    proving: Mapping[str, tuple[str, ...]]
    own: Collection[str]

    def band(self, wanted: int, barriers: Sequence[Barrier], standing: Sequence[Control]) -> str:
        """What would carry the band of that rank."""
        scale, rules = self.policy.likelihood, self.policy.evidence
        band = scale.levels[wanted]
        above = [each.above for each in scale.levels[:wanted] if not each.eliminated]
        edge = above[-1] if above else None
        if edge is None:
            return "nothing that can be counted on a bench"
        if not standing:
            return "a control that the cause of this hazard does not disable"
        if self._rank(rules.barriers.exact) < wanted:
            return (
                f"no bench test supports {band.level} (below {edge.written}): it needs an inherent limit shown by "
                "calculation and measurement, a bought part with stated data, or field records"
            )
        strictly = scale.edge == "in the band above"
        runs = failure_free_runs(edge.exact, rules.confidence.exact, strictly=strictly)
        several = self._rank(rules.one_unit.exact) < wanted
        return self._by_runs(runs, several, f"{band.level} (below {edge.written})", barriers, standing)

    def number(self, claimed: Fraction, barriers: Sequence[Barrier], standing: Sequence[Control]) -> str:
        """What would carry a number inside the band that is supported."""
        if not 0 < claimed < 1:
            return "a claim that is no certainty"
        rules = self.policy.evidence
        if claimed < rules.barriers.exact:
            return (
                f"no bench test supports {percent(float(claimed))}: it needs an inherent limit shown by "
                "calculation and measurement, a bought part with stated data, or field records"
            )
        runs = failure_free_runs(claimed, rules.confidence.exact, strictly=False)
        return self._by_runs(runs, claimed < rules.one_unit.exact, percent(float(claimed)), barriers, standing)

    def _rank(self, probability: Fraction) -> int:
        return self.policy.likelihood_rank(self.policy.likelihood.band(probability).level)

    def _by_runs(
        self, runs: int, several: bool, what: str, barriers: Sequence[Barrier], standing: Sequence[Control]
    ) -> str:
        """So many runs; on several units where one unit alone carries nothing so low."""
        protective = [control for control in standing if control.kind != "information"]
        if not protective:
            return "a measure that is more than information"
        tests = [test for control in protective for test in self.proving.get(control.id, ())]
        own = [test for test in tests if test in self.own]
        counted = next((each.counted.test for each in barriers if each.counted is not None), None)
        test = counted or next(iter(own or tests), "a test of its effect")
        units = " on more than one unit" if several else ""
        return f"{counted_runs(runs)} of {test} without a failure{units} would carry {what}"
