"""Which units have a part, a lot, a firmware or were measured with an instrument, and what leans on that.

A lot is found by its words: `lot S` finds `lot S, substitute` and not `lot Spare`; `P09 lot B` is the lot B of P09 alone.
Firmware is found by its version, or by the first digits of its SHA-256.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from riskkit.judgement.changes import bench_minutes, planned_runs
from riskkit.judgement.freshness import Freshness
from riskkit.judgement.trace import Chain, Trace
from riskkit.judgement.verdicts import ResultVerdict, Word
from riskkit.model.fields import plain_words
from riskkit.model.records import Control, Hazard, Part
from riskkit.model.register import Register
from riskkit.model.upkeep import Gate, Unit
from riskkit.model.verification import Instrument, Result, Test

FEWEST_DIGITS = 6
"""Digits of a SHA-256 from which it is looked for."""

EVERY_UNIT = ("every unit", "every use")


@dataclass(frozen=True, slots=True)
class Has:
    """A unit that has it.

    Attributes:
        unit: The unit.
        part: The part; None for an instrument.
        version: The version or lot that was fitted, as written; None where it was not.
        how: How that is known, such as "fitted" or "read back".
    """

    unit: str
    part: str | None
    version: str | None
    how: str


@dataclass(frozen=True, slots=True)
class Taken:
    """A result that was taken with it.

    Attributes:
        result: The result.
        test: Its test.
        unit: The unit it was taken on; None where it was on none.
        on: The day.
        word: What it says about its limit.
        stale: Whether something changed under it since.
        replaced: Whether a later result stands in its place.
        matters: Whether the reading depends on it: the test is sensitive to the part, or was read with the instrument.
        stated: Whether the result itself says so; else its unit or its test does.
    """

    result: str
    test: str
    unit: str | None
    on: datetime.date
    word: Word
    stale: bool
    replaced: bool
    matters: bool
    stated: bool


@dataclass(frozen=True, slots=True)
class RestsOn:
    """A question of a gate that a unit has passed, and the results that answer it: those taken with it, and others."""

    unit: str
    gate: str
    ask: str
    test: str
    taken_with_it: tuple[str, ...]
    others: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Again:
    """A test to be done again, on which units where each has to, and how long that takes in all."""

    test: str
    units: tuple[str, ...]
    runs: int
    minutes: float
    time_is_stated: bool


@dataclass(frozen=True, slots=True)
class Used:
    """Where something is used.

    Attributes:
        what: What was asked for, as typed.
        sort: What it turned out to be.
        records: Parts or instruments concerned.
        found: Units that have it, in the order of the register.
        results: Results taken with it.
        leaning: Everything that stands or falls with the parts or instruments, nearest first.
        gates: What the gates of those units rest on.
        again: Tests to be done again.
    """

    what: str
    sort: Literal["part", "instrument", "version", "firmware"]
    records: tuple[str, ...]
    found: tuple[Has, ...]
    results: tuple[Taken, ...]
    leaning: tuple[Chain, ...]
    gates: tuple[RestsOn, ...]
    again: tuple[Again, ...]

    @property
    def units(self) -> tuple[str, ...]:
        """Units that have it, each once."""
        return tuple(dict.fromkeys(each.unit for each in self.found))


@dataclass(frozen=True, slots=True)
class _Wanted:
    """What is looked for: parts with words of a version or digits of firmware, or instruments."""

    sort: Literal["part", "instrument", "version", "firmware"]
    records: frozenset[str] | None
    words: tuple[str, ...] = ()
    digits: str = ""

    def is_part(self, id: str) -> bool:
        return self.records is None or id in self.records

    def fits(self, version: str | None) -> bool:
        return version is not None and (not self.words or has_words(version, self.words))


def where_used(
    what: str,
    register: Register,
    trace: Trace,
    verdicts: Mapping[str, ResultVerdict],
    fresh: Mapping[str, Freshness],
) -> Used | None:
    """Where something is used; None where nothing of the register is called so.

    Args:
        what: Id of a part or an instrument, words of a version or lot with or without the part before them, or the first
            digits of a SHA-256.
        register: The records.
        trace: What points at what.
        verdicts: What each result says.
        fresh: Whether each still speaks.
    """
    for wanted in _meanings(what, register):
        found = tuple(_found(wanted, register))
        with_it = tuple(_taken(wanted, found, register, verdicts, fresh))
        drawn = _drawn(wanted, register)
        if not found and not with_it and not drawn:
            continue
        named = {each.part for each in found} | drawn | _named(wanted, with_it, register)
        records = tuple(id for id in register.records if id in named)
        leaning = _leaning(records, trace)
        return Used(
            what=what,
            sort=wanted.sort,
            records=records,
            found=found,
            results=with_it,
            leaning=leaning,
            gates=tuple(_gates(found, with_it, register, verdicts, fresh)),
            again=tuple(_again(wanted, records, found, with_it, register)),
        )
    return None


def has_words(version: str, words: tuple[str, ...]) -> bool:
    """Whether those words stand together in a version, as whole words."""
    said = split_words(version)
    return any(said[start : start + len(words)] == words for start in range(len(said) - len(words) + 1))


def split_words(text: str) -> tuple[str, ...]:
    """The words of a version or lot as they are compared: without capitals, commas and brackets."""
    return tuple(filter(None, re.split(r"[\s,;()\[\]\"'`]+", plain_words(text))))


def lots(register: Register, part: str | None = None) -> Mapping[str, tuple[str, ...]]:
    """Part -> every version or lot of it that is drawn, fitted or named by a result, each once."""
    found: dict[str, dict[str, str]] = {}
    named: list[tuple[str, str]] = [(each.id, each.version) for each in register.parts if each.version is not None]
    named += [pair for unit in register.units for pair in unit.parts.items()]
    named += [pair for result in register.results for pair in result.configuration.items()]
    for id, version in named:
        if part is None or id == part:
            found.setdefault(id, {}).setdefault(plain_words(version), version)
    return {id: tuple(each.values()) for id, each in found.items()}


def _meanings(what: str, register: Register) -> Iterator[_Wanted]:
    """What the words may mean, the nearest first."""
    typed = what.strip()
    by_name = {id.casefold(): id for id in register.records}
    id = by_name.get(typed.casefold(), typed)
    if register.get(id, Part) is not None:
        yield _Wanted("part", frozenset((id,)))
    if register.get(id, Instrument) is not None:
        yield _Wanted("instrument", frozenset((id,)))
    words = split_words(typed)
    if not words:
        return
    yield _Wanted("version", None, words)
    first = by_name.get(words[0], "")
    if len(words) > 1 and register.get(first, Part) is not None:
        yield _Wanted("version", frozenset((first,)), words[1:])
    digits = typed.casefold().removeprefix("sha256:").strip()
    if re.fullmatch(f"[0-9a-f]{{{FEWEST_DIGITS},64}}", digits):
        yield _Wanted("firmware", None, digits=digits)


def _drawn(wanted: _Wanted, register: Register) -> set[str]:
    """Parts or instruments that are meant by themselves, whether a unit has them or not."""
    if wanted.sort in ("part", "instrument"):
        return set(wanted.records or ())
    if wanted.sort == "firmware":
        return {each.id for each in register.parts if _starts(each.firmware_sha256, wanted.digits)}
    return {each.id for each in register.parts if wanted.is_part(each.id) and wanted.fits(each.version)}


def _starts(digest: str | None, digits: str) -> bool:
    """Whether digits are the beginning of a digest; a digest may have been written down by its first digits."""
    return digest is not None and digest.casefold()[: len(digits)] == digits[: len(digest)]


def _found(wanted: _Wanted, register: Register) -> Iterator[Has]:
    for unit in register.units:
        match wanted.sort:
            case "instrument":
                yield from _measured(unit, wanted, register)
            case "firmware":
                yield from _with_firmware(unit, wanted, register)
            case _:
                for part, version in unit.parts.items():
                    if wanted.is_part(part) and wanted.fits(version):
                        yield Has(unit.id, part, version, "fitted")


def _measured(unit: Unit, wanted: _Wanted, register: Register) -> Iterator[Has]:
    for check in unit.checks:
        if check.instrument is not None and wanted.is_part(check.instrument):
            yield Has(unit.id, None, None, f"the check `{check.step}` was read with it")
    named = [each.id for each in register.results if each.unit == unit.id and set(each.instruments) & _ids(wanted)]
    if named:
        yield Has(unit.id, None, None, f"{', '.join(named)} {'was' if len(named) == 1 else 'were'} read with it")


def _ids(wanted: _Wanted) -> frozenset[str]:
    return wanted.records or frozenset()


def _with_firmware(unit: Unit, wanted: _Wanted, register: Register) -> Iterator[Has]:
    """What was read back counts; where nobody read it back, the version that was fitted has to speak for it."""
    for part, digest in unit.firmware_sha256.items():
        if _starts(digest, wanted.digits):
            yield Has(unit.id, part, unit.parts.get(part), f"read back as {digest[:12].casefold()}")
    for drawn in register.parts:
        fitted = unit.parts.get(drawn.id)
        same = fitted is not None and drawn.version is not None and plain_words(fitted) == plain_words(drawn.version)
        if same and drawn.id not in unit.firmware_sha256 and _starts(drawn.firmware_sha256, wanted.digits):
            yield Has(unit.id, drawn.id, fitted, "by its version; nobody has read it back")


def _taken(
    wanted: _Wanted,
    found: tuple[Has, ...],
    register: Register,
    verdicts: Mapping[str, ResultVerdict],
    fresh: Mapping[str, Freshness],
) -> Iterator[Taken]:
    in_unit = {(each.unit, each.part) for each in found}
    for result in register.results:
        test, verdict = register.get(result.test, Test), verdicts.get(result.id)
        if test is None or verdict is None:
            continue
        if wanted.sort == "instrument":
            stated, silent = set(result.instruments) & _ids(wanted), set[str]()
            matters = True
        else:
            stated = {part for part, version in result.configuration.items() if _says(wanted, part, version, register)}
            silent = {
                part
                for part in test.configuration
                if part not in result.configuration
                and ((result.unit, part) in in_unit or (wanted.sort == "part" and wanted.is_part(part)))
            }
            matters = bool((stated | silent) & set(test.configuration))
        if stated or silent:
            state = fresh.get(result.id)
            yield Taken(
                result=result.id,
                test=test.id,
                unit=result.unit,
                on=result.on,
                word=verdict.word,
                stale=state is not None and state.is_stale,
                replaced=verdict.replaced,
                matters=matters,
                stated=bool(stated),
            )


def _says(wanted: _Wanted, part: str, version: str, register: Register) -> bool:
    """Whether a result that was taken with this version of a part was taken with what is looked for."""
    if wanted.sort == "firmware":
        drawn = register.get(part, Part)
        same = drawn is not None and drawn.version is not None and plain_words(version) == plain_words(drawn.version)
        return same and drawn is not None and _starts(drawn.firmware_sha256, wanted.digits)
    return wanted.is_part(part) and wanted.fits(version)


def _named(wanted: _Wanted, with_it: tuple[Taken, ...], register: Register) -> set[str]:
    """Parts that results were taken with, also where no unit has them any more."""
    if wanted.sort == "instrument":
        return set()
    return {
        part
        for result in register.all_of([each.result for each in with_it], Result)
        for part, version in result.configuration.items()
        if _says(wanted, part, version, register)
    }


def _leaning(records: tuple[str, ...], trace: Trace) -> tuple[Chain, ...]:
    shortest: dict[str, Chain] = {}
    for record in records:
        for chain in trace.leaning_on(record):
            before = shortest.get(chain.record)
            if before is None or len(chain.links) < len(before.links):
                shortest[chain.record] = chain
    return tuple(sorted(shortest.values(), key=lambda each: len(each.links)))


def _gates(
    found: tuple[Has, ...],
    with_it: tuple[Taken, ...],
    register: Register,
    verdicts: Mapping[str, ResultVerdict],
    fresh: Mapping[str, Freshness],
) -> Iterator[RestsOn]:
    """Questions of the gates that each unit has passed, as far as results taken with it answer them."""
    touched = {each.result: each for each in with_it if each.matters and not each.replaced}
    gates = sorted(register.of(Gate), key=lambda gate: gate.order)
    for unit in register.all_of(dict.fromkeys(each.unit for each in found), Unit):
        reached = register.get(unit.gate, Gate) if unit.gate is not None else None
        for gate in gates if reached is not None else ():
            if reached is None or gate.order > reached.order:
                continue
            for question in gate.questions:
                for test in register.all_of(question.tests, Test):
                    speaking = [
                        each.id
                        for each in register.results
                        if each.test == test.id and (test.scope not in EVERY_UNIT or each.unit == unit.id)
                    ]
                    mine = tuple(id for id in speaking if id in touched)
                    others = tuple(id for id in speaking if id not in touched and _holds(id, verdicts, fresh))
                    if mine:
                        yield RestsOn(unit.id, gate.id, question.ask, test.id, mine, others)


def _holds(result: str, verdicts: Mapping[str, ResultVerdict], fresh: Mapping[str, Freshness]) -> bool:
    verdict, state = verdicts.get(result), fresh.get(result)
    return verdict is not None and verdict.word == "meets" and not verdict.replaced and not (state and state.is_stale)


def _again(
    wanted: _Wanted, records: tuple[str, ...], found: tuple[Has, ...], with_it: tuple[Taken, ...], register: Register
) -> Iterator[Again]:
    """Tests whose readings depend on it: those with results taken with it, and those that every unit has to pass."""
    in_use = [unit.id for unit in register.units if unit.retired is None]
    having = {each.unit for each in found}
    read = {each.test for each in with_it if each.matters and not each.replaced}
    for test in register.tests:
        sensitive = wanted.sort != "instrument" and bool(set(records) & set(test.configuration))
        on: tuple[str, ...] = ()
        if test.scope in EVERY_UNIT:
            read_on = {each.unit for each in with_it if each.test == test.id and each.matters and not each.replaced}
            on = tuple(id for id in in_use if id in read_on or (sensitive and id in having))
            if not on:
                continue
        elif test.id not in read:
            continue
        minutes = bench_minutes(test) * max(1, len(on))
        yield Again(test.id, on, planned_runs(test), minutes, test.time is not None)


def hazards_of(used: Used, register: Register) -> tuple[Hazard, ...]:
    """Hazards that lean on it, in the order of nearness."""
    return tuple(register.all_of([each.record for each in used.leaning], Hazard))


def controls_of(used: Used, register: Register) -> tuple[Control, ...]:
    """Controls that lean on it and stand."""
    found = register.all_of([each.record for each in used.leaning], Control)
    return tuple(each for each in found if each.withdrawn is None)
