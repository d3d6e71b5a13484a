"""The story of one built unit: as built, how it differs, how old its parts are, what was checked and read on it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from riskkit.judgement.as_built import lives, proposals, repeats, results_on, step_verdict
from riskkit.judgement.freshness import Freshness
from riskkit.judgement.trace import Trace
from riskkit.judgement.verdicts import ResultVerdict
from riskkit.model.fields import plain_words
from riskkit.model.policy import EvidenceRules
from riskkit.model.records import Part
from riskkit.model.register import Register
from riskkit.model.upkeep import Deviation, Gate, StepCheck, Unit
from riskkit.model.verification import Result, Test


def unit_story(
    unit: Unit,
    register: Register,
    rules: EvidenceRules,
    trace: Trace,
    verdicts: Mapping[str, ResultVerdict],
    fresh: Mapping[str, Freshness],
) -> Iterator[str]:
    """Who built it and as what -> how it differs -> its checks -> what was read on it -> the gate it has reached."""
    yield _born(unit)
    if unit.retired is not None:
        yield f"It is no longer used since {unit.retired}."
    yield from _as_built(unit, register)
    for life in lives(unit, register):
        what = f"{life.part} ({register.title_of(life.part)})"
        if life.due is not None:
            yield f"{what} is in since {life.since} and is to be replaced by {life.due}."
        elif life.since is None:
            yield f"{what} has a life limit, and nobody wrote down how old it is."
    for deviation in unit.deviations:
        yield from _deviation(unit, deviation, register, trace, verdicts, fresh)
    for check in unit.checks:
        yield _check(check, register, rules)
    if not unit.checks:
        yield "No check of its build is on file."
    yield from _read(unit, register, verdicts, fresh)
    for link in trace.incoming(unit.id):
        if register.get(link.source, Result) is None:
            yield f"{link.sentence()} ({register.title_of(link.source)})."
    files = len(unit.evidence) + sum(len(check.evidence) for check in unit.checks)
    if files:
        yield f"Photos and files of it, by hash: {files}."
    for answer in unit.answers:
        why = f": {answer.because}" if answer.because else ""
        yield f"To `{answer.ask}` of {answer.gate}, {answer.by} answered {answer.answer} on {answer.on}{why}."
    gate = register.get(unit.gate, Gate) if unit.gate is not None else None
    yield f"It has reached {gate.id} ({gate.title})." if gate is not None else "It has reached no gate."


def _born(unit: Unit) -> str:
    said = [f"Serial {unit.serial}, built"] if unit.serial else ["Built"]
    said += [f"by {unit.builder}"] if unit.builder else ["by nobody who is written down"]
    said += [f"at {unit.place}"] if unit.place else []
    said += [f"on {unit.built}"] if unit.built else ["on a day that nobody wrote down"]
    said += [f"to revision {unit.revision}"] if unit.revision else []
    return f"{' '.join(said)}."


def _as_built(unit: Unit, register: Register) -> Iterator[str]:
    same: list[str] = []
    for id, fitted in unit.parts.items():
        part = register.get(id, Part)
        if part is None or part.version is None:
            yield f"{id} is {fitted}, and the drawings name no version."
        elif plain_words(part.version) == plain_words(fitted):
            same.append(id)
        else:
            yield f"Fitted otherwise than drawn: {id} ({part.title}) is {fitted}, and the drawings have {part.version}."
    if same:
        yield f"Fitted as drawn: {', '.join(same)}."
    left = [part.id for part in register.parts if part.id not in unit.parts]
    if left:
        yield f"Not written down: {', '.join(left)}."
    for id, digits in unit.firmware_sha256.items():
        part = register.get(id, Part)
        drawn = part.firmware_sha256.casefold() if part is not None and part.firmware_sha256 is not None else None
        read = digits.casefold()
        beside = "the drawings name no hash"
        if drawn is not None:
            beside = (
                "as drawn" if drawn.startswith(read) or read.startswith(drawn) else f"the drawings have {drawn[:12]}"
            )
        yield f"Firmware read back from {id}: SHA-256 {read[:12]}, {beside}."


def _deviation(
    unit: Unit,
    deviation: Deviation,
    register: Register,
    trace: Trace,
    verdicts: Mapping[str, ResultVerdict],
    fresh: Mapping[str, Freshness],
) -> Iterator[str]:
    parts = f" ({', '.join(deviation.parts)})" if deviation.parts else ""
    since = f", since {deviation.on}" if deviation.on is not None else ""
    if deviation.judged is None:
        lean = [each.test for each in proposals(deviation, register, trace)]
        since_when = deviation.on or unit.built
        done = [
            f"{test.id} by {', '.join(each.id for each in found)}"
            for test in register.all_of(lean, Test)
            if (found := results_on(unit, test, since_when, register, verdicts))
        ]
        told = f" Tests that lean on it: {', '.join(lean)}" if lean else ""
        if lean:
            told += f"; done here since then: {'; '.join(done)}." if done else "; none was done here since then."
        yield f"It differs{since}: {deviation.text}{parts}. Nobody has judged that.{told}"
        return
    judged = deviation.judged
    yield f"It differs{since}: {deviation.text}{parts}. {judged.by} judged on {judged.on}: {judged.verdict}."
    for each in repeats(unit, deviation, register, verdicts, fresh):
        yield f"Asked for again: {each.open or f'{each.test} was done again, and {each.result} meets its limit'}."


def _check(check: StepCheck, register: Register, rules: EvidenceRules) -> str:
    found = [check.reading.written] if check.reading is not None else []
    found += [f"U {check.uncertainty.written}"] if check.uncertainty is not None else []
    found += [check.outcome] if check.outcome is not None else []
    found += [check.inspection] if check.inspection is not None else []
    if not found and check.by is None:
        return f"Check `{check.step}`: blank."
    who = f"by {check.by}" if check.by is not None else "signed by nobody"
    if check.second is not None:
        who += f", seen by {check.second}" if check.second != check.by else f", and seen by {check.second} again"
    elif check.two_people:
        who += ", and a second person is asked for"
    when = f" on {check.on}" if check.on is not None else ""
    verdict = step_verdict(check, register, rules)
    said = f" {_word(verdict.word)}: {verdict.because}." if verdict is not None else ""
    return f"Check `{check.step}`: {', '.join(found) or 'nothing written down'}; {who}{when}.{said}"


def _word(word: str) -> str:
    return {"meets": "Meets its limit", "does not meet": "Does not meet its limit"}.get(word, "Cannot be told")


def _read(
    unit: Unit, register: Register, verdicts: Mapping[str, ResultVerdict], fresh: Mapping[str, Freshness]
) -> Iterator[str]:
    """Tests that leave something open one by one, those that do not in one sentence."""
    met: list[str] = []
    for test in register.tests:
        mine = [each for each in register.results if each.test == test.id and each.unit == unit.id]
        if not mine and test.scope == "every unit" and unit.retired is None:
            yield f"{test.id} ({test.title}), which every unit needs, has no result on it."
        elif mine and all(_stands(each, verdicts, fresh) for each in mine):
            met.append(f"{test.id} by {', '.join(each.id for each in mine)}")
        elif mine:
            said = "; ".join(_result(each, verdicts.get(each.id), fresh.get(each.id)) for each in mine)
            yield f"{test.id} ({test.title}): {said}."
    if met:
        yield f"Read on it, and meeting the limit: {'; '.join(met)}."


def _stands(result: Result, verdicts: Mapping[str, ResultVerdict], fresh: Mapping[str, Freshness]) -> bool:
    verdict, state = verdicts.get(result.id), fresh.get(result.id)
    return verdict is not None and verdict.word == "meets" and not verdict.replaced and not (state and state.lapses)


def _result(result: Result, verdict: ResultVerdict | None, state: Freshness | None) -> str:
    if verdict is None:
        return f"{result.id} of {result.on} has no verdict"
    word = "cannot be told from its limit" if verdict.word == "cannot tell" else f"{verdict.word} its limit"
    said = f"{result.id} of {result.on} {word} ({verdict.because})"
    if verdict.replaced:
        return f"{said}, replaced by a later one"
    if state is not None and state.is_stale:
        return f"{said}, and is stale: {state.because}"
    if state is not None and state.lapses and state.excused is not None:
        return f"{said}, and holds until {state.excused.until} as {state.excused.by} judged, although {state.because}"
    return said
