"""Whether one built unit may go to the next step: yes, no or cannot tell, why, and the shortest way to yes.

A gate holds where every question of it and of those before it is answered with yes. It is about showing and copying a unit;
it says nothing about use on a person, and no gate can.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from riskkit.checks import Context, Finding
from riskkit.judgement.as_built import step_verdict
from riskkit.judgement.verdicts import ResultVerdict
from riskkit.model.fields import plain_words
from riskkit.model.upkeep import Gate, Question, Unit
from riskkit.model.verification import Result, Test

Word = Literal["yes", "no", "cannot tell"]
MOST_REASONS = 5
OF_EVERY_UNIT = ("every unit", "every use")
SAYS_NOTHING = "This gate is about showing the unit. It says nothing about use on a person."


@dataclass(frozen=True, slots=True)
class Reason:
    """One thing that stands between the unit and the step.

    Attributes:
        word: "no" where it is shown not to be so, "cannot tell" where nobody knows.
        gate: The gate whose question it is.
        ask: The question.
        because: What is missing or wrong, as a sentence without its end.
        mend: What to do about it.
        records: Records that it is about.
    """

    word: Word
    gate: str
    ask: str
    because: str
    mend: str
    records: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Readiness:
    """The answer for one unit and one gate.

    Attributes:
        unit: The unit.
        gate: The gate.
        word: "no" before "cannot tell" before "yes".
        reasons: Everything that stands between, what is known to be wrong first, then gate by gate.
        path: What to do, each thing once; all of it is needed, in any order.
    """

    unit: str
    gate: str
    word: Word
    reasons: tuple[Reason, ...]
    path: tuple[str, ...]


def readiness(unit: Unit, gate: Gate, context: Context, found: Sequence[tuple[str, Finding]]) -> Readiness:
    """Whether a unit may go to that step.

    Args:
        unit: The unit.
        gate: The step; every gate of a lower order has to hold as well.
        context: What was worked out.
        found: Open findings, each with the name of its rule.
    """
    asked = sorted(
        (each for each in context.register.of(Gate) if each.order <= gate.order), key=lambda each: each.order
    )
    reasons = [
        reason
        for each in asked
        for question in each.questions
        for reason in _reasons(unit, each, question, context, found)
    ]
    if unit.retired is not None:
        because = f"{unit.id} is no longer used since {unit.retired}"
        reasons.insert(0, Reason("no", gate.id, "Is it in use?", because, "take another unit", (unit.id,)))
    reasons.sort(key=lambda each: each.word != "no")
    word: Word = reasons[0].word if reasons else "yes"
    return Readiness(unit.id, gate.id, word, tuple(reasons), tuple(dict.fromkeys(each.mend for each in reasons)))


def _reasons(
    unit: Unit, gate: Gate, question: Question, context: Context, found: Sequence[tuple[str, Finding]]
) -> Iterator[Reason]:
    def reason(word: Word, because: str, mend: str, *records: str) -> Reason:
        return Reason(word, gate.id, question.ask, because, mend, records or (unit.id,))

    for test in context.register.all_of(question.tests, Test):
        told = _by_test(unit, test, context)
        if told is not None:
            word, because, records = told
            on = f" on {unit.id}" if test.scope in OF_EVERY_UNIT else ""
            mend = f"do {test.id} ({test.title}){on}, so that it meets its limit"
            if word == "no":
                mend += f"; the new result says `supersedes: {records[0]}`, and why"
            yield reason(word, because, mend, *records)
    for step in question.steps:
        told_of_step = _by_step(unit, step, context)
        if told_of_step is not None:
            word, because = told_of_step
            again = "mend it, then check" if word == "no" else "check"
            yield reason(word, because, f"{again} `{step}` of {unit.id} and sign it")
    for name in question.rules:
        for rule, finding in found:
            if rule == name and _is_about(finding, unit, context):
                yield reason("no", finding.headline, finding.help, finding.record)
    if not (question.tests or question.steps or question.rules):
        answer = next(
            (
                each
                for each in unit.answers
                if each.gate == gate.id and plain_words(each.ask) == plain_words(question.ask)
            ),
            None,
        )
        if answer is None:
            needs = f" ({question.needs})" if question.needs else ""
            yield reason(
                "cannot tell",
                f"nobody has answered `{question.ask}` of {gate.id} for {unit.id}",
                f"answer `{question.ask}` under `answers:` of {unit.id}, by role and day{needs}",
            )
        elif answer.answer == "no":
            why = f": {answer.because}" if answer.because else ""
            yield reason(
                "no", f"{answer.by} answered `{question.ask}` with no{why}", "change what makes it no, and answer again"
            )


def _by_test(unit: Unit, test: Test, context: Context) -> tuple[Word, str, tuple[str, ...]] | None:
    """What its results leave open; None where they answer with yes.

    A result that does not meet its limit speaks until another one replaces it. Of the others, the newest on each unit
    speaks: what is stale is mended by doing the test again, and what could not be told by reading with a better gauge.
    """
    judged = context.verdicts_of(test.id)
    if test.scope in OF_EVERY_UNIT:
        judged = tuple(each for each in judged if _result(each, context).unit == unit.id)
    failing = next((each for each in judged if each.word == "does not meet"), None)
    if failing is not None:
        return "no", f"{failing.result} of {test.id} does not meet its limit: {failing.because}", (failing.result,)
    if not judged:
        on = f" on {unit.id}" if test.scope in OF_EVERY_UNIT else ""
        return "cannot tell", f"there is no result of {test.id} ({test.title}){on}", (test.id,)
    stale = {each.result for each in judged if (found := context.freshness.get(each.result)) and found.is_stale}
    newest: dict[str | None, ResultVerdict] = {}
    for each in sorted(judged, key=lambda each: (each.result not in stale, _result(each, context).on)):
        newest[_result(each, context).unit] = each
    for each in newest.values():
        if each.result in stale:
            because = context.freshness[each.result].because
            return "cannot tell", f"{each.result} of {test.id} is stale: {because}", (each.result,)
        if each.word == "cannot tell":
            told = f"{each.result} of {test.id} cannot be told from its limit: {each.because}"
            return "cannot tell", told, (each.result,)
    sample = context.samples.get(test.id)
    if sample is not None and not sample.shown:
        return "cannot tell", f"{test.id} does not show the proportion that its plan claims", (test.id,)
    return None


def _result(verdict: ResultVerdict, context: Context) -> Result:
    found = context.register.get(verdict.result, Result)
    assert found is not None, "a verdict speaks of a result of the register"
    return found


def _by_step(unit: Unit, step: str, context: Context) -> tuple[Word, str] | None:
    """What a check of the build leaves open; None where it answers with yes.

    Where it has a limit, its reading has to keep to it: the same reading on a poorer gauge cannot be told.
    """
    check = next((each for each in unit.checks if plain_words(each.step) == plain_words(step)), None)
    if check is None:
        return "cannot tell", f"{unit.id} has no check `{step}`"
    verdict = step_verdict(check, context.register, context.policy.evidence)
    if verdict is not None and verdict.word == "does not meet":
        return "no", f"the check `{step}` of {unit.id} does not keep to its limit: {verdict.because}"
    found = check.reading is not None or check.outcome is not None or check.inspection is not None
    if check.by is None or not (found or check.two_people):
        return "cannot tell", f"the check `{step}` of {unit.id} is not filled in"
    if check.two_people and check.second in (None, check.by):
        return "cannot tell", f"the check `{step}` of {unit.id} needs two people and is signed by one"
    if verdict is not None and verdict.word == "cannot tell":
        return "cannot tell", f"the check `{step}` of {unit.id} cannot be told from its limit: {verdict.because}"
    return None


def _is_about(finding: Finding, unit: Unit, context: Context) -> bool:
    """Whether a finding counts for this unit: about it, about a result taken on it, or about what is no unit's."""
    record = context.register.records.get(finding.record)
    if isinstance(record, Unit):
        return record.id == unit.id
    if isinstance(record, Result) and record.unit is not None:
        test = context.register.get(record.test, Test)
        return record.unit == unit.id or (test is not None and test.scope not in OF_EVERY_UNIT)
    return True
