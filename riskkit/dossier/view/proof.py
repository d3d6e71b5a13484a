"""What was tried, read and worked out: sections 9, 10 and 11, instruments and evidence files."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from riskkit.assess import Assessment
from riskkit.dossier.view.telling import Teller, counted
from riskkit.judgement.freshness import Freshness
from riskkit.judgement.samples import sample_sentences
from riskkit.judgement.verdicts import ResultVerdict, replaced_results
from riskkit.model.records import Control
from riskkit.model.upkeep import Unit
from riskkit.model.verification import Instrument, Result, SamplePlan, Test
from riskkit.text.evidence_files import evidence_of


@dataclass(frozen=True, slots=True)
class ProofRow:
    """A control and the tests that speak for its presence and for its effect, each with its results."""

    control: str
    title: str
    presence: tuple[tuple[str, tuple[str, ...]], ...]
    effect: tuple[tuple[str, tuple[str, ...]], ...]
    withdrawn: bool


@dataclass(frozen=True, slots=True)
class TestLine:
    """A test with its limit and plan."""

    __test__ = False
    id: str
    title: str
    claim: str | None
    proves: tuple[str, ...]
    shows: tuple[str, ...]
    scope: str
    method: str
    limits: tuple[str, ...]
    conditions: tuple[str, ...]
    plan: str
    instruments: tuple[str, ...]
    sensitive_to: tuple[str, ...]
    stop: str | None
    calculation: str | None
    results: tuple[str, ...]
    parked: str | None
    sample: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ReadingLine:
    """One kind of reading with its uncertainty."""

    what: str
    values: str
    spread: str


@dataclass(frozen=True, slots=True)
class VerdictLine:
    """One limit, what the result says about it, and why."""

    limit: str
    word: str
    because: str


@dataclass(frozen=True, slots=True)
class ResultBlock:
    """One result on file."""

    id: str
    test: str
    test_title: str
    taken: str
    unit: str | None
    instruments: tuple[str, ...]
    configuration: tuple[tuple[str, str], ...]
    readings: tuple[ReadingLine, ...]
    verdicts: tuple[VerdictLine, ...]
    replaced: bool
    stale: str | None
    seen: tuple[str, ...]
    evidence: tuple[str, ...]
    judgements: tuple[str, ...]
    supersedes: str | None


@dataclass(frozen=True, slots=True)
class InstrumentLine:
    """An instrument with its uncertainty and its last comparison."""

    id: str
    title: str
    measures: str
    span: str
    uncertainty: str
    due: str
    overdue: bool
    calibrations: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class EvidenceLine:
    """A file that shows something, with its hash."""

    file: str
    result: str
    what: str
    sha256: str


def proof_rows(assessment: Assessment, tell: Teller) -> tuple[ProofRow, ...]:
    """Controls against tests: the verification matrix as a table."""
    register = assessment.register
    results = _results_by_test(register.results)
    speaking: dict[str, list[Test]] = defaultdict(list)
    for test in register.tests:
        for control in test.proves:
            speaking[control].append(test)

    def of(control: Control, what: str) -> tuple[tuple[str, tuple[str, ...]], ...]:
        return tuple((test.id, results.get(test.id, ())) for test in speaking[control.id] if what in test.shows)

    return tuple(
        ProofRow(
            control.id,
            tell.name(control.title, control.id),
            of(control, "implementation"),
            of(control, "effectiveness"),
            control.withdrawn is not None,
        )
        for control in register.controls
    )


def _results_by_test(results: Sequence[Result]) -> dict[str, tuple[str, ...]]:
    found: dict[str, list[str]] = defaultdict(list)
    for result in results:
        found[result.test].append(result.id)
    return {test: tuple(ids) for test, ids in found.items()}


def test_lines(assessment: Assessment, tell: Teller) -> tuple[TestLine, ...]:
    """All tests in the order of the register."""
    results = _results_by_test(assessment.register.results)
    return tuple(_test(test, results.get(test.id, ()), assessment, tell) for test in assessment.register.tests)


test_lines.__test__ = False  # type: ignore[attr-defined]


def _test(test: Test, results: tuple[str, ...], assessment: Assessment, tell: Teller) -> TestLine:
    where = test.id
    found = assessment.samples.get(test.id)
    return TestLine(
        id=test.id,
        title=tell(test.title, where),
        claim=tell.maybe(test.claim, where),
        proves=test.proves,
        shows=tuple({"implementation": "presence", "effectiveness": "effect"}[word] for word in test.shows),
        scope=f"the {test.scope}" if test.scope in ("design", "lot") else test.scope,
        method=test.method or "method not stated",
        limits=_limits(test, tell),
        conditions=tuple(tell(f"{name} {value.written}", where) for name, value in test.conditions.items()),
        plan=tell(_plan(test.plan), where),
        instruments=test.instruments,
        sensitive_to=test.configuration,
        stop=tell.maybe(test.stop, where),
        calculation=test.calculation,
        results=results,
        parked=tell(f"parked until {test.parked.until} by {test.parked.owner}: {test.parked.reason}", where)
        if test.parked
        else None,
        sample=tuple(tell.finding(words, where) for words in sample_sentences(found)) if found is not None else (),
    )


def _limits(test: Test, tell: Teller) -> tuple[str, ...]:
    return tuple(
        tell(f"{limit.sentence()}{f' ({limit.because})' if limit.because else ''}", test.id) for limit in test.limit
    )


def _plan(plan: SamplePlan | None) -> str:
    if plan is None:
        return "no plan stated"
    said = []
    if plan.runs is not None:
        said.append(counted(plan.runs, "run"))
    if plan.units is not None:
        said.append(counted(plan.units, "unit"))
    if plan.allowed_failures:
        said.append(f"{counted(plan.allowed_failures, 'failure')} allowed")
    if plan.proportion is not None and plan.confidence is not None:
        said.append(f"for {plan.proportion.written} at {plan.confidence.written} confidence")
    return ", ".join(said) or "no plan stated"


def result_blocks(assessment: Assessment, tell: Teller) -> tuple[ResultBlock, ...]:
    """All results in the order of the register."""
    replaced = replaced_results(assessment.register)
    return tuple(_result(result, assessment, replaced, tell) for result in assessment.register.results)


def _result(result: Result, assessment: Assessment, replaced: frozenset[str], tell: Teller) -> ResultBlock:
    where = result.id
    readings = []
    for what, values in result.readings.items():
        spread = result.uncertainty.get(what)
        readings.append(
            ReadingLine(
                tell(what, where),
                tell(", ".join(value.written for value in values), where),
                tell(f"± {spread.written.lstrip('±+- ')} (k = 2)" if spread else "not stated", where),
            )
        )
    return ResultBlock(
        id=result.id,
        test=result.test,
        test_title=tell.name(assessment.register.title_of(result.test), result.test),
        taken=tell(_taken(result), where),
        unit=result.unit,
        instruments=result.instruments,
        configuration=tuple((part, tell(version, where)) for part, version in result.configuration.items()),
        readings=tuple(readings),
        verdicts=_verdicts(assessment.verdicts.get(where), tell),
        replaced=where in replaced,
        stale=tell.maybe(_stale(assessment.freshness.get(where)), where),
        seen=tell.each(_seen(result), where),
        evidence=tuple(tell(evidence.file, where) for evidence in result.evidence),
        judgements=tuple(
            tell(f"held valid until {each.until} by {each.by} on {each.on}: {each.because}", where)
            for each in result.still_valid
        ),
        supersedes=result.supersedes,
    )


def _stale(found: Freshness | None) -> str | None:
    """What has changed under a result that nobody holds valid; None where nothing has."""
    return found.because if found is not None and found.is_stale else None


def _taken(result: Result) -> str:
    """When, by whom, how and in what surroundings."""
    said = [f"{result.on}, by {result.operator or 'nobody named'}, seen by {result.witness or 'nobody named'}"]
    if result.reading_mode:
        said.append(f"read as {result.reading_mode}")
    for label, named in (("at", result.conditions), ("room", result.room)):
        if named:
            said.append(f"{label} {', '.join(f'{name} {value.written}' for name, value in named.items())}")
    return "; ".join(said)


def _verdicts(verdict: ResultVerdict | None, tell: Teller) -> tuple[VerdictLine, ...]:
    if verdict is None:
        return ()
    if not verdict.limits:
        return (VerdictLine("no limit stated", verdict.word, verdict.because),)
    return tuple(
        VerdictLine(tell(each.limit.sentence(), verdict.test), each.word, tell.finding(each.because, verdict.result))
        for each in verdict.limits
    )


def _seen(result: Result) -> list[str]:
    said = []
    if result.runs is not None:
        said.append(f"{counted(result.runs, 'run')}, {counted(result.failures or 0, 'failure')}")
    if result.inspection is not None:
        said.append(f"inspection: {result.inspection}")
    if result.observed is not None:
        said.append(result.observed)
    if result.fault_shown is not None:
        said.append(f"the fault was there: {result.fault_shown}")
    if result.supersedes is not None:
        said.append(f"replaces {result.supersedes}: {result.superseded_because or 'no reason stated'}")
    if result.notes is not None:
        said.append(result.notes)
    return said


def instrument_lines(assessment: Assessment, tell: Teller) -> tuple[InstrumentLine, ...]:
    """All instruments, overdue ones told apart on the day of the dossier."""
    return tuple(_instrument(each, assessment, tell) for each in assessment.register.of(Instrument))


def _instrument(instrument: Instrument, assessment: Assessment, tell: Teller) -> InstrumentLine:
    where, due = instrument.id, instrument.due
    overdue = due is not None and due < assessment.today
    words = "not stated" if due is None else f"{due}{' (overdue)' if overdue else ''}"
    resolution = f", steps of {instrument.resolution.written}" if instrument.resolution else ""
    return InstrumentLine(
        id=instrument.id,
        title=tell(instrument.title, where),
        measures=tell(instrument.measures or "not stated", where),
        span=tell(f"{instrument.span or 'not stated'}{resolution}", where),
        uncertainty=tell(instrument.uncertainty or "not stated", where),
        due=words,
        overdue=overdue,
        calibrations=tuple(
            tell(f"{each.on} {each.outcome}{f', against {each.reference}' if each.reference else ''}", where)
            for each in instrument.calibrations
        ),
    )


def evidence_lines(assessment: Assessment, tell: Teller) -> tuple[EvidenceLine, ...]:
    """Every evidence file with the hash that it had when it was entered."""
    owners: tuple[Result | Unit, ...] = (*assessment.register.results, *assessment.register.units)
    return tuple(
        EvidenceLine(
            tell(evidence.file, record.id),
            record.id,
            tell(evidence.what or "not stated", record.id),
            tell(evidence.sha256 or "no hash on file", record.id),
        )
        for record in owners
        for _, evidence in evidence_of(record)
    )
