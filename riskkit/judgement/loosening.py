"""What asks for less than before, or holds for longer: limits, plans, claims, parkings, judgements, memory of a result.

The rule is the same everywhere: where nobody can say that a step is not looser, it is called loosened. A step the other
way is called tightened.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from riskkit.judgement.edits import edits, same
from riskkit.model.fields import Limit, Parked, Probability, Record
from riskkit.model.policy import EvidenceRules, Policy
from riskkit.model.records import Control, Device, Hazard, Part
from riskkit.model.upkeep import Comment, Decision, Gate, StepCheck, Unit, Waiver
from riskkit.model.verification import Assumption, Instrument, Result, SamplePlan, Test
from riskkit.units import Quantity

Word = Literal["loosened", "tightened", "worse", "better", "changed"]

READ = (
    "test",
    "on",
    "unit",
    "configuration",
    "instruments",
    "remembers",
    "reading_mode",
    "conditions",
    "readings",
    "uncertainty",
    "reported",
    "runs",
    "failures",
    "inspection",
    "fault_shown",
    "evidence",
)
"""What was read on the bench; it is replaced by another result and never edited."""

TOLD: Mapping[str, frozenset[str]] = MappingProxyType(
    {
        "tests": frozenset({"limit", "plan", "statistic", "conditions", "configuration", "parked"}),
        "hazards": frozenset({"condition", "controls", "likelihood", "tests", "time_to_harm", "parked"}),
        "controls": frozenset({"withdrawn", "check_interval", "dormant", "changes_harm", "depends_on"}),
        "results": frozenset({*READ, "still_valid"}),
        "instruments": frozenset({"due", "uncertainty", "calibrations"}),
        "parts": frozenset({"ratings", "firmware_sha256", "part_class"}),
        "units": frozenset({"checks", "deviations", "gate"}),
        "gates": frozenset({"questions"}),
        "comments": frozenset({"text", "weight", "by"}),
        "assumptions": frozenset({"until"}),
        "decisions": frozenset({"until"}),
        "waivers": frozenset({"until"}),
        "observations": frozenset({"parked"}),
    }
)
"""Section -> fields that the steps tell; where there is a step, an edit of these is not told a second time."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step: its kind, the rest of a sentence that begins with the id, and where a limit moved from and to."""

    word: Word
    words: str
    was: str = ""
    now: str = ""


def steps(before: Record, after: Record) -> Iterator[Step]:
    """Every step from one state of a record to another that asks for more or for less."""
    yield from _held_longer(before, after)
    match before, after:
        case Test(), Test():
            yield from _test(before, after)
        case Hazard(), Hazard():
            yield from _hazard(before, after)
        case Control(), Control():
            yield from _control(before, after)
        case Result(), Result():
            yield from _result(before, after)
        case Instrument(), Instrument():
            yield from _instrument(before, after)
        case Part(), Part():
            if same(before.version, after.version) and not same(_what_it_is(before), _what_it_is(after)):
                of = f"under the same version `{after.version}`" if after.version else "without a version"
                yield Step("worse", f"is another part {of}, so that no result knows of it: {edits(before, after)}")
        case Unit(), Unit():
            yield from _unit(before, after)
        case Gate(), Gate():
            yield from _gate(before, after)
        case Comment(), Comment():
            if not same((before.text, before.weight, before.by), (after.text, after.weight, after.by)):
                yield Step("loosened", f"no longer says what the reviewer said: {edits(before, after)}")


def _what_it_is(part: Part) -> tuple[object, ...]:
    return (part.ratings, part.firmware_sha256, part.part_class)


# -- ends and parkings of any record ------------------------------------------------------------------


def _held_longer(before: Record, after: Record) -> Iterator[Step]:
    was, now = getattr(before, "parked", None), getattr(after, "parked", None)
    if was is None and isinstance(now, Parked):
        yield Step("loosened", f"is parked until {now.until}: {now.reason}")
    elif isinstance(was, Parked) and now is None:
        yield Step("better", "is no longer parked")
    elif isinstance(was, Parked) and isinstance(now, Parked):
        yield from _later("is parked", was.until, now.until)
    if isinstance(after, Assumption | Decision | Waiver) and isinstance(before, Assumption | Decision | Waiver):
        yield from _later("holds", before.until, after.until)


def _later(verb: str, was: datetime.date | None, now: datetime.date | None) -> Iterator[Step]:
    if was == now:
        return
    longer = now is None or (was is not None and now > was)
    words = f"{verb} {f'until {now}' if now else 'without an end'} instead of {was or 'without an end'}"
    yield Step("loosened" if longer else "tightened", words, str(was or "no end"), str(now or "no end"))


# -- tests --------------------------------------------------------------------------------------------


def _test(before: Test, after: Test) -> Iterator[Step]:
    for place, limit in enumerate(after.limit):
        was = before.limit[place] if place < len(before.limit) else None
        if was is None:
            yield Step("tightened", f"asks for `{limit.sentence()}` too")
        elif not same(_asked(was), _asked(limit)):
            yield _limit(was, limit)
    for gone in before.limit[len(after.limit) :]:
        yield Step("loosened", f"no longer asks for `{gone.sentence()}`", gone.sentence(), "no limit")
    yield from _plan(before.plan, after.plan)
    if before.statistic != after.statistic and "mean" in (before.statistic, after.statistic):
        word: Word = "loosened" if after.statistic == "mean" else "tightened"
        yield Step(word, f"compares the {after.statistic} reading with its limit instead of the {before.statistic}")
    if not same(before.conditions, after.conditions):
        yield Step("loosened", f"is done at other settings: {_settings(before.conditions, after.conditions)}")
    yield from _fewer(
        "is sensitive to", before.configuration, after.configuration, "a change of it makes nothing stale"
    )
    if before.stop and not after.stop:
        yield Step("loosened", f"no longer says when it is stopped (it was: {before.stop})")


def _asked(limit: Limit) -> tuple[object, ...]:
    return (limit.what, limit.at_most, limit.at_least, limit.between, limit.shows)


def _limit(was: Limit, now: Limit) -> Step:
    words = f"asks for `{now.sentence()}` instead of `{was.sentence()}`"
    room = {_room(was.at_most, now.at_most, 1), _room(was.at_least, now.at_least, -1)}
    if was.between and now.between:
        room |= {_room(was.between[0], now.between[0], -1), _room(was.between[1], now.between[1], 1)}
    room.discard(0)
    if bool(was.between) != bool(now.between) or was.shows != now.shows or was.what != now.what:
        room = {1}
    # Moved both ways, or to another kind of limit: nobody can say that it is not looser.
    word: Word = "tightened" if room == {-1} else "loosened" if room else "changed"
    return Step(word, words, was.sentence(), now.sentence())


def _room(was: Quantity | None, now: Quantity | None, towards: int) -> int:
    """1 where a limit gives more room, -1 where it gives less, 0 where it stays."""
    if was is None or now is None or was.kind != now.kind:
        return 0 if was is now is None else 1
    if was.same_as(now):
        return 0
    return towards if now.value > was.value else -towards


def _plan(was: SamplePlan | None, now: SamplePlan | None) -> Iterator[Step]:
    if was is None or now is None:
        if was is not None:
            yield Step("loosened", "no longer plans how many runs it takes")
        return
    for label, one, other, more_is_tighter in (
        ("runs", was.runs, now.runs, True),
        ("units", was.units, now.units, True),
        ("failures that it allows", was.allowed_failures, now.allowed_failures, False),
        ("confidence", _exact(was.confidence), _exact(now.confidence), True),
        ("proportion that has to hold", _exact(was.proportion), _exact(now.proportion), True),
    ):
        if one == other or one is None:
            continue
        tighter = other is not None and (other > one) == more_is_tighter
        told = "nothing" if other is None else f"{float(other):.4g}"
        words = f"asks for {told} instead of {float(one):.4g} as {label}"
        if label in ("runs", "units"):
            words = f"asks for {told} {label} instead of {float(one):.4g}"
        yield Step("tightened" if tighter else "loosened", words, f"{float(one):.4g} {label}", f"{told} {label}")


def _exact(value: Probability | None) -> float | None:
    return None if value is None else float(value.exact)


def _settings(was: Mapping[str, Quantity], now: Mapping[str, Quantity]) -> str:
    names = [name for name in dict.fromkeys((*was, *now)) if not same(was.get(name), now.get(name))]
    return ", ".join(f"{name} {_written(now.get(name))} instead of {_written(was.get(name))}" for name in names)


def _written(value: Quantity | None) -> str:
    return "not stated" if value is None else value.written


def _fewer(verb: str, was: Iterable[str], now: Iterable[str], so: str = "") -> Iterator[Step]:
    was, now = tuple(was), tuple(now)
    for each in was:
        if each not in now:
            yield Step("loosened", f"no longer {verb} {each}{f', and {so}' if so else ''}")
    for each in now:
        if each not in was:
            yield Step("tightened", f"{verb} {each} too")


# -- hazards and controls -----------------------------------------------------------------------------


def _hazard(before: Hazard, after: Hazard) -> Iterator[Step]:
    for condition in before.condition:
        if condition not in after.condition:
            yield Step("loosened", f"no longer arises under `{condition}`")
    was, now = before.time_to_harm, after.time_to_harm
    if was is not None and was.value is not None and (now is None or now.value is None):
        yield Step("loosened", f"no longer says how long a person has (it was {was.value.written})")
    elif was is not None and now is not None and was.value is not None and now.value is not None:
        room = _room(was.value, now.value, 1)
        if room:
            words = f"gives a person {now.value.written} instead of {was.value.written}"
            yield Step("loosened" if room > 0 else "tightened", words, was.value.written, now.value.written)
    for gone in before.tests:
        if gone not in after.tests:
            yield Step("loosened", f"is no longer tried by {gone}")


def _control(before: Control, after: Control) -> Iterator[Step]:
    if before.withdrawn is None and after.withdrawn is not None:
        yield Step("loosened", f"was withdrawn: {after.withdrawn.because}")
    room = _room(before.check_interval, after.check_interval, 1)
    if before.check_interval is not None and room:
        was, now = before.check_interval.written, _written(after.check_interval)
        yield Step("loosened" if room > 0 else "tightened", f"is checked every {now} instead of {was}", was, now)
    if before.dormant and not after.dormant:
        yield Step("loosened", "is no longer said to be able to fail unnoticed")
    if after.changes_harm and not before.changes_harm:
        yield Step("loosened", "is said to make the harm itself smaller")
    if before.depends_on != after.depends_on:
        yield from _fewer("depends on", before.depends_on, after.depends_on)


# -- what was measured --------------------------------------------------------------------------------


def _result(before: Result, after: Result) -> Iterator[Step]:
    edited = [name for name in READ if not same(getattr(before, name), getattr(after, name))]
    if edited:
        kept = before.model_copy(update={name: getattr(after, name) for name in edited})
        told = edits(before, kept)
        yield Step("loosened", f"was edited after it was entered, instead of replaced by another: {told}")
    for judged in after.still_valid:
        if judged not in before.still_valid:
            words = f"is said to hold until {judged.until}, by {judged.by}: {judged.because}"
            yield Step("loosened", words)


def _instrument(before: Instrument, after: Instrument) -> Iterator[Step]:
    compared = len(after.calibrations) > len(before.calibrations)
    for gone in before.calibrations:
        if gone not in after.calibrations:
            yield Step("loosened", f"no longer tells of its comparison on {gone.on} ({gone.outcome})")
    if compared:
        return
    if before.due != after.due and before.due is not None:
        longer = after.due is None or after.due > before.due
        words = f"is due {after.due or 'on no day'} instead of {before.due}, without a new comparison"
        yield Step("loosened" if longer else "tightened", words, str(before.due), str(after.due or "no day"))
    if before.uncertainty is not None and not same(before.uncertainty, after.uncertainty):
        now = after.uncertainty or "not stated"
        words = f"has the uncertainty `{now}` instead of `{before.uncertainty}`, without a new comparison"
        yield Step("loosened", words, before.uncertainty, now)


# -- units and gates ----------------------------------------------------------------------------------


def _unit(before: Unit, after: Unit) -> Iterator[Step]:
    kept = {check.step: check for check in after.checks}
    for check in before.checks:
        if check.step not in kept:
            yield Step("loosened", f"no longer tells of the check `{check.step}`")
        elif check.two_people and not kept[check.step].two_people:
            yield Step("loosened", f"no longer asks for two people at `{check.step}`")
        if check.step in kept:
            yield from _check_limit(check, kept[check.step])
    told = {deviation.text: deviation for deviation in after.deviations}
    for deviation in before.deviations:
        if deviation.text not in told:
            yield Step("loosened", f"no longer tells of a deviation: {deviation.text}")
            continue
        now = told[deviation.text]
        if deviation.judged is not None and now.judged is not None:
            yield from _fewer("asks to repeat", deviation.judged.repeat, now.judged.repeat)
    if before.gate != after.gate:
        yield Step("changed", f"has reached {after.gate or 'no gate'} instead of {before.gate or 'no gate'}")


def _check_limit(was: StepCheck, now: StepCheck) -> Iterator[Step]:
    if was.limit is not None and now.limit is None:
        said = was.limit.sentence()
        yield Step("loosened", f"no longer asks for `{said}` at `{was.step}`", said, "no limit")
    elif was.limit is not None and now.limit is not None and not same(_asked(was.limit), _asked(now.limit)):
        step = _limit(was.limit, now.limit)
        yield Step(step.word, f"{step.words} at `{was.step}`", step.was, step.now)


def _gate(before: Gate, after: Gate) -> Iterator[Step]:
    kept = {question.ask: question for question in after.questions}
    for question in before.questions:
        now = kept.get(question.ask)
        if now is None:
            yield Step("loosened", f"no longer asks `{question.ask}`")
            continue
        for name in ("tests", "steps", "rules"):
            for gone in getattr(question, name):
                if gone not in getattr(now, name):
                    yield Step("loosened", f"no longer asks for {gone} where it asks `{question.ask}`")
        if question.needs is not None and not same(question.needs, now.needs):
            needs = f"`{now.needs}`" if now.needs else "nothing"
            words = f"takes {needs} instead of `{question.needs}` as an answer to `{question.ask}`"
            yield Step("loosened", words, question.needs, now.needs or "nothing")
    asked = {question.ask for question in before.questions}
    for question in after.questions:
        if question.ask not in asked:
            yield Step("tightened", f"asks `{question.ask}` too")


# -- device and policy --------------------------------------------------------------------------------


def device_steps(before: Device | None, after: Device | None) -> Iterator[Step]:
    """Steps of the device sheet: stated limits, what must never happen, when a test is stopped."""
    if before is None or after is None:
        return
    now = {limit.what: limit.limit for limit in after.limits}
    for limit in before.limits:
        if limit.what not in now:
            yield Step(
                "loosened", f"the device sheet no longer limits {limit.what} ({limit.limit})", limit.limit, "no limit"
            )
        elif not same(limit.limit, now[limit.what]):
            words = f"the device sheet limits {limit.what} to `{now[limit.what]}` instead of `{limit.limit}`"
            yield Step("loosened", words, limit.limit, now[limit.what])
    for label, one, other in (
        ("not for", before.not_for, after.not_for),
        ("must never happen", before.must_never, after.must_never),
        ("stop at once at", before.stop_conditions, after.stop_conditions),
    ):
        for gone in one:
            if gone not in other:
                yield Step("loosened", f"the device sheet no longer says `{label}`: {gone}")


def policy_steps(before: Policy, after: Policy) -> Iterator[Step]:
    """Steps of the policy: its scales, its matrix, and what it asks of evidence."""
    if [step.level for step in before.severity] != [step.level for step in after.severity]:
        yield Step("loosened", "the policy has other severity levels, and nobody can say that they are not looser")
        return
    if not same(before.likelihood, after.likelihood):
        yield Step("loosened", f"the policy counts likelihood otherwise: {edits(before.likelihood, after.likelihood)}")
    yield from _cells(before, after)
    yield from _decided(before, after)
    if before.severe_rank != after.severe_rank:
        word: Word = "loosened" if after.severe_rank > before.severe_rank else "tightened"
        one, other = (policy.severity[policy.severe_rank].level for policy in (before, after))
        yield Step(word, f"the policy calls harm severe from {other} instead of {one}", one, other)
    if before.observation_days != after.observation_days:
        word = "loosened" if after.observation_days > before.observation_days else "tightened"
        yield Step(
            word,
            f"the policy leaves an observation {after.observation_days} days instead of {before.observation_days} unanswered",
        )
    if before.alarm_margin is not None and not same(before.alarm_margin, after.alarm_margin):
        room = _room(before.alarm_margin, after.alarm_margin, -1)
        words = f"the policy asks an alarm to stand out by {_written(after.alarm_margin)} instead of {before.alarm_margin.written}"
        yield Step("loosened" if room > 0 else "tightened", words)
    yield from _evidence(before.evidence, after.evidence)


def _cells(before: Policy, after: Policy) -> Iterator[Step]:
    ranks = {region.name: place for place, region in enumerate(before.regions)}
    for row, cells in after.matrix.items():
        for column, name in cells.items():
            was = before.matrix.get(row, {}).get(column)
            if was is None or was == name:
                continue
            # A region of a new name may ask for less: nobody can say that it does not.
            word: Word = "loosened" if name not in ranks or ranks[name] > ranks[was] else "tightened"
            yield Step(word, f"the matrix cell {row}, {column} says `{name}` instead of `{was}`", was, name)


def _decided(before: Policy, after: Policy) -> Iterator[Step]:
    now = {region.name: region for region in after.regions}
    for region in before.regions:
        if region.decision and region.name in now and not now[region.name].decision:
            yield Step("loosened", f"the policy no longer asks for a decision in region `{region.name}`")


def _evidence(before: EvidenceRules, after: EvidenceRules) -> Iterator[Step]:
    more_is_tighter = {"inherent_limit_bands": False, "information_bands": False}
    for name in type(after).model_fields:
        was, now = getattr(before, name), getattr(after, name)
        if same(was, now):
            continue
        numbers = [float(each.exact) if isinstance(each, Probability) else each for each in (was, now)]
        if not all(isinstance(each, int | float) for each in numbers):
            yield Step("loosened", f"the policy asks otherwise of evidence: {name.replace('_', ' ')}")
            continue
        tighter = (numbers[1] > numbers[0]) == more_is_tighter.get(name, True)
        one, other = (each.written if isinstance(each, Probability) else f"{each:g}" for each in (was, now))
        words = f"the policy has {name.replace('_', ' ')} {other} instead of {one} in what it asks of evidence"
        yield Step("tightened" if tighter else "loosened", words, one, other)
