"""What a stranger who builds a unit has to read: everything already in words, cut, cleaned and counted.

The pack never says that a unit may be used on a person, and says plainly where the register has nothing to build by.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from riskkit.assess import Assessment
from riskkit.dossier.cards.of_units import BuildStep, build_steps, tests_of_every_unit, tests_of_every_use
from riskkit.dossier.cautions import VERSION, cautions
from riskkit.dossier.view.gaps import Gap, open_list
from riskkit.dossier.view.telling import Teller, counted
from riskkit.judgement.cards import card_code, content_of
from riskkit.model.records import Device, Part, UseStep
from riskkit.model.register import Register
from riskkit.model.upkeep import Unit
from riskkit.model.verification import Instrument, Result, Test

NOT_STATED = "not stated"
_BUILDS = re.compile(r"\bbuild", re.IGNORECASE)
"""Who builds, by role: `builder`, `builder-2`, `building group`."""


@dataclass(frozen=True, slots=True)
class PartRow:
    """A part as it is drawn, and what has to be looked at again where another one is fitted."""

    id: str
    title: str
    part_class: str
    version: str
    ratings: tuple[str, ...]
    remarks: tuple[str, ...]
    controls: tuple[str, ...]
    tests: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class InstrumentRow:
    """An instrument that the tests of a unit name, and how well the project's own one reads."""

    id: str
    title: str
    span: str
    uncertainty: str
    tests: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StepRow:
    """A use step of a builder."""

    id: str
    title: str
    who: str
    parts: tuple[str, ...]
    notes: str


@dataclass(frozen=True, slots=True)
class UnitTest:
    """A test of which the unit needs its own result."""

    id: str
    code: str
    title: str
    claim: str
    stop: str
    limits: tuple[str, ...]
    steps: tuple[str, ...]
    instruments: tuple[str, ...]
    time: str
    scope: str


@dataclass(frozen=True, slots=True)
class Stamp:
    """A word across the pack, and what it comes from."""

    word: str
    why: str


@dataclass(frozen=True)
class PackView:
    """The whole pack in words."""

    name: str
    revision: str
    group: str
    stage: str
    build: str
    today: str
    open: int
    stamps: tuple[Stamp, ...]
    summary: tuple[str, ...]
    not_for: tuple[str, ...]
    must_never: tuple[str, ...]
    touches: tuple[str, ...]
    stop_conditions: tuple[str, ...]
    cautions: tuple[str, ...]
    cautions_version: int
    parts: tuple[PartRow, ...]
    instruments: tuple[InstrumentRow, ...]
    steps: tuple[StepRow, ...]
    checks: tuple[BuildStep, ...]
    tests: tuple[UnitTest, ...]
    gaps: tuple[Gap, ...]
    missing: tuple[str, ...]
    units: tuple[str, ...]
    removed: tuple[tuple[str, str], ...]


def pack_view(assessment: Assessment, tell: Teller) -> PackView:
    """Say everything that a builder needs and the register knows."""
    register = assessment.reading.register
    device = register.device or Device(name="A device without a name")
    gaps = open_list(assessment, tell)
    concern = builders_records(register)
    tests = (*tests_of_every_unit(register), *tests_of_every_use(register))
    stop_conditions = tell.each(device.stop_conditions, "device")
    found = {
        "summary": tell.each(device.summary or ((device.purpose,) if device.purpose else ()), "device"),
        "parts": tuple(_part(part, register, tell) for part in register.parts),
        "instruments": _instruments(tests, register, tell),
        "steps": tuple(_step(step, tell) for step in steps_of_builders(register)),
        "checks": tuple(BuildStep(tell(c.step, "units"), c.unit, c.two_people) for c in build_steps(register)),
        "tests": tuple(_test(test, tell) for test in tests),
    }
    return PackView(
        name=tell.name(device.name, "device"),
        revision=tell(device.revision or NOT_STATED, "device"),
        group=tell(device.group or NOT_STATED, "device"),
        stage=tell(device.stage or NOT_STATED, "device"),
        build=tell(assessment.revision or assessment.reading.snapshot.fingerprint()[:12], "the build"),
        today=assessment.today.isoformat(),
        open=len(assessment.report.open),
        not_for=tell.each(device.not_for, "device"),
        must_never=tell.each(device.must_never, "device"),
        touches=tell.each(device.touches, "device"),
        stop_conditions=stop_conditions,
        cautions=cautions(stop_conditions),
        cautions_version=VERSION,
        gaps=tuple(gap for gap in gaps.gaps if gap.record in concern or gap.weight == "unreadable"),
        missing=tuple(_missing(register, device, found)),
        units=tuple(tell.name(f"{unit.id}: {unit.title}", unit.id) for unit in register.units),
        # Claims are met while everything else is put into words, so these two come last.
        removed=tuple((each.where, each.phrase) for each in tell.removed),
        stamps=tuple(_stamps(assessment, closed=gaps.is_empty and not tell.removed)),
        **found,  # type: ignore[arg-type]
    )


def _stamps(assessment: Assessment, *, closed: bool) -> Iterator[Stamp]:
    if not closed:
        yield Stamp("INCOMPLETE", f"{len(assessment.report.open)} open")
    stale = sum(found.is_stale for found in assessment.freshness.values())
    if stale:
        yield Stamp("STALE", f"{counted(stale, 'result')} from before a change")


def builders_records(register: Register) -> frozenset[str]:
    """Ids of records that concern somebody who builds a unit: units, parts, their tests, results and instruments."""
    tests = {test.id for test in (*tests_of_every_unit(register), *tests_of_every_use(register))}
    instruments = {id for test in register.all_of(tests, Test) for id in test.instruments}
    results = {result.id for result in register.of(Result) if result.test in tests}
    steps = {step.id for step in steps_of_builders(register)}
    units = {unit.id for unit in register.of(Unit)}
    return frozenset({part.id for part in register.parts} | tests | instruments | results | steps | units)


def steps_of_builders(register: Register) -> tuple[UseStep, ...]:
    """Use steps that a builder does, in their order; those without a place come last."""
    steps = [step for step in register.of(UseStep) if step.who is not None and _BUILDS.search(step.who)]
    return tuple(sorted(steps, key=lambda step: (step.order is None, step.order or 0)))


def _part(part: Part, register: Register, tell: Teller) -> PartRow:
    where = part.id
    remarks = [f"replaced after {part.life_limit.written}"] if part.life_limit is not None else []
    remarks += [f"firmware SHA-256 {part.firmware_sha256}"] if part.firmware_sha256 else []
    remarks += [f"supplied by {', '.join(part.supplied_by)}"] if part.supplied_by else []
    remarks += [part.notes] if part.notes else []
    return PartRow(
        id=part.id,
        title=tell(part.title, where),
        part_class=tell(part.part_class or "", where),
        version=tell(part.version or NOT_STATED, where),
        ratings=tuple(tell(f"{name} {value.written}", where) for name, value in part.ratings.items()),
        remarks=tell.each(remarks, where),
        controls=tuple(
            control.id for control in register.controls if where in control.depends_on and control.withdrawn is None
        ),
        tests=tuple(test.id for test in register.tests if where in test.configuration),
    )


def _instruments(tests: tuple[Test, ...], register: Register, tell: Teller) -> tuple[InstrumentRow, ...]:
    used: dict[str, list[str]] = {}
    for test in tests:
        for id in test.instruments:
            used.setdefault(id, []).append(test.id)
    return tuple(
        InstrumentRow(
            each.id,
            tell(each.title, each.id),
            f"{tell(each.measures or NOT_STATED, each.id)}, {tell(each.span or 'span not stated', each.id)}",
            tell(each.uncertainty or NOT_STATED, each.id),
            tuple(used[each.id]),
        )
        for each in register.all_of(used, Instrument)
    )


def _step(step: UseStep, tell: Teller) -> StepRow:
    return StepRow(
        step.id, tell(step.title, step.id), tell(step.who or "", step.id), step.parts, tell(step.notes or "", step.id)
    )


def _test(test: Test, tell: Teller) -> UnitTest:
    where = test.id
    return UnitTest(
        id=where,
        code=card_code(where, content_of(test)),
        title=tell(test.title, where),
        claim=tell(test.claim or "", where),
        stop=tell(test.stop or "no condition of its own is stated; the conditions of the device hold", where),
        limits=tuple(
            tell(limit.sentence(), where) + (f" ({tell(limit.because, where)})" if limit.because else "")
            for limit in test.limit
        ),
        steps=tell.each(test.steps, where),
        instruments=test.instruments,
        time=test.time.written if test.time is not None else NOT_STATED,
        scope=test.scope,
    )


def _missing(register: Register, device: Device, found: Mapping[str, tuple[object, ...]]) -> list[str]:
    """What a pack should have and this register does not, one sentence each."""
    said = []
    if not found["parts"]:
        said.append("No parts are written: nothing says what has to be bought or made.")
    unversioned = [part.id for part in register.parts if part.version is None]
    if unversioned:
        said.append(f"No version is stated for {', '.join(unversioned)}: what is fitted cannot be compared with it.")
    if not found["steps"]:
        said.append("No use step is done by a builder: the order of work is not written.")
    if not found["checks"]:
        said.append("No check of a build is written on any unit or gate.")
    if not found["tests"]:
        said.append("No test of every unit is written: nothing says what your unit has to show.")
    if not tests_of_every_use(register):
        said.append("No check before every use is written.")
    if not device.stop_conditions:
        said.append("The device sheet states no stop conditions.")
    if not device.must_never:
        said.append("The device sheet does not say what must never happen.")
    silent = [test.id for test in tests_of_every_unit(register) if not test.stop]
    if silent:
        said.append(f"{counted(len(silent), 'test')} of every unit without a stop condition: {', '.join(silent)}.")
    untold = [test.id for test in tests_of_every_unit(register) if not test.steps]
    if untold:
        said.append(f"{counted(len(untold), 'test')} of every unit without steps: {', '.join(untold)}.")
    return said
