"""The likelihood that evidence supports, hazard by hazard. It is worked out here and can never be typed.

Opinion supports nothing below the most likely band. Counted runs support their one-sided upper
Clopper-Pearson bound; independent controls, each tried by a test of its own, support the product of
their bounds and a common-cause share; what else may support how much is in `policy.evidence`.
How often a control is called upon is nobody's measurement, so a demand in every exposure is taken.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from riskkit.judgement.carrying import Barrier, Carrying
from riskkit.judgement.counted import Runs, as_written, at_most, counted_runs, failing_bound, percent, runs_of
from riskkit.judgement.scoring import HazardScore, Score, place
from riskkit.judgement.verdicts import ResultVerdict
from riskkit.judgement.walk import dependencies
from riskkit.model.fault_trees import FaultTree
from riskkit.model.policy import Policy
from riskkit.model.records import Control, Hazard, RestsOn
from riskkit.model.register import Register
from riskkit.model.verification import Calculation


@dataclass(frozen=True, slots=True)
class Support:
    """What the evidence of one hazard supports.

    Attributes:
        hazard: The hazard.
        score: Where it lies by its evidence; None where it cannot be placed.
        p: Upper bound of the probability of harm per exposure; None where a band was granted or nothing is known.
        barriers: The controls whose bounds were multiplied; none of them shares an element with another.
        set_aside: Controls that carry nothing, each with the reason.
        because: One sentence.
        needed: What would carry the claim; empty where the claim is carried.
    """

    hazard: str
    score: Score | None
    p: float | None
    barriers: tuple[Barrier, ...]
    set_aside: tuple[tuple[str, str], ...]
    because: str
    needed: str = ""

    @property
    def falls_short(self) -> bool:
        """Whether more is claimed than is supported."""
        return bool(self.needed)


def supports(
    register: Register,
    policy: Policy,
    scores: Mapping[str, HazardScore],
    by_test: Mapping[str, Sequence[ResultVerdict]],
) -> Mapping[str, Support]:
    """What evidence supports, for every hazard by id that is not claimed to be gone.

    Args:
        register: The records.
        policy: Scales, and what each kind of evidence may support.
        scores: Before and claimed positions.
        by_test: Verdicts that count, by test.
    """
    counted = {test: runs_of(test, each, register) for test, each in by_test.items()}
    needs = dependencies(register)
    proving = _proving(register)
    found = {}
    for hazard in register.hazards:
        claimed = hazard.likelihood.claimed
        if claimed is None or not claimed.eliminated:
            found[hazard.id] = _Weighing(hazard, register, policy, counted, by_test, needs, proving).support(
                scores[hazard.id]
            )
    return found


@dataclass(frozen=True, slots=True)
class ControlEvidence:
    """How rarely a control fails per demand: upper bound at the confidence of the policy, and counted runs if any."""

    bound: float
    failures: int | None = None
    runs: int | None = None


def control_evidence(
    register: Register,
    policy: Policy,
    by_test: Mapping[str, Sequence[ResultVerdict]],
    trees: Iterable[FaultTree] | None = None,
    level: float | None = None,
) -> Mapping[str, Mapping[str, ControlEvidence]]:
    """Fault tree -> control -> what is known of its failure per demand.

    Only controls that an event of the tree takes `from_evidence`, and of those only the ones that have any.

    Args:
        register: The records.
        policy: What each kind of evidence may support.
        by_test: Verdicts that count, by test.
        trees: The trees that are asked about; all of the register if left out.
        level: Confidence of each bound; that of the policy if left out.
    """
    found: dict[str, dict[str, ControlEvidence]] = {}
    counted: Mapping[str, Runs] | None = None
    needs: Mapping[str, frozenset[str]] = {}
    proving: Mapping[str, tuple[str, ...]] = {}
    for tree in register.of(FaultTree) if trees is None else trees:
        controls = [event.control for event in tree.events.values() if event.from_evidence and event.control]
        hazard = register.get(tree.hazard, Hazard)
        if not controls or hazard is None:
            continue
        if counted is None:
            counted = {test: runs_of(test, each, register) for test, each in by_test.items()}
            needs, proving = dependencies(register), _proving(register)
        weighing = _Weighing(hazard, register, policy, counted, by_test, needs, proving)
        each_at = float(policy.evidence.confidence.exact) if level is None else level
        for control in register.all_of(controls, Control):
            barrier = weighing.barrier(control, each_at) if control.withdrawn is None else None
            if barrier is not None:
                seen = barrier.counted
                known = ControlEvidence(barrier.bound, seen.failures if seen else None, seen.runs if seen else None)
                found.setdefault(tree.id, {})[control.id] = known
    return found


def _proving(register: Register) -> Mapping[str, tuple[str, ...]]:
    """Control -> tests that are meant to show its effect."""
    found: dict[str, list[str]] = {}
    for test in register.tests:
        if "effectiveness" in test.shows:
            for control in test.proves:
                found.setdefault(control, []).append(test.id)
    return {control: tuple(tests) for control, tests in found.items()}


class _Weighing:
    """The evidence of one hazard, weighed control by control."""

    def __init__(
        self,
        hazard: Hazard,
        register: Register,
        policy: Policy,
        counted: Mapping[str, Runs],
        by_test: Mapping[str, Sequence[ResultVerdict]],
        needs: Mapping[str, frozenset[str]],
        proving: Mapping[str, tuple[str, ...]],
    ) -> None:
        self.hazard = hazard
        self.register = register
        self.policy = policy
        self.rules = policy.evidence
        self.counted = counted
        self.by_test = by_test
        self.needs = needs
        self.proving = proving
        self.set_aside: list[tuple[str, str]] = []
        self.granted: list[tuple[int, str]] = []
        self._bands = [place for place, band in enumerate(policy.likelihood.levels) if not band.eliminated]
        self.severe = policy.severity_rank(hazard.severity) >= policy.severe_rank

    def support(self, score: HazardScore) -> Support:
        standing = self._standing()
        self._grant(standing)
        barriers = self._independent(standing)
        barriers, p, because = self._best(barriers)
        rank = self._rank_of(p) if p is not None else self._bands[0]
        for granted, why in self.granted:
            if granted > rank:
                rank, because, p = granted, why, None
        level = self.policy.likelihood.levels[rank].level
        supported = place(self._severity(standing), level, p, self.hazard, self.policy)
        needed = ""
        carrying = Carrying(self.policy, self.proving, self.hazard.tests)
        if score.claimed is not None and supported is not None:
            wanted = self.policy.likelihood_rank(score.claimed.levels[0])
            claimed_p = score.claimed.p[1] if score.claimed.p is not None else None
            if wanted > rank:
                needed = carrying.band(wanted, barriers, standing)
            elif wanted == rank and p is not None and claimed_p is not None and claimed_p < as_written(p):
                needed = carrying.number(claimed_p, barriers, standing)
        return Support(self.hazard.id, supported, p, barriers, tuple(self.set_aside), because, needed)

    def _standing(self) -> tuple[Control, ...]:
        """Live controls that the hazard's own causes do not disable."""
        live = [each for each in self.register.all_of(self.hazard.controls, Control) if each.withdrawn is None]
        causes = {cause.by for cause in self.hazard.causes} | set(self.hazard.loss_of)
        standing = []
        for control in {each.id: each for each in live}.values():
            hit = sorted(causes & self.needs.get(control.id, frozenset()))
            if hit:
                self.set_aside.append((control.id, f"it stands on {hit[0]}, which starts {self.hazard.id}"))
            else:
                standing.append(control)
        return tuple(standing)

    def _independent(self, standing: Sequence[Control]) -> tuple[Barrier, ...]:
        """The best barriers, lowest bound first, no two of which share an element or a test."""
        level = float(self.rules.confidence.exact)
        found = []
        for control in standing:
            barrier = self.barrier(control, level)
            if barrier is not None:
                found.append(barrier)
            elif control.kind != "information" and not control.rests_on:
                self.set_aside.append((control.id, "no run of a test of its effect is on file"))
        kept: list[Barrier] = []
        for barrier in sorted(found, key=lambda each: each.bound):
            why = next((told for each in kept if (told := self._shared(each, barrier)) is not None), None)
            if why is None:
                kept.append(barrier)
            else:
                self.set_aside.append((barrier.control, why))
        return tuple(kept)

    def _control(self, id: str) -> Control:
        control = self.register.records[id]
        assert isinstance(control, Control)
        return control

    def _shared(self, one: Barrier, other: Barrier) -> str | None:
        elements = self.needs.get(one.control, frozenset()) & self.needs.get(other.control, frozenset())
        if elements:
            return f"it shares {sorted(elements)[0]} with {one.control}"
        if one.counted is not None and other.counted is not None and one.counted.test == other.counted.test:
            return f"{one.counted.test} tries it together with {one.control}"
        return None

    def barrier(self, control: Control, level: float) -> Barrier | None:
        """The lowest bound that a control's evidence supports; information is granted bands, and no bound."""
        if control.kind == "information":
            return None
        runs = self._from_runs(control, level)
        stated = [self._from_basis(control, each, level) for each in control.rests_on]
        stands = [each for each in stated if each is not None and not self._contradicted(control, each, runs)]
        found = [each for each in (runs, *stands) if each is not None]
        return min(found, key=lambda each: each.bound, default=None)

    def _contradicted(self, control: Control, stated: Barrier, runs: Barrier | None) -> bool:
        """Whether its own tests fail more often than data from elsewhere allow, at the confidence of the policy."""
        if runs is None or runs.counted is None or all(each.word != "does not meet" for each in self._judged(control)):
            return False
        from riskkit.evidence.proportions import clopper_pearson

        seen = runs.counted
        level = float(self.rules.confidence.exact)
        if clopper_pearson(seen.failures, seen.runs, level, sides="lower").lower <= stated.bound:
            return False
        data = "data" if stated.kind == "bought part" else "field records"
        why = f"its {data} say at most {at_most(stated.bound)}, and {seen.failures} of {seen.runs} runs failed"
        if (control.id, why) not in self.set_aside:
            self.set_aside.append((control.id, why))
        return True

    def _from_runs(self, control: Control, level: float) -> Barrier | None:
        """The longest test without a failure speaks, unless one has failed, of this very situation before any other."""
        counts = [
            self.counted[test]
            for test in self.proving.get(control.id, ())
            if test in self.counted and self.counted[test].runs
        ]
        own = [each for each in counts if each.test in self.hazard.tests]
        failed = [each for each in own if each.failures] or [each for each in counts if each.failures]
        speaking = failed or [each for each in counts if not each.failures]
        if not speaking:
            return None
        pick = max if failed else min
        bound, runs = pick(
            ((failing_bound(each, level, self.rules.one_unit.exact), each) for each in speaking), key=_first
        )
        bound = max(bound, float(self.rules.barriers.exact))
        words = (
            f"{control.id} failed {runs.failures} of {counted_runs(runs.runs)} of {runs.test}, at most {at_most(bound)}"
        )
        if len(runs.units) < 2:
            words += ", on one unit"
        return Barrier(control.id, "runs", bound, level, runs, words)

    def _from_basis(self, control: Control, basis: RestsOn, level: float) -> Barrier | None:
        match basis.kind:
            case "bought part" if basis.fails is not None:
                bound = float(basis.fails.exact)
                if bound <= 0:
                    self.set_aside.append((control.id, "no data of a part can show that it never fails"))
                    return None
                words = f"{control.id} fails with at most {at_most(bound)} by its data ({basis.document})"
                return Barrier(control.id, "bought part", bound, 1.0, None, words)
            case "field records" if basis.failures is not None and basis.exposures is not None:
                from riskkit.evidence.rates import rate_interval

                rate = rate_interval(basis.failures, basis.exposures, level, sides="upper")
                bound = min(rate.upper, 1.0)
                words = (
                    f"{control.id} failed {basis.failures} times in {basis.exposures:g} exposures ({basis.document})"
                )
                return Barrier(control.id, "field records", bound, level, None, f"{words}, at most {at_most(bound)}")
        return None

    def _grant(self, standing: Sequence[Control]) -> None:
        """Bands for what no count can bound: physics that keeps inside, and words."""
        for control in standing:
            if control.kind == "information":
                self._grant_information(control)
            for basis in control.rests_on:
                if basis.kind == "inherent limit":
                    self._grant_inherent_limit(control, basis)

    def _judged(self, control: Control) -> tuple[ResultVerdict, ...]:
        """Verdicts that count on the effect of a control."""
        return tuple(each for test in self.proving.get(control.id, ()) for each in self.by_test.get(test, ()))

    def _grant_inherent_limit(self, control: Control, basis: RestsOn) -> None:
        judged = self._judged(control)
        measured = [each.result for each in judged if each.word == "meets" and _was_measured(each)]
        if self.register.get(basis.calculation or "", Calculation) is None or not measured:
            self.set_aside.append((control.id, "its inherent limit is not shown by calculation and measurement alike"))
            return
        outside = next((each.result for each in judged if each.word == "does not meet"), None)
        if outside is not None:
            self.set_aside.append((control.id, f"its inherent limit is measured otherwise: {outside} does not meet"))
            return
        rank = self._below(self.rules.inherent_limit_bands)
        why = f"{control.id} is an inherent limit, calculated in {basis.calculation} and measured in {measured[0]}"
        self.granted.append((rank, why))

    def _grant_information(self, control: Control) -> None:
        if self.severe:
            self.set_aside.append((control.id, "information alone supports nothing where the harm is severe"))
            return
        runs = self._from_runs(control, float(self.rules.confidence.exact))
        if runs is None or runs.counted is None:
            self.set_aside.append((control.id, "no run of a test of its effect is on file"))
            return
        rank = self._below(self.rules.information_bands)
        if runs.counted.failures:
            # Runs that failed show no more than their bound, however little information is granted.
            rank = min(rank, self._rank_of(runs.bound))
        if rank <= self._bands[0]:
            self.set_aside.append((control.id, f"nothing is shown by information of which {runs.words}"))
        else:
            self.granted.append((rank, f"{control.id} is information, and information supports no more"))

    def _below(self, bands: int) -> int:
        """Rank so many bands below the most likely one; the last band that holds probabilities at most."""
        return self._bands[min(bands, len(self._bands) - 1)]

    def _rank_of(self, p: float) -> int:
        return self.policy.likelihood_rank(self.policy.likelihood.band(as_written(p)).level)

    def _best(self, kept: Sequence[Barrier]) -> tuple[tuple[Barrier, ...], float | None, str]:
        """As many of the best controls together as support the least; a poor one beside them only costs confidence.

        Each bound is taken at a level of its own, so that all of them together hold at the level of the policy. The
        words keep the bound that each supports alone, since that is what its test shows.
        """
        level = float(self.rules.confidence.exact)
        best: tuple[tuple[Barrier, ...], float | None, str] = ((), *self._together(()))
        for count in range(1, len(kept) + 1):
            again = [(self.barrier(self._control(each.control), level ** (1 / count)), each) for each in kept[:count]]
            chosen = tuple(replace(barrier, words=each.words) for barrier, each in again if barrier is not None)
            p, because = self._together(chosen)
            if best[1] is None or (p is not None and p < best[1]):
                best = chosen, p, because
        used = {each.control for each in best[0]}
        for each in kept:
            if each.control not in used:
                self.set_aside.append((each.control, f"it adds nothing to {' and '.join(sorted(used))}: {each.words}"))
        return best

    def _together(self, barriers: Sequence[Barrier]) -> tuple[float | None, str]:
        confidence = self.rules.confidence.written
        if not barriers:
            return None, "nothing but opinion stands behind it"
        if len(barriers) == 1:
            return barriers[0].bound, self._alone(barriers[0])
        best = min(each.bound for each in barriers)
        share = float(self.rules.common_cause.exact)
        p = math.prod(each.bound for each in barriers) + share * best
        p = min(max(p, float(self.rules.barriers.exact)), best)
        told = "; ".join(each.words for each in barriers)
        return p, (
            f"{told}; together at most {at_most(p)}, all bounds holding at {confidence} confidence and "
            f"{percent(share)} of the better one's failures taken as common cause"
        )

    def _alone(self, barrier: Barrier) -> str:
        """What one control supports; the stated data of a part have no confidence of ours."""
        at = f", at {self.rules.confidence.written} confidence" if barrier.confidence < 1 else ""
        return f"{barrier.words}{at}"

    def _severity(self, standing: Sequence[Control]) -> str:
        """As claimed where a control that changes the harm stands and meets its tests, as before elsewhere."""
        for control in standing:
            words = {each.word for each in self._judged(control)} if control.changes_harm else set()
            if "meets" in words and "does not meet" not in words:
                return self.hazard.claimed_severity
        return self.hazard.severity


def _was_measured(verdict: ResultVerdict) -> bool:
    """Whether readings stand behind it; runs that were counted and inspections measure nothing."""
    return any(limit.kind == "readings" for limit in verdict.limits)


def _first(pair: tuple[float, Runs]) -> float:
    return pair[0]
