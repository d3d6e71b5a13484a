"""What was tested on what, what is stale by which path, and what is held to be valid all the same: section 11."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from riskkit.assess import Assessment
from riskkit.dossier.view.telling import Teller
from riskkit.judgement.freshness import Freshness
from riskkit.model.records import Part
from riskkit.model.upkeep import Unit
from riskkit.model.verification import Result, StillValid, Test


@dataclass(frozen=True, slots=True)
class LapsedLine:
    """A result under which something changed: why, and each path from it to what changed."""

    result: str
    test: str
    unit: str | None
    because: tuple[str, ...]
    paths: tuple[tuple[str, ...], ...]
    judged: str


@dataclass(frozen=True, slots=True)
class HeldLine:
    """A judgement that a result still holds: whose, why, until when; `over` where that day has passed."""

    result: str
    test: str
    because: str
    by: str
    on: str
    until: str
    over: bool
    needed: bool


@dataclass(frozen=True, slots=True)
class TakenLine:
    """A result, what it was taken on, and whether it speaks for what is there now."""

    result: str
    on: str
    unit: str | None
    versions: tuple[tuple[str, str, str], ...]
    state: str
    bad: bool


@dataclass(frozen=True, slots=True)
class TestBlock:
    """A test, the parts it is sensitive to as they are now, and its results."""

    __test__ = False
    id: str
    title: str
    parts: tuple[tuple[str, str], ...]
    results: tuple[TakenLine, ...]


@dataclass(frozen=True)
class Configuration:
    """Section 11."""

    lapsed: tuple[LapsedLine, ...]
    held: tuple[HeldLine, ...]
    tests: tuple[TestBlock, ...]
    untested: tuple[str, ...]
    forgetful: tuple[str, ...]


def configuration(assessment: Assessment, tell: Teller) -> Configuration:
    """Section 11."""
    register = assessment.register
    results: dict[str, list[Result]] = defaultdict(list)
    for result in register.results:
        results[result.test].append(result)
    blocks = [_block(test, results[test.id], assessment, tell) for test in register.tests if results[test.id]]
    return Configuration(
        lapsed=tuple(_lapsed(found, assessment, tell) for found in assessment.freshness.values() if found.is_stale),
        held=tuple(_held(assessment, tell)),
        tests=tuple(blocks),
        untested=tuple(test.id for test in register.tests if not results[test.id]),
        forgetful=tuple(
            result.id
            for result in register.results
            if result.id in assessment.freshness and not result.configuration and not result.remembers
        ),
    )


def _lapsed(found: Freshness, assessment: Assessment, tell: Teller) -> LapsedLine:
    result = assessment.register.get(found.result, Result)
    ended = found.expired
    return LapsedLine(
        found.result,
        result.test if result is not None else "",
        result.unit if result is not None else None,
        tell.each([lapse.because for lapse in found.lapses], found.result),
        tuple(lapse.path for lapse in found.lapses),
        "" if ended is None else tell(f"what {ended.by} judged ended on {ended.until}", found.result),
    )


def _held(assessment: Assessment, tell: Teller) -> Iterator[HeldLine]:
    lines = []
    for result in assessment.register.results:
        found = assessment.freshness.get(result.id)
        for judged in result.still_valid:
            lines.append((judged.until, result, judged, found is not None and bool(found.lapses)))
    for _, result, judged, needed in sorted(lines, key=lambda line: (line[0], line[1].id)):
        yield _line(result, judged, assessment, tell, needed=needed)


def _line(result: Result, judged: StillValid, assessment: Assessment, tell: Teller, *, needed: bool) -> HeldLine:
    return HeldLine(
        result.id,
        result.test,
        tell(judged.because, result.id),
        tell(judged.by, result.id),
        judged.on.isoformat(),
        judged.until.isoformat(),
        judged.until < assessment.today,
        needed,
    )


def _block(test: Test, results: list[Result], assessment: Assessment, tell: Teller) -> TestBlock:
    register = assessment.register
    return TestBlock(
        test.id,
        tell.name(test.title, test.id),
        tuple(
            (part.id, tell(part.version or "no version", part.id)) for part in register.all_of(test.configuration, Part)
        ),
        tuple(
            _taken(result, test, assessment, tell) for result in sorted(results, key=lambda each: (each.on, each.id))
        ),
    )


def _taken(result: Result, test: Test, assessment: Assessment, tell: Teller) -> TakenLine:
    register, found = assessment.register, assessment.freshness.get(result.id)
    unit = register.get(result.unit, Unit) if result.unit is not None else None
    versions = []
    for part in register.all_of(dict.fromkeys((*test.configuration, *result.configuration)), Part):
        then = result.configuration.get(part.id)
        now = part.version or "no version"
        if unit is not None and test.scope in ("every unit", "every use"):
            now = unit.parts.get(part.id, now)
        named = "" if part.id in test.configuration else " (the test does not name this part)"
        same = then is not None and then.split() == now.split()
        words = "not written down" if then is None else then
        versions.append((part.id, tell(f"{words}{named}", result.id), "" if same else tell(now, part.id)))
    if found is None:
        return TakenLine(result.id, str(result.on), result.unit, tuple(versions), "replaced by a later result", False)
    if found.is_stale:
        return TakenLine(result.id, str(result.on), result.unit, tuple(versions), "stale", True)
    if found.lapses and found.excused is not None:
        words = tell(f"held by {found.excused.by} until {found.excused.until}", result.id)
        return TakenLine(result.id, str(result.on), result.unit, tuple(versions), words, False)
    blind = not result.configuration and not result.remembers
    words = "nothing written down that could be compared" if blind else "nothing that it remembers has changed"
    return TakenLine(result.id, str(result.on), result.unit, tuple(versions), words, blind)
