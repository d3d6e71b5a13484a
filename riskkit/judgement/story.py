"""The chain behind one record as a short story, in plain sentences, for `why` and for paper."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from riskkit.judgement.alarms import AlarmBudget
from riskkit.judgement.fault_trees import WorkedTree
from riskkit.judgement.listing import with_and
from riskkit.judgement.scoring import HazardScore, Score
from riskkit.judgement.status import Status
from riskkit.judgement.support import Support
from riskkit.judgement.trace import Trace
from riskkit.judgement.verdicts import ResultVerdict
from riskkit.judgement.walk import SingleFault
from riskkit.model.fields import Adopted, Record
from riskkit.model.policy import Policy
from riskkit.model.records import Control, Hazard
from riskkit.model.register import Register
from riskkit.model.verification import Assumption, Result, Test


def hazard_story(
    hazard: Hazard,
    register: Register,
    policy: Policy,
    score: HazardScore,
    status: Status,
    alarms: tuple[AlarmBudget, ...],
    verdicts: Mapping[str, ResultVerdict],
    support: Support | None,
    trees: Mapping[str, WorkedTree],
) -> Iterator[str]:
    """Source -> sequence -> situation -> harm -> what stands between -> what tried it -> where it lies.

    `trees` are the fault trees of this hazard, by id.
    """
    if hazard.source:
        yield f"What can harm: {hazard.source}."
    if hazard.causes:
        causes = [
            f"{cause.by} ({_words(register, cause.by)}{', ' + cause.mode if cause.mode else ''})"
            for cause in hazard.causes
        ]
        yield f"It starts with {with_and(causes)}, in {with_and(hazard.condition)} condition."
    if hazard.sequence:
        yield f"Then: {'; '.join(hazard.sequence)}."
    if hazard.situation:
        yield f"Someone is exposed: {hazard.situation}."
    word = _severity_word(policy, hazard.severity)
    yield f"Harm: {hazard.harm.text} (severity {hazard.severity}{word}{_because(hazard.harm.because)})."
    yield from _time_to_harm(hazard, register)
    live = [control for control in register.all_of(hazard.controls, Control) if control.withdrawn is None]
    if not live:
        yield "Nothing stands between."
    for control in live:
        yield _stands_between(control, register, hazard)
    for budget in alarms:
        if budget.hazard == hazard.id:
            yield budget_sentence(budget, register)
    for id, worked in trees.items():
        yield tree_sentence(id, worked, policy.likelihood.exposure)
    yield from _tried(hazard, register, verdicts)
    yield from _lies(score, support)
    yield f"Status: {status.word}; {status.because}."


def tree_sentence(id: str, worked: WorkedTree, exposure: str) -> str:
    """What a fault tree gives for its top, with its controls as they are, and what brings the top about alone.

    "By the numbers given in it, fault tree FT02 comes to 1.49e-09 per transfer for `hood at the pressure of the blower`;
    no event alone brings it about, at least four must happen together."
    """
    from riskkit.faults.saying import say_limits, say_number, say_probability

    analysis = worked.analysis
    if analysis is None:
        return f"Fault tree {id} cannot be worked out: {worked.problem}."
    top = f"`{worked.sheet.words(worked.sheet.top)}`"
    if worked.unknown:
        count = len(worked.unknown)
        text = (
            f"Fault tree {id} gives no number for {top}: {count} of its events {'has' if count == 1 else 'have'} none"
        )
    elif analysis.exact is not None:
        text = f"By the numbers given in it, fault tree {id} comes to {say_probability(analysis.exact)} {exposure} for {top}"
    else:
        text = f"By the numbers given in it, fault tree {id} comes to {say_limits(analysis.bounds)} {exposure} for {top}, not exact"
    alone = [f"`{worked.titles.get(name, name)}`" for name in worked.single_points]
    least = min(analysis.orders, default=None)
    if alone:
        text += f"; {_some(alone)} {'brings' if len(alone) == 1 else 'bring'} it about alone"
    elif least == 0:
        text += "; nothing has to fail for it: it comes about by what is taken as certain"
    elif least is not None and least > 1:
        text += f"; no event alone brings it about, at least {say_number(least)} must happen together"
    return f"{text}."


def budget_sentence(budget: AlarmBudget, register: Register) -> str:
    """The delays of an alarm against the time to harm, and whose assumption that time is."""
    steps = " + ".join(f"{delay.value:g} {name}" for name, delay in budget.steps)
    text = (
        f"{budget.control} takes {budget.total_seconds:g} s from the fault to the act ({steps})"
        if steps
        else f"{budget.control} states no delays"
    )
    if budget.missing:
        text += f", without {with_and(budget.missing)}"
    if budget.time_to_harm is not None:
        text += f"; {budget.time_to_harm.value:.3g} s until harm"
        text += assumption_words(budget.assumption, register)
    return f"{text}."


def assumption_words(id: str | None, register: Register) -> str:
    """ " (by A01, an assumption that its owner, the emergency physician, has not confirmed)"."""
    assumption = register.get(id, Assumption) if id else None
    if assumption is None:
        return ", by nobody's stated assumption"
    if assumption.owner is None:
        return f", by assumption {id}, which nobody owns"
    if assumption.confirmed is None:
        return f", by assumption {id}, not yet confirmed by its owner ({assumption.owner})"
    return f", by assumption {id} (owner: {assumption.owner})"


def fault_sentence(fault: SingleFault, register: Register) -> str:
    """What one failure starts and what it disables at the same time."""
    name = f"{fault.element} ({register.title_of(fault.element)})"
    starts = f"starts {with_and(fault.starts)}" if fault.starts else "starts no listed hazard"
    disables = f"disables {with_and(fault.disables)}" if fault.disables else "disables no control"
    return f"When {name} fails, it {starts} and {disables}."


def source_sentence(record: Record) -> Iterator[str]:
    """Which catalog entry a record was taken from and what is open about it; nothing where it was not."""
    source = getattr(record, "adopted", None)
    if not isinstance(source, Adopted):
        return
    through = f", found through {source.through}" if source.through is not None else ""
    count = len(source.open)
    left = f"; {'one thing has' if count == 1 else f'{count} things have'} still to be found out" if count else ""
    yield f"It was taken from {source.entry}, version {source.version}, catalog {source.catalog}{through}{left}."


def record_story(
    record: Record,
    register: Register,
    trace: Trace,
    faults: tuple[SingleFault, ...],
    verdicts: Mapping[str, ResultVerdict],
) -> Iterator[str]:
    """Any other record: what it says, what it points at, what points at it, what leans on it."""
    if isinstance(record, Control):
        yield (
            f"A {record.kind} control."
            if record.withdrawn is None
            else f"Withdrawn on {record.withdrawn.on}: {record.withdrawn.because}."
        )
        if record.fails_how:
            yield f"It fails like this: {record.fails_how}."
        if record.noticed:
            within = f", within {record.noticed.within.written}" if record.noticed.within else ""
            yield f"That is noticed by {record.noticed.how}{within}."
    if isinstance(record, Test):
        for limit in record.limit:
            yield f"Limit: {limit.sentence()}."
    if isinstance(record, Result):
        yield from _readings(record)
        verdict = verdicts.get(record.id)
        if verdict is not None:
            for each in verdict.limits:
                yield f"{each.limit.sentence()}: {each.word}; {each.because}."
    for fault in faults:
        if fault.element == record.id:
            yield fault_sentence(fault, register)
    for link in trace.outgoing(record.id):
        yield f"{link.sentence()} ({register.title_of(link.target)})."
    for link in trace.incoming(record.id):
        yield f"{link.sentence()} ({register.title_of(link.source)})."
    leaning = [chain.record for chain in trace.leaning_on(record.id)]
    if leaning:
        yield f"What stands or falls with it: {', '.join(leaning)}."


def _readings(result: Result) -> Iterator[str]:
    for what, readings in result.readings.items():
        spread = result.uncertainty.get(what)
        how = f", expanded uncertainty {spread.written}" if spread else ", no uncertainty stated"
        yield f"Read on {result.on}: {what} {', '.join(reading.written for reading in readings)}{how}."
    if result.runs is not None:
        yield f"{result.runs} runs, {result.failures or 0} failed."
    if result.observed:
        yield f"Seen: {result.observed}."


def _stands_between(control: Control, register: Register, hazard: Hazard) -> str:
    tests = [test.id for test in register.tests if control.id in test.proves]
    depends = (
        f"depends on {with_and((*control.depends_on, *control.people))}" if control.depends_on or control.people else ""
    )
    tried = f"tried by {with_and(tests)}" if tests else "no test speaks for it"
    details = "; ".join(words for words in (depends, tried) if words)
    return f"Between stands {control.id}, {control.title} ({control.kind}; {details})."


def _tried(hazard: Hazard, register: Register, verdicts: Mapping[str, ResultVerdict]) -> Iterator[str]:
    results: dict[str, list[Result]] = {}
    for result in register.results:
        results.setdefault(result.test, []).append(result)
    for test in register.all_of(hazard.tests, Test):
        found = results.get(test.id, [])
        limits = "; ".join(limit.sentence() for limit in test.limit)
        limit = f", limit {limits}" if limits else ", without a limit"
        if not found:
            parked = f", parked until {test.parked.until}" if test.parked else ""
            yield f"{test.id}, {test.title}{limit}: no result on file{parked}."
        else:
            said = with_and(
                [f"{result.id} of {result.on} {_verdict_words(verdicts.get(result.id))}" for result in found]
            )
            yield f"{test.id}, {test.title}{limit}: {said}."
    if not hazard.tests:
        yield "No test tries this situation."


def _verdict_words(verdict: ResultVerdict | None) -> str:
    if verdict is None:
        return "has no verdict"
    word = "leaves it open (cannot tell)" if verdict.word == "cannot tell" else f"{verdict.word} it"
    return f"{word} (replaced by a later one)" if verdict.replaced else word


def _lies(score: HazardScore, support: Support | None) -> Iterator[str]:
    if score.problem:
        yield f"It cannot be placed in the matrix: {score.problem}."
        return
    parts = []
    for name, position in (("before controls", score.before), ("claimed now", score.claimed)):
        if position is not None:
            parts.append(f"{name} {score_words(position)}")
    if parts:
        yield f"Likelihood {'; '.join(parts)}."
    else:
        yield "No likelihood is stated."
    if support is not None and support.score is not None:
        yield f"Supported by evidence: {score_words(support.score)}; {support.because}."
        for control, why in support.set_aside:
            yield f"{control} carries nothing: {why}."
        if support.needed:
            yield f"That is less than is claimed. What would carry the claim: {support.needed}."
            if len(support.barriers) == 1:
                yield "A second control that shares nothing with it, with a test of its own, may help more than runs."


def score_words(score: Score) -> str:
    """ "B to C per use, region reduce"."""
    first, last = score.levels
    levels = first if first == last else f"{first} to {last}"
    return f"{levels} {score.exposure}, region `{score.region}`"


def _time_to_harm(hazard: Hazard, register: Register) -> Iterator[str]:
    if hazard.time_to_harm is not None and hazard.time_to_harm.value is not None:
        by = assumption_words(hazard.time_to_harm.assumption, register)
        source = f" (calculation {hazard.time_to_harm.calculation})" if hazard.time_to_harm.calculation else ""
        yield f"Time until harm: {hazard.time_to_harm.value.written}{source}{by}."


def _severity_word(policy: Policy, level: str) -> str:
    rank = policy.severity_rank(level)
    return f", {policy.severity[rank].word}" if rank >= 0 else ""


def _because(reason: str | None) -> str:
    return f"; {reason}" if reason else ""


def _words(register: Register, id: str) -> str:
    return register.title_of(id)


def _some(words: Sequence[str], most: int = 5) -> str:
    """All of them, or the first few and how many more."""
    left = len(words) - most
    return with_and([*words[:most], f"{left} more"] if left > 1 else list(words))
