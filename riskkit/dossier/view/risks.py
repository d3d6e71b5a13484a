"""The risk picture, single failures, shared elements, alarm budgets and controls, in words."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from riskkit.assess import Assessment
from riskkit.dossier.bars import alarm_bar
from riskkit.dossier.figures import Figure
from riskkit.dossier.matrix import risk_matrices
from riskkit.dossier.view import telling
from riskkit.dossier.view.gaps import Gap
from riskkit.dossier.view.telling import Teller, counted
from riskkit.judgement.alarms import AlarmBudget
from riskkit.judgement.scoring import Score
from riskkit.judgement.story import assumption_words
from riskkit.judgement.walk import dependencies
from riskkit.model.records import Control, Hazard
from riskkit.model.verification import Test


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell of the matrix as text: its region and the hazards that claim to lie there."""

    rank: int
    region: str
    hazards: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Row:
    """One likelihood level of the matrix as text."""

    level: str
    word: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class SevereEntry:
    """A hazard with severe harm in one line."""

    id: str
    title: str
    severity: str
    before: str
    claimed: str
    supported: str
    region: str
    status: str
    open: int


@dataclass(frozen=True, slots=True)
class Combination:
    """Something that several severe hazards hang on."""

    kind: str
    element: str
    is_record: bool
    title: str
    hazards: tuple[str, ...]


@dataclass(frozen=True)
class Picture:
    """Section 5: where the hazards stand and what must be weighed together."""

    figures: tuple[Figure, ...]
    supported: tuple[Figure, ...]
    carried: str
    columns: tuple[tuple[str, str], ...]
    rows: tuple[Row, ...]
    regions: tuple[tuple[int, str, int], ...]
    unscored: tuple[tuple[str, str], ...]
    severe: tuple[SevereEntry, ...]
    combinations: tuple[Combination, ...]
    severe_from: str


@dataclass(frozen=True, slots=True)
class Failure:
    """One element fails: what starts, what is disabled, what is left of each hazard that starts."""

    element: str
    title: str
    disables: tuple[str, ...]
    hazards: tuple[FailureOnHazard, ...]


@dataclass(frozen=True, slots=True)
class FailureOnHazard:
    """One hazard that a failure starts."""

    id: str
    mode: str | None
    severity: str
    disabled: tuple[str, ...]
    left: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Shared:
    """An element that several controls of one hazard need."""

    hazard: str
    element: str
    is_record: bool
    title: str
    controls: tuple[str, ...]
    starts: bool


@dataclass(frozen=True, slots=True)
class Alarm:
    """An alarm's chain of delays against the time a person has."""

    hazard: str
    control: str
    title: str
    verdict: str
    because: str
    late: bool | None
    overrun: float
    figure: Figure | None


@dataclass(frozen=True)
class FaultPicture:
    """Section 6: what one failure does."""

    left_with_nothing: tuple[tuple[str, str, str], ...]
    failures: tuple[Failure, ...]
    shared: tuple[Shared, ...]
    alarms: tuple[Alarm, ...]


@dataclass(frozen=True, slots=True)
class ControlLine:
    """One control with what it needs, how it fails, how that is noticed, what it brings."""

    id: str
    title: str
    kind: str
    why_not_higher: str | None
    depends: tuple[str, ...]
    supplied_by: tuple[str, ...]
    people: tuple[str, ...]
    fails_how: str | None
    noticed: str
    introduces: tuple[str, ...]
    introduces_words: str
    answers: tuple[str, ...]
    tests: tuple[str, ...]
    withdrawn: str | None


def picture(assessment: Assessment, tell: Teller, gaps: Mapping[str, tuple[Gap, ...]]) -> Picture:
    """The matrix, the severe entries, and what several of them share."""
    policy, register, scores = assessment.policy, assessment.register, assessment.scores
    standing: dict[tuple[str, str], list[str]] = defaultdict(list)
    by_region: dict[str, int] = defaultdict(int)
    unscored = []
    for hazard in register.hazards:
        score = scores[hazard.id]
        now = score.claimed or score.before
        if now is None:
            unscored.append((hazard.id, tell(score.problem or "no likelihood is stated", hazard.id)))
        else:
            standing[now.levels[0], now.severity].append(hazard.id)
            by_region[now.region] += 1
    rows = tuple(
        Row(
            tell(band.level, "policy"),
            tell(band.word, "policy"),
            tuple(
                Cell(
                    policy.region_rank(policy.matrix[band.level][step.level]) + 1,
                    tell(policy.matrix[band.level][step.level], "policy"),
                    tuple(standing.get((band.level, step.level), ())),
                )
                for step in policy.severity
            ),
        )
        for band in policy.likelihood.levels
    )
    return Picture(
        figures=risk_matrices(policy, scores.values()),
        supported=risk_matrices(
            policy, [score for score in scores.values() if score.supported is not None], ("claimed", "supported")
        ),
        carried=_carried(assessment),
        columns=tuple((tell(step.level, "policy"), tell(step.word, "policy")) for step in policy.severity),
        rows=rows,
        regions=tuple(
            (rank, tell(region.name, "policy"), by_region.get(region.name, 0))
            for rank, region in enumerate(policy.regions, start=1)
        ),
        unscored=tuple(unscored),
        severe=_severe(assessment, tell, gaps),
        combinations=_combinations(assessment, tell),
        severe_from=tell(policy.severity[policy.severe_rank].level, "policy"),
    )


def _severe_hazards(assessment: Assessment) -> list[Hazard]:
    """Severe hazards that are not claimed to be gone, severest first."""
    context = assessment.context
    severe = [
        hazard for hazard in assessment.register.hazards if context.is_severe(hazard) and not context.is_gone(hazard)
    ]
    return sorted(severe, key=lambda hazard: -assessment.policy.severity_rank(hazard.severity))


def _severe(assessment: Assessment, tell: Teller, gaps: Mapping[str, tuple[Gap, ...]]) -> tuple[SevereEntry, ...]:
    entries = []
    for hazard in _severe_hazards(assessment):
        score = assessment.scores[hazard.id]
        entries.append(
            SevereEntry(
                hazard.id,
                tell.name(hazard.title, hazard.id),
                tell(hazard.severity, hazard.id),
                _level(score.before, tell),
                _level(score.claimed, tell),
                _level(score.supported, tell),
                tell(score.region or "not scored", "policy"),
                assessment.statuses[hazard.id].word,
                len(gaps.get(hazard.id, ())),
            )
        )
    return tuple(entries)


def _carried(assessment: Assessment) -> str:
    """How many claims the evidence carries."""
    claimed = [id for id, score in assessment.scores.items() if score.claimed is not None and id in assessment.supports]
    carried = sum(not assessment.supports[id].falls_short for id in claimed)
    confidence = assessment.policy.evidence.confidence.written
    return f"The evidence on file carries {carried} of {counted(len(claimed), 'claim')}, at {confidence} confidence."


def _level(score: Score | None, tell: Teller) -> str:
    return tell(telling.levels(*score.levels), "policy") if score is not None else "not stated"


def _combinations(assessment: Assessment, tell: Teller) -> tuple[Combination, ...]:
    """Controls and elements on which two or more severe hazards hang, those with most hazards first."""
    register = assessment.register
    needs = dependencies(register)
    controls: dict[str, list[str]] = defaultdict(list)
    elements: dict[str, dict[str, None]] = defaultdict(dict)
    for hazard in _severe_hazards(assessment):
        for control in assessment.context.live_controls(hazard):
            controls[control.id].append(hazard.id)
            for element in sorted(needs.get(control.id, ())):
                elements[element][hazard.id] = None
    found = [("control", id, tuple(dict.fromkeys(hazards))) for id, hazards in controls.items()]
    found += [("element", id, tuple(hazards)) for id, hazards in elements.items()]
    ordered = sorted((each for each in found if len(each[2]) > 1), key=lambda each: (-len(each[2]), each[0], each[1]))
    return tuple(
        Combination(
            kind if id in register.records else "person",
            id if id in register.records else tell(id, "a control"),
            id in register.records,
            tell.name(register.title_of(id), id) if id in register.records else "",
            hazards,
        )
        for kind, id, hazards in ordered
    )


def fault_picture(assessment: Assessment, tell: Teller) -> FaultPicture:
    """Single failures, shared elements and alarm budgets."""
    register, policy = assessment.register, assessment.policy
    failures, nothing = [], []
    for fault in assessment.faults:
        title = tell.name(register.title_of(fault.element), fault.element)
        on_hazards = []
        for each in fault.hazards:
            hazard = register.get(each.hazard, Hazard)
            severity = tell(hazard.severity, each.hazard) if hazard is not None else ""
            on_hazards.append(
                FailureOnHazard(each.hazard, tell.maybe(each.mode, each.hazard), severity, each.disabled, each.left)
            )
            if not each.left:
                rank = policy.severity_rank(hazard.severity) if hazard is not None else -1
                nothing.append((-rank, fault.element, each.hazard, title))
        failures.append(Failure(fault.element, title, fault.disables, tuple(on_hazards)))
    shared = tuple(
        Shared(
            each.hazard,
            each.element if each.element in register.records else tell(each.element, each.hazard),
            each.element in register.records,
            tell.name(register.title_of(each.element), each.element)
            if each.element in register.records
            else "a person",
            each.controls,
            each.starts,
        )
        for each in assessment.shared
    )
    alarms = sorted((_alarm(budget, assessment, tell) for budget in assessment.alarms), key=_worst_alarm_first)
    return FaultPicture(
        tuple((element, hazard, title) for _, element, hazard, title in sorted(nothing)),
        tuple(failures),
        shared,
        tuple(alarms),
    )


def _worst_alarm_first(alarm: Alarm) -> tuple[int, float, str]:
    return ({True: 0, None: 1, False: 2}[alarm.late], -alarm.overrun, alarm.hazard)


def _alarm(budget: AlarmBudget, assessment: Assessment, tell: Teller) -> Alarm:
    register = assessment.register
    limit = budget.time_to_harm
    total = telling.seconds(budget.total_seconds)
    if budget.late is None:
        verdict = "cannot tell"
        missing = (*budget.missing, *(["the time to harm"] if limit is None else []))
        because = (
            f"not stated: {telling.listed(missing)}"
            if budget.missing
            else "every delay is stated, the time to harm is not"
        )
    else:
        verdict = "too late" if budget.late else "in time on paper"
        against = telling.seconds(limit.value) if limit is not None else ""
        because = f"{total} from fault to act, {against} until harm{assumption_words(budget.assumption, register)}"
    title = register.title_of(budget.control)
    words = f"until harm{assumption_words(budget.assumption, register)}"
    steps = [(name, delay.value) for name, delay in budget.steps]
    name = f"{budget.hazard}, {budget.control}"
    return Alarm(
        budget.hazard,
        budget.control,
        tell.name(title, budget.control),
        verdict,
        tell(because, budget.hazard),
        budget.late,
        budget.total_seconds - limit.value if limit is not None else 0.0,
        alarm_bar(name, steps, limit.value if limit else None, tell(words, budget.hazard)) if steps else None,
    )


def control_lines(assessment: Assessment, tell: Teller) -> tuple[ControlLine, ...]:
    """All controls in the order of the register, withdrawn ones included."""
    register = assessment.register
    needs = dependencies(register)
    answers: dict[str, list[str]] = defaultdict(list)
    for hazard in register.hazards:
        for id in dict.fromkeys(hazard.controls):
            answers[id].append(hazard.id)
    tests: dict[str, list[str]] = defaultdict(list)
    for test in register.of(Test):
        for id in test.proves:
            tests[id].append(test.id)
    return tuple(
        _control_line(control, tell, needs.get(control.id, frozenset()), answers[control.id], tests[control.id])
        for control in register.controls
    )


def _control_line(
    control: Control, tell: Teller, needs: frozenset[str], answers: Sequence[str], tests: Sequence[str]
) -> ControlLine:
    where = control.id
    withdrawn = control.withdrawn
    indirect = sorted(needs - set(control.depends_on) - set(control.people))
    return ControlLine(
        id=control.id,
        title=tell(control.title, where),
        kind=control.kind,
        why_not_higher=tell.maybe(control.why_not_higher, where),
        depends=control.depends_on,
        supplied_by=tuple(indirect),
        people=tell.each(control.people, where),
        fails_how=tell.maybe(control.fails_how, where),
        noticed=tell(_noticed(control), where),
        introduces=control.introduces or (),
        introduces_words="not answered"
        if control.introduces is None
        else "none found"
        if not control.introduces
        else "",
        answers=tuple(answers),
        tests=tuple(tests),
        withdrawn=tell(f"withdrawn on {withdrawn.on}: {withdrawn.because}", where) if withdrawn else None,
    )


def _noticed(control: Control) -> str:
    """Who or what notices that it has failed, whether it can be broken unnoticed, and how often someone looks."""
    said = []
    if control.noticed is not None:
        within = f", within {control.noticed.within.written}" if control.noticed.within else ""
        said.append(f"noticed: {control.noticed.how}{within}")
    if control.dormant is not None:
        said.append("can be broken unnoticed" if control.dormant else "tells by itself")
    if control.check_interval is not None:
        said.append(f"checked every {control.check_interval.written}")
    elif control.dormant:
        said.append("no check interval stated")
    return "; ".join(said) or "not stated who notices"
