"""The one pipeline: read -> trace -> judge -> check -> assessment. Nothing else does these steps in order."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import chain
from typing import TYPE_CHECKING

from riskkit.checks import Context, Finding, Rule, run
from riskkit.checks.waivers import Waived, apply
from riskkit.checks.wording import is_suspicious
from riskkit.diagnostics import Diagnostic, Place, Related, Report
from riskkit.judgement.alarms import AlarmBudget, alarm_budgets
from riskkit.judgement.calculations import Worked, with_answers, work_out_all
from riskkit.judgement.differences import Comparison, Judged, differences, not_compared
from riskkit.judgement.fault_trees import WorkedTree, tree_of, with_likelihoods, work_out_trees
from riskkit.judgement.fingerprints import fingerprints
from riskkit.judgement.freshness import Freshness, freshness
from riskkit.judgement.samples import SampleVerdict, samples
from riskkit.judgement.scoring import HazardScore, moves, scores, with_support
from riskkit.judgement.signatures import Signature, signatures, without_void
from riskkit.judgement.status import Status, statuses
from riskkit.judgement.story import hazard_story, record_story, source_sentence
from riskkit.judgement.support import Support, control_evidence, supports
from riskkit.judgement.supported_trees import with_trees
from riskkit.judgement.trace import Trace, trace
from riskkit.judgement.unit_story import unit_story
from riskkit.judgement.verdicts import ResultVerdict, by_test, verdicts
from riskkit.judgement.walk import SharedElement, SingleFault, shared_elements, single_faults
from riskkit.model.policy import Policy
from riskkit.model.records import Hazard
from riskkit.model.register import Register
from riskkit.model.upkeep import Unit
from riskkit.text.evidence_files import EvidenceFile
from riskkit.text.policies import DEFAULT_POLICY, shipped_policy
from riskkit.text.positions import without_garbage_collector
from riskkit.text.reader import Places, Reading

if TYPE_CHECKING:
    from riskkit.model.catalog import Entry


@dataclass(frozen=True)
class Assessment:
    """Everything worked out about one register on one day. No clock, no files, comparable."""

    reading: Reading
    context: Context
    report: Report
    waived: tuple[Waived, ...]
    revision: str = ""
    open_findings: tuple[tuple[str, Finding], ...] = ()
    """What the rules found and no waiver covers, each with the name of its rule."""

    @property
    def register(self) -> Register:
        """The records, with calculated limits and times in their places."""
        return self.context.register

    @property
    def places(self) -> Places:
        """Where everything stands."""
        return self.reading.places

    @property
    def policy(self) -> Policy:
        """The policy that the scores were worked out under."""
        return self.context.policy

    @property
    def today(self) -> datetime.date:
        """The day on which dates were judged."""
        return self.context.today

    @property
    def scores(self) -> Mapping[str, HazardScore]:
        """Scores by hazard id."""
        return self.context.scores

    @property
    def statuses(self) -> Mapping[str, Status]:
        """Derived status by hazard id."""
        return self.context.statuses

    @property
    def trace(self) -> Trace:
        """What points at what, and why."""
        return self.context.trace

    @property
    def shared(self) -> tuple[SharedElement, ...]:
        """Elements on which two or more controls of one hazard depend."""
        return self.context.shared

    @property
    def faults(self) -> tuple[SingleFault, ...]:
        """What each single failure starts and disables."""
        return self.context.faults

    @property
    def alarms(self) -> tuple[AlarmBudget, ...]:
        """Delays of each alarm against the time to harm."""
        return self.context.alarms

    @property
    def verdicts(self) -> Mapping[str, ResultVerdict]:
        """What each result says about the limits of its test, by result id."""
        return self.context.verdicts

    @property
    def supports(self) -> Mapping[str, Support]:
        """The likelihood that evidence supports, by hazard id."""
        return self.context.supports

    @property
    def samples(self) -> Mapping[str, SampleVerdict]:
        """What the sample of each test shows about the proportion that its plan claims, by test id."""
        return self.context.samples

    @property
    def worked(self) -> Mapping[str, Worked]:
        """Every calculation as its model works it out, by id."""
        return self.context.worked

    @property
    def trees(self) -> Mapping[str, WorkedTree]:
        """Every fault tree as it is worked out, by id."""
        return self.context.trees

    @property
    def freshness(self) -> Mapping[str, Freshness]:
        """Whether each result still speaks for what is there now, by id; replaced ones are left out."""
        return self.context.freshness

    @property
    def void(self) -> tuple[Signature, ...]:
        """Signatures that were given for something else than stands there now."""
        return self.context.void

    @property
    def fingerprints(self) -> Mapping[str, str]:
        """Content fingerprint by hazard id."""
        return self.context.fingerprints

    def story(self, id: str) -> tuple[str, ...]:
        """The chain behind a record, in sentences.

        Raises:
            KeyError: where there is no such record.
        """
        record = self.register.records[id]
        if isinstance(record, Hazard):
            told = hazard_story(
                record,
                self.register,
                self.policy,
                self.scores[id],
                self.statuses[id],
                self.alarms,
                self.verdicts,
                self.supports.get(id),
                {tree.id: self.trees[tree.id] for tree in tree_of(record, self.register)},
            )
        elif isinstance(record, Unit):
            rules = self.policy.evidence
            told = unit_story(record, self.register, rules, self.trace, self.verdicts, self.freshness)
        else:
            told = chain(
                self._staleness(id), record_story(record, self.register, self.trace, self.faults, self.verdicts)
            )
        return (*told, *source_sentence(record))

    def _staleness(self, result: str) -> Iterator[str]:
        found = self.freshness.get(result)
        if found is not None and found.is_stale:
            yield f"It is stale, and carries nothing: {found.because}."
        elif found is not None and found.lapses and found.excused is not None:
            held = found.excused
            yield f"It holds until {held.until}, as {held.by} judged ({held.because}), although {found.because}."

    def place_of(self, record: str) -> Place:
        """File and line of a record."""
        return self.places.of(record, key=True)


def assess(reading: Reading, *, today: datetime.date, policy: Policy | None = None, revision: str = "") -> Assessment:
    """Work out everything about a register.

    Args:
        reading: What was read; its own findings are part of the report.
        today: The day on which dates are judged.
        policy: Replaces the register's own policy; the shipped default is used where there is neither.
        revision: What the register is called in git, printed on paper.
    """
    with without_garbage_collector():
        suspects = reading.places.mentioning(is_suspicious)
        context = judge(reading.register, policy, today, suspects, reading.evidence, reading.catalog)
        kept, waived = apply(context, run(context))
        found = [_diagnostic(each, finding, reading.places) for each, finding in kept]
        standing = tuple((each.name, finding) for each, finding in kept)
        return Assessment(reading, context, Report.of([*reading.report, *found]), waived, revision, standing)


def judge(
    register: Register,
    policy: Policy | None,
    today: datetime.date,
    suspects: frozenset[str] | None = None,
    evidence: Mapping[str, EvidenceFile] | None = None,
    catalog: Mapping[str, tuple[Entry, ...]] | None = None,
) -> Context:
    """Everything that rules and paper look at, worked out once; `suspects` spares the wording rules the rest."""
    policy = policy or register.policy or shipped_policy(DEFAULT_POLICY)
    void = tuple(each for each in signatures(register) if each.is_void)
    register = without_void(register, void)
    worked = work_out_all(register)
    register = with_answers(register, worked)
    linked = trace(register)
    judged = verdicts(register, policy.evidence)
    fresh = freshness(register, worked, today)
    counting = by_test({id: each for id, each in judged.items() if not _has_lapsed(each, fresh)})
    trees = work_out_trees(register, control_evidence(register, policy, counting))
    register = with_likelihoods(register, trees)
    stated = scores(register, policy)
    supported = with_trees(supports(register, policy, stated, counting), register, policy, stated, counting)
    sampled = samples(register, policy.evidence, counting)
    return Context(
        register=register,
        policy=policy,
        today=today,
        trace=linked,
        scores=with_support(stated, {id: each.score for id, each in supported.items()}),
        statuses=statuses(register, today, counting, sampled, supported),
        shared=shared_elements(register),
        faults=single_faults(register),
        alarms=alarm_budgets(register),
        fingerprints=fingerprints(register, policy),
        verdicts=judged,
        supports=supported,
        samples=sampled,
        worked=worked,
        trees=trees,
        freshness=fresh,
        void=void,
        suspects=suspects,
        evidence=evidence,
        catalog=catalog,
    )


def compare(old: Reading, new: Reading, *, today: datetime.date, policy: Policy | None = None) -> Comparison:
    """Two states of a register, both judged on one day, so that only what was written makes a difference.

    Evidence files are not looked at on either side: an old revision has none in the folder.

    Args:
        old: What was read of the earlier state.
        new: What was read of the later one.
        today: The day on which dates are judged.
        policy: Replaces the policy of both.
    """
    then, now = (assess(replace(each, evidence=None), today=today, policy=policy) for each in (old, new))
    before, after = judged(then), judged(now)
    same_policy = before.policy == after.policy
    return Comparison(
        differences=differences(before, after),
        old_under_new=() if same_policy else moves(then.scores, judge(old.register, after.policy, today).scores),
        new_under_old=() if same_policy else moves(judge(new.register, before.policy, today).scores, now.scores),
        not_compared=tuple(sorted(not_compared(before, after))),
        open=(len(then.report.open), len(now.report.open)),
    )


def judged(assessment: Assessment) -> Judged:
    """What a comparison looks at."""
    homes = assessment.places.homes
    return Judged(
        assessment.register,
        assessment.policy,
        assessment.scores,
        tuple((found.rule, found.record, found.headline) for found in assessment.report.open),
        {id: each.answers for id, each in assessment.worked.items()},
        {id: home.document.name for id, home in homes.items()},
        frozenset(found.place.file for found in assessment.report.broken if not found.record),
    )


def _has_lapsed(verdict: ResultVerdict, fresh: Mapping[str, Freshness]) -> bool:
    """Whether a result carries nothing any more; one that does not meet its limit speaks until it is done again."""
    found = fresh.get(verdict.result)
    return found is not None and found.is_stale and verdict.word != "does not meet"


def _diagnostic(each: Rule, finding: Finding, places: Places) -> Diagnostic:
    related = tuple(Related(places.of(record, path), words) for record, path, words in finding.related)
    return Diagnostic(
        rule=each.name,
        severity=each.severity,
        headline=finding.headline,
        place=places.of(finding.record, finding.path),
        record="" if finding.record.startswith("section of ") else finding.record,
        help=finding.help,
        related=related,
        breaks=each.breaks,
    )
