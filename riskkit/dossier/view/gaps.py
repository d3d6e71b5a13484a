"""The open list: every finding in words, worst first, and which hazards it weakens."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

from riskkit.assess import Assessment
from riskkit.checks import Finding, Rule
from riskkit.diagnostics import Diagnostic, Severity
from riskkit.dossier.view.telling import RemovedClaim, Teller, shown
from riskkit.model.records import Hazard
from riskkit.model.upkeep import Waiver


@dataclass(frozen=True, slots=True)
class Gap:
    """One open finding as it is printed.

    Attributes:
        number: Place on the open list, from 1.
        weight: `unreadable`, `error`, `warning` or `note`.
        harm: Severity level and word of the worst hazard that it weakens; empty where none is.
        record: Id of the record it is about.
        headline: What is missing; the id of the record stands in front of it.
        help: What to type.
        place: File and line.
        rule: Name of the rule.
        related: Other places, with words.
    """

    number: int
    weight: str
    harm: str
    record: str
    headline: str
    help: str
    place: str
    rule: str
    related: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WaivedGap:
    """A finding that the project leaves open on purpose."""

    waiver: str
    rule: str
    record: str
    headline: str
    because: str
    by: str
    second: str | None
    since: str
    until: str


@dataclass(frozen=True)
class OpenList:
    """Everything that asks for something, and what was said about it."""

    gaps: tuple[Gap, ...]
    notes: tuple[Gap, ...]
    waived: tuple[WaivedGap, ...]
    removed: tuple[RemovedClaim, ...]
    counts: tuple[tuple[str, int], ...]
    of_hazard: Mapping[str, tuple[Gap, ...]]

    @property
    def is_empty(self) -> bool:
        """True where nothing asks for anything."""
        return not self.gaps and not self.removed and not self.waived


def open_list(assessment: Assessment, tell: Teller) -> OpenList:
    """Number every finding, worst first: what cannot be read, then the severest harm, then errors before warnings."""
    concerned = hazards_of_records(assessment)

    def harm(found: Diagnostic) -> int:
        ids = concerned.get(found.record, ())
        hazards = assessment.register.all_of(ids, Hazard)
        return max((assessment.policy.severity_rank(hazard.severity) for hazard in hazards), default=-1)

    found = sorted(assessment.report.open, key=lambda each: (not each.breaks, -harm(each), each.sort_key))
    gaps = tuple(_gap(number, each, harm(each), assessment, tell) for number, each in enumerate(found, start=1))
    rest = [each for each in assessment.report if each.severity is Severity.NOTE]
    notes = tuple(_gap(number, each, harm(each), assessment, tell) for number, each in enumerate(rest, start=1))
    of_hazard: dict[str, list[Gap]] = defaultdict(list)
    for gap in gaps:
        for id in concerned.get(gap.record, ()):
            of_hazard[id].append(gap)
    counts = assessment.report.counts()
    return OpenList(
        gaps,
        notes,
        tuple(_waived(each.waiver, each.rule, each.finding, tell) for each in assessment.waived),
        tell.removed,
        tuple((word, counts[word]) for word in ("error", "warning")),
        {id: tuple(found) for id, found in of_hazard.items()},
    )


def hazards_of_records(assessment: Assessment) -> Mapping[str, tuple[str, ...]]:
    """Record -> hazards that are weaker when something is missing in that record.

    A hazard leans on its live controls, on the tests that try it or speak for those controls, on
    the results of these tests, and on the assumptions and calculations that it names.
    """
    register = assessment.register
    results: dict[str, list[str]] = defaultdict(list)
    for result in register.results:
        results[result.test].append(result.id)
    tests: dict[str, list[str]] = defaultdict(list)
    for test in register.tests:
        for control in test.proves:
            tests[control].append(test.id)
    concerned: dict[str, dict[str, None]] = defaultdict(dict)
    for hazard in register.hazards:
        controls = [control.id for control in assessment.context.live_controls(hazard)]
        tried = dict.fromkeys((*hazard.tests, *(test for control in controls for test in tests[control])))
        read = [result for test in tried for result in results[test]]
        leaning = [*hazard.assumptions, *hazard.calculations]
        if hazard.time_to_harm is not None:
            leaning.extend(id for id in (hazard.time_to_harm.assumption, hazard.time_to_harm.calculation) if id)
        for record in (hazard.id, *controls, *tried, *read, *leaning):
            concerned[record][hazard.id] = None
    return {record: tuple(hazards) for record, hazards in concerned.items()}


def _gap(number: int, found: Diagnostic, harm: int, assessment: Assessment, tell: Teller) -> Gap:
    step = assessment.policy.severity[harm] if harm >= 0 else None
    where = f"the finding about {found.record}" if found.record else "a finding"
    return Gap(
        number,
        "unreadable" if found.breaks else found.severity.word,
        f"{step.level} {step.word}" if step is not None else "",
        found.record,
        _without_id(tell.finding(found.headline, where), found.record),
        tell.finding(found.help, where),
        shown(str(found.place)),
        found.rule,
        tuple(f"{tell.finding(related.words, where)}: {shown(str(related.place))}" for related in found.related),
    )


def _waived(waiver: Waiver, rule: Rule, finding: Finding, tell: Teller) -> WaivedGap:
    return WaivedGap(
        waiver.id,
        rule.name,
        finding.record,
        _without_id(tell.finding(finding.headline, waiver.id), finding.record),
        tell(waiver.because, waiver.id),
        tell(waiver.by, waiver.id),
        tell.maybe(waiver.second, waiver.id),
        waiver.on.isoformat(),
        waiver.until.isoformat(),
    )


def _without_id(headline: str, record: str) -> str:
    """A headline that begins with the id of its record, without it: the id stands in front of it on paper."""
    return headline.removeprefix(f"{record} ") if record else headline
