"""What people took as true, saw, left, decided and said: sections 12 and 14."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from riskkit.assess import Assessment
from riskkit.dossier.view.telling import Teller
from riskkit.judgement.due import falls_due
from riskkit.judgement.fingerprints import fingerprint
from riskkit.model.fields import Parked
from riskkit.model.records import Hazard
from riskkit.model.upkeep import Comment, Decision, Observation, ReviewRole, Tombstone
from riskkit.model.verification import Assumption

DAYS_AHEAD = 90
"""Days for which section 12 lists what falls due; the longest that a waiver on severe harm may last."""


@dataclass(frozen=True, slots=True)
class AssumptionLine:
    """Something taken as true, with what stands or falls with it."""

    id: str
    text: str
    because: str | None
    owner: str
    confirmed: str
    until: str
    how_to_test: str
    leaning: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ObservationLine:
    """Something seen on the bench and what came of it."""

    id: str
    on: str
    age: int
    text: str
    by: str
    unit: str | None
    became: tuple[str, ...]
    answer: str
    due: str


@dataclass(frozen=True, slots=True)
class ParkedLine:
    """Something deliberately left."""

    id: str
    title: str
    reason: str
    owner: str
    until: str
    over: bool


@dataclass(frozen=True, slots=True)
class DecisionLine:
    """A dated decision and whether each entry still says what it said then."""

    id: str
    on: str
    by: str
    because: str
    until: str
    covers: tuple[tuple[str, str, str, str], ...]


@dataclass(frozen=True, slots=True)
class DueLine:
    """Something that falls due: the last day on which it holds, what, who, and whether that day has passed."""

    day: str
    record: str
    what: str
    todo: str
    who: str
    over: bool


@dataclass(frozen=True, slots=True)
class VoidLine:
    """A signature that was given for something else than stands there now."""

    record: str
    what: str
    by: str
    then: str
    now: str


@dataclass(frozen=True)
class Ledger:
    """Section 12."""

    due: tuple[DueLine, ...]
    later: int
    void: tuple[VoidLine, ...]
    assumptions: tuple[AssumptionLine, ...]
    observations: tuple[ObservationLine, ...]
    parked: tuple[ParkedLine, ...]
    decisions: tuple[DecisionLine, ...]
    tombstones: tuple[tuple[str, str, str, str], ...]


@dataclass(frozen=True, slots=True)
class CommentLine:
    """What a reviewer said and what was done about it."""

    id: str
    on: str
    by: str
    weight: str
    about: tuple[str, ...]
    text: str
    answer: str
    answered: bool


@dataclass(frozen=True)
class Review:
    """Section 14."""

    comments: tuple[CommentLine, ...]
    roles: tuple[tuple[str, str, bool, str, int], ...]
    unseen_by_clinician: tuple[tuple[str, str], ...]
    answered: int


def ledger(assessment: Assessment, tell: Teller) -> Ledger:
    """Section 12: assumptions, observations, parked items, decisions, ids that are gone."""
    register = assessment.register
    due = falls_due(register, assessment.policy)
    waiting = {each.record: each.day for each in due if each.kind == "observation"}
    soon = [each for each in due if (each.day - assessment.today).days <= DAYS_AHEAD]
    return Ledger(
        due=tuple(
            DueLine(
                each.day.isoformat(),
                each.record,
                tell(each.what.removeprefix(f"{each.record} "), each.record),
                tell.finding(each.todo, each.record),
                tell(each.who or "nobody is named", each.record),
                each.day < assessment.today,
            )
            for each in soon
        ),
        later=len(due) - len(soon),
        void=tuple(
            VoidLine(
                each.record,
                tell.finding(each.what, each.record),
                tell(each.by or "nobody is named", each.record),
                tell(each.stored, each.record),
                each.now or "no longer asked",
            )
            for each in assessment.void
        ),
        assumptions=tuple(_assumption(each, assessment, tell) for each in register.of(Assumption)),
        observations=tuple(
            _observation(each, waiting.get(each.id), assessment, tell) for each in register.of(Observation)
        ),
        parked=_parked(assessment, tell),
        decisions=tuple(_decision(each, assessment, tell) for each in register.of(Decision)),
        tombstones=tuple(
            (each.id, tell(each.was, each.id), each.on.isoformat(), tell(each.because, each.id))
            for each in register.of(Tombstone)
        ),
    )


def _assumption(assumption: Assumption, assessment: Assessment, tell: Teller) -> AssumptionLine:
    where, until = assumption.id, assumption.until
    over = until is not None and until < assessment.today
    return AssumptionLine(
        id=assumption.id,
        text=tell(assumption.text, where),
        because=tell.maybe(assumption.because, where),
        owner=tell(assumption.owner or "nobody", where),
        confirmed=f"confirmed {assumption.confirmed}" if assumption.confirmed else "not confirmed",
        until="no end stated" if until is None else f"{until}{' (over)' if over else ''}",
        how_to_test=tell(assumption.how_to_test or "not stated", where),
        leaning=tuple(chain.record for chain in assessment.trace.leaning_on(assumption.id)),
    )


def _observation(
    observation: Observation, waits_until: datetime.date | None, assessment: Assessment, tell: Teller
) -> ObservationLine:
    where = observation.id
    if observation.no_hazard_because:
        answer = f"no hazard, because {observation.no_hazard_because}"
    elif observation.parked:
        answer = f"parked until {observation.parked.until}: {observation.parked.reason}"
    else:
        answer = "" if observation.became else "not answered"
    over = waits_until is not None and waits_until < assessment.today
    due = "" if waits_until is None else f"answer due {waits_until}{' (over)' if over else ''}"
    return ObservationLine(
        id=observation.id,
        on=observation.on.isoformat(),
        age=(assessment.today - observation.on).days,
        text=tell(observation.text, where),
        by=tell(observation.by or "not stated", where),
        unit=observation.unit,
        became=observation.became,
        answer=tell(answer, where),
        due=due,
    )


def _parked(assessment: Assessment, tell: Teller) -> tuple[ParkedLine, ...]:
    lines = []
    for record in assessment.register.records.values():
        parked = getattr(record, "parked", None)
        if isinstance(parked, Parked):
            lines.append(
                ParkedLine(
                    record.id,
                    tell.name(assessment.register.title_of(record.id), record.id),
                    tell(parked.reason, record.id),
                    tell(parked.owner, record.id),
                    parked.until.isoformat(),
                    parked.until < assessment.today,
                )
            )
    return tuple(sorted(lines, key=lambda line: line.until))


def _decision(decision: Decision, assessment: Assessment, tell: Teller) -> DecisionLine:
    where = decision.id
    covers = []
    for id, then in decision.covers.items():
        if assessment.register.get(id, Hazard) is None:
            covers.append((id, "", tell(then, where), "the entry is not in the register"))
            continue
        now = assessment.fingerprints.get(id) or fingerprint(assessment.register, assessment.policy, id)
        state = "the entry says what it said then" if then == now else f"void: the entry has changed since (now {now})"
        covers.append((id, tell.name(assessment.register.title_of(id), id), tell(then, where), state))
    until = decision.until
    over = until is not None and until < assessment.today
    return DecisionLine(
        id=decision.id,
        on=decision.on.isoformat(),
        by=tell(decision.by, where),
        because=tell(decision.because, where),
        until="no end stated" if until is None else f"{until}{' (over)' if over else ''}",
        covers=tuple(covers),
    )


def review(assessment: Assessment, tell: Teller) -> Review:
    """Section 14: comments with answers, reviewers by role, severe entries that no clinician has looked at."""
    register, context = assessment.register, assessment.context
    comments = register.of(Comment)
    order = {"major": 0, "question": 1, "minor": 2}
    lines = sorted((_comment(each, tell) for each in comments), key=lambda line: (line.answered, order[line.weight]))
    roles = register.of(ReviewRole)
    clinical = {role.role for role in roles if role.clinician}
    seen = {id for comment in comments if comment.by in clinical for id in comment.about}
    unseen = [hazard for hazard in register.hazards if context.is_severe(hazard) and hazard.id not in seen]
    return Review(
        comments=tuple(lines),
        roles=tuple(
            (
                tell(role.role, role.id),
                tell("; ".join(role.field) or "not stated", role.id),
                role.clinician,
                role.id,
                sum(comment.by == role.role for comment in comments),
            )
            for role in roles
        ),
        unseen_by_clinician=tuple((hazard.id, tell.name(hazard.title, hazard.id)) for hazard in unseen),
        answered=sum(line.answered for line in lines),
    )


def _comment(comment: Comment, tell: Teller) -> CommentLine:
    where, disposition = comment.id, comment.disposition
    if disposition is None:
        answer = "not answered"
    else:
        said: list[str] = [disposition.kind]
        for label, value in (
            ("changed", disposition.change),
            ("because", disposition.reason),
            ("owner", disposition.owner),
            ("until", disposition.until),
        ):
            if value is not None:
                said.append(f"{label}: {value}")
        answer = "; ".join(said)
    return CommentLine(
        comment.id,
        comment.on.isoformat(),
        tell(comment.by, where),
        comment.weight,
        comment.about,
        tell(comment.text, where),
        tell(answer, where),
        disposition is not None,
    )
