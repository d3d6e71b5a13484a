"""One hazard as it is read: its story, its scores with reasons, what stands between, what shows that."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from riskkit.assess import Assessment
from riskkit.dossier.chains import Chain, Node
from riskkit.dossier.figures import Figure
from riskkit.dossier.matrix import position
from riskkit.dossier.view import telling
from riskkit.dossier.view.gaps import Gap
from riskkit.dossier.view.telling import Teller
from riskkit.judgement.scoring import Score
from riskkit.judgement.story import assumption_words, budget_sentence
from riskkit.judgement.support import Support
from riskkit.model.fields import Probability
from riskkit.model.records import Control, Hazard, Likelihood
from riskkit.model.register import Register
from riskkit.model.verification import Result, Test

MOST_NODES = 40
"""Boxes that can still be read on one page."""

MOST_IN_COLUMN = 18
"""Boxes one below the other that can be read when the figure is shrunk to a page."""

SUPPORTED = "supported by evidence"

SHOWS = "is meant to show"
RESULT_OF = "is a result of"
TRIED_BY = "is tried by"
"""Relations as the model words them."""

KINDS: Mapping[str, str] = MappingProxyType(
    {
        "parts": "part",
        "functions": "function",
        "use_steps": "use step",
        "energy_sources": "energy",
        "hazards": "hazard",
        "controls": "control",
        "tests": "test",
        "results": "result",
        "instruments": "instrument",
        "calculations": "calculation",
        "assumptions": "assumption",
        "observations": "observation",
        "decisions": "decision",
        "waivers": "waiver",
        "comments": "comment",
        "units": "unit",
        "gates": "gate",
    }
)
"""Section of a record -> the word for one of its records."""


@dataclass(frozen=True, slots=True)
class ScoreLine:
    """One position in the matrix, in words."""

    stage: str
    p1: str
    p2: str
    p: str
    severity: str
    level: str
    region: str
    because: str


@dataclass(frozen=True, slots=True)
class Between:
    """A control that answers the hazard, with what it needs and what speaks for it."""

    id: str
    title: str
    kind: str
    depends: tuple[str, ...]
    people: tuple[str, ...]
    presence: tuple[str, ...]
    effect: tuple[str, ...]
    withdrawn: str | None


@dataclass(frozen=True, slots=True)
class Tried:
    """A test that tries the hazard or speaks for one of its controls."""

    id: str
    title: str
    limit: str
    results: tuple[str, ...]
    parked: str | None


@dataclass(frozen=True, slots=True)
class HazardBlock:
    """Everything that the register section prints about one hazard."""

    id: str
    title: str
    condition: str
    severity: str
    severity_word: str
    is_severe: bool
    harm: str
    harm_because: str | None
    source: str | None
    causes: tuple[tuple[str, str, str | None], ...]
    sequence: tuple[str, ...]
    situation: str | None
    status: str
    status_because: str
    scores: tuple[ScoreLine, ...]
    support: tuple[str, ...]
    problem: str | None
    time_to_harm: str | None
    alarms: tuple[str, ...]
    controls: tuple[Between, ...]
    tests: tuple[Tried, ...]
    leans: tuple[str, ...]
    remarks: tuple[tuple[str, str], ...]
    gaps: tuple[Gap, ...]
    position: Figure | None
    chain: Chain


def hazard_blocks(assessment: Assessment, tell: Teller, gaps: Mapping[str, tuple[Gap, ...]]) -> tuple[HazardBlock, ...]:
    """All hazards in the order of the register."""
    desk = _Desk(assessment, tell)
    return tuple(_block(hazard, desk, gaps.get(hazard.id, ())) for hazard in assessment.register.hazards)


class _Desk:
    """What every block looks at, worked out once."""

    def __init__(self, assessment: Assessment, tell: Teller) -> None:
        self.assessment = assessment
        self.tell = tell
        self.register = assessment.register
        self.results: dict[str, list[Result]] = defaultdict(list)
        for result in self.register.results:
            self.results[result.test].append(result)
        self.speaking: dict[str, list[Test]] = defaultdict(list)
        for test in self.register.tests:
            for control in test.proves:
                self.speaking[control].append(test)


def _block(hazard: Hazard, desk: _Desk, gaps: tuple[Gap, ...]) -> HazardBlock:
    tell, policy, where = desk.tell, desk.assessment.policy, hazard.id
    status, score = desk.assessment.statuses[hazard.id], desk.assessment.scores[hazard.id]
    rank = policy.severity_rank(hazard.severity)
    controls = tuple(desk.register.all_of(dict.fromkeys(hazard.controls), Control))
    return HazardBlock(
        id=hazard.id,
        title=tell(hazard.title, where),
        condition=telling.listed(hazard.condition),
        severity=tell(hazard.severity, where),
        severity_word=tell(policy.severity[rank].word, "policy") if rank >= 0 else "not on the scale",
        is_severe=desk.assessment.context.is_severe(hazard),
        harm=tell(hazard.harm.text, where),
        harm_because=tell.maybe(hazard.harm.because, where),
        source=tell.maybe(hazard.source, where),
        causes=tuple(
            (cause.by, tell.name(desk.register.title_of(cause.by), cause.by), tell.maybe(cause.mode, where))
            for cause in hazard.causes
        ),
        sequence=tell.each(hazard.sequence, where),
        situation=tell.maybe(hazard.situation, where),
        status=status.word,
        status_because=tell(status.because, where),
        scores=_score_lines(hazard, desk),
        support=_support_sentences(desk.assessment.supports.get(where), tell, where),
        problem=tell.maybe(score.problem, where),
        time_to_harm=_time_to_harm(hazard, desk),
        alarms=tuple(
            tell(budget_sentence(budget, desk.register), where)
            for budget in desk.assessment.alarms
            if budget.hazard == hazard.id
        ),
        controls=tuple(_between(control, desk) for control in controls),
        tests=_tried(hazard, controls, desk),
        leans=tuple(dict.fromkeys((*hazard.assumptions, *hazard.calculations))),
        remarks=_remarks(hazard, tell),
        gaps=gaps,
        position=position(policy, score) if score.before is not None or score.claimed is not None else None,
        chain=surroundings(hazard, desk.assessment, tell),
    )


def _score_lines(hazard: Hazard, desk: _Desk) -> tuple[ScoreLine, ...]:
    score, stated = desk.assessment.scores[hazard.id], hazard.likelihood
    lines = []
    for stage, position_, likelihood in (
        ("before controls", score.before, stated.before),
        ("claimed now", score.claimed, stated.claimed),
        (SUPPORTED, score.supported, None),
    ):
        if position_ is not None:
            line = _score_line(stage, position_, likelihood, hazard.id, desk.tell)
            support = desk.assessment.supports.get(hazard.id)
            if stage == SUPPORTED and support is not None:
                line = replace(line, because=desk.tell.finding(support.because, hazard.id), p=_at_most(line.p))
            lines.append(line)
    return tuple(lines)


def _at_most(p: str) -> str:
    return f"at most {p}" if p else ""


def _support_sentences(support: Support | None, tell: Teller, where: str) -> tuple[str, ...]:
    """What carries nothing and why, and what would carry the claim."""
    if support is None:
        return ()
    said = [f"{control} carries nothing: {why}." for control, why in support.set_aside]
    if support.needed:
        said.append(f"Less is supported than is claimed. What would carry the claim: {support.needed}.")
    return tuple(tell.finding(words, where) for words in said)


def _score_line(stage: str, score: Score, likelihood: Likelihood | None, where: str, tell: Teller) -> ScoreLine:
    def written(ends: tuple[Probability, Probability] | None) -> str:
        if not ends:
            return ""
        return telling.probability_range(*(end.exact for end in ends))

    return ScoreLine(
        stage=stage,
        p1=written(likelihood.p1) if likelihood else "",
        p2=written(likelihood.p2) if likelihood else "",
        p=telling.probability_range(*score.p) if score.p is not None else "",
        severity=tell(score.severity, where),
        level=tell(telling.levels(*score.levels), where),
        region=tell(telling.listed(score.regions), "policy"),
        because=tell(likelihood.because or "", where) if likelihood else "",
    )


def _time_to_harm(hazard: Hazard, desk: _Desk) -> str | None:
    stated = hazard.time_to_harm
    if stated is None or stated.value is None:
        return None
    source = f", from calculation {stated.calculation}" if stated.calculation else ""
    return desk.tell(f"{stated.value.written}{source}{assumption_words(stated.assumption, desk.register)}", hazard.id)


def _between(control: Control, desk: _Desk) -> Between:
    tests = desk.speaking.get(control.id, [])
    withdrawn = control.withdrawn
    return Between(
        control.id,
        desk.tell.name(control.title, control.id),
        control.kind,
        control.depends_on,
        desk.tell.each(control.people, control.id),
        tuple(test.id for test in tests if "implementation" in test.shows),
        tuple(test.id for test in tests if "effectiveness" in test.shows),
        desk.tell(f"withdrawn on {withdrawn.on}: {withdrawn.because}", control.id) if withdrawn else None,
    )


def _tried(hazard: Hazard, controls: Sequence[Control], desk: _Desk) -> tuple[Tried, ...]:
    speaking = (test.id for control in controls for test in desk.speaking.get(control.id, ()))
    tests = desk.register.all_of(dict.fromkeys((*hazard.tests, *speaking)), Test)
    return tuple(
        Tried(
            test.id,
            desk.tell.name(test.title, test.id),
            desk.tell("; ".join(limit.sentence() for limit in test.limit) or "no limit stated", test.id),
            tuple(result.id for result in desk.results.get(test.id, ())),
            desk.tell(f"parked until {test.parked.until}", test.id) if test.parked else None,
        )
        for test in tests
    )


def _remarks(hazard: Hazard, tell: Teller) -> tuple[tuple[str, str], ...]:
    where = hazard.id
    said = []
    if hazard.parked is not None:
        parked = hazard.parked
        said.append(("Parked", f"until {parked.until} by {parked.owner}: {parked.reason}"))
    for label, text in (("Owner", hazard.owner), ("Found by", hazard.origin), ("Note", hazard.notes)):
        if text is not None:
            said.append((label, text))
    return tuple((label, tell(text, where)) for label, text in said)


# -- the figure ---------------------------------------------------------------------------------------


def surroundings(hazard: Hazard, assessment: Assessment, tell: Teller, most: int = MOST_NODES) -> Chain:
    """What is drawn round a hazard: its causes and controls, what these need and bring, tests, assumptions.

    The most telling records come first, so that what is left out of a large register stands farthest away.
    Results on file are named in the box of their test; everything else stands in the entries themselves.
    """
    trace, register = assessment.trace, assessment.register
    near = [link.target for link in trace.outgoing(hazard.id) if link.leans]
    controls = [id for id in near if register.section_of(id) == "controls"]
    speaking = [link for id in controls for link in trace.incoming(id) if link.relation == SHOWS]
    needs = [link.target for id in controls for link in trace.outgoing(id)]
    order = dict.fromkeys((hazard.id, *controls, *near, *(link.source for link in speaking), *needs))
    kept = _readable(tuple(order), frozenset(near), register)[:most]
    through = frozenset(link.source for link in speaking)
    links: dict[tuple[str, str], str] = {}
    for link in (*trace.outgoing(hazard.id), *speaking, *(each for id in controls for each in trace.outgoing(id))):
        # A test that hangs on a control of this hazard needs no second arrow from the hazard.
        repeats = link.relation == TRIED_BY and link.target in through
        if link.source in kept and link.target in kept and link.source != link.target and not repeats:
            links.setdefault((link.source, link.target), link.relation)
    return Chain(
        hazard.id,
        tuple(_node(id, assessment, tell) for id in kept),
        tuple((source, target, words) for (source, target), words in links.items()),
        len(order) - len(kept),
    )


def _readable(order: tuple[str, ...], near: frozenset[str], register: Register) -> tuple[str, ...]:
    """Records that still can be read in the column in which they will stand: causes, answers, proofs and needs."""
    kept = []
    filled = {"causes": 0, "answers": 0, "proofs": 0}
    for id in order:
        if id in near:
            column = "answers" if register.section_of(id) in ("controls", "tests") else "causes"
        else:
            column = "proofs"
        if filled[column] < MOST_IN_COLUMN:
            filled[column] += 1
            kept.append(id)
    return tuple(kept)


def _node(id: str, assessment: Assessment, tell: Teller) -> Node:
    register = assessment.register
    record = register.records[id]
    kind = KINDS.get(record.SECTION, "record")
    remark = ""
    if isinstance(record, Control):
        kind = f"{record.kind} control"
    if isinstance(record, Test):
        found = [link.source for link in assessment.trace.incoming(id) if link.relation == RESULT_OF]
        remark = f"on file: {', '.join(found)}" if found else "no result on file"
    return Node(id, record.SECTION, kind, tell.name(register.title_of(id), id), remark)
