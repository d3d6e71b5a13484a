"""Build cards: parts as fitted, checks of the build, tests of every unit, sign-off by the builder and a second person."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from riskkit.dossier.cards.blocks import WORDS_LINES, Block, Box, Draft, Field, Text
from riskkit.dossier.cards.of_tests import RULES, stop_blocks
from riskkit.dossier.cautions import SENTENCES
from riskkit.dossier.view.telling import Teller
from riskkit.judgement.cards import card_code, content_of
from riskkit.model.register import Register
from riskkit.model.upkeep import Gate, Unit
from riskkit.model.verification import Test
from riskkit.units.kinds import readable

MAINS = SENTENCES[10]
WHAT_IT_SAYS = SENTENCES[7]
NEW_UNIT = "U__"
AGAIN = "STOP AT ONCE at every condition of the device: they stand on the card with the checks."


@dataclass(frozen=True, slots=True)
class BuildStep:
    """A check of the build that some unit has, or that a gate asks for.

    Attributes:
        step: What is checked, in the register's words.
        unit: Unit of the reading, where one was read on some unit.
        two_people: Whether a second person has to check, on any unit.
    """

    step: str
    unit: str
    two_people: bool


def build_steps(register: Register) -> tuple[BuildStep, ...]:
    """Checks of the build in the order in which units did them, those that only a gate names last."""
    found: dict[str, BuildStep] = {}
    for unit in register.units:
        for check in unit.checks:
            before = found.get(check.step, BuildStep(check.step, "", False))
            read = readable(check.reading.unit) if check.reading is not None else ""
            found[check.step] = BuildStep(check.step, before.unit or read, before.two_people or check.two_people)
    for gate in sorted(register.of(Gate), key=lambda gate: gate.order):
        for question in gate.questions:
            for step in question.steps:
                found.setdefault(step, BuildStep(step, "", False))
    return tuple(found.values())


def tests_of_every_unit(register: Register) -> tuple[Test, ...]:
    """Tests of which every unit needs its own result."""
    return tuple(test for test in register.tests if test.scope == "every unit")


def tests_of_every_use(register: Register) -> tuple[Test, ...]:
    """Tests that are done before each use of the bench."""
    return tuple(test for test in register.tests if test.scope == "every use")


def unit_cards(unit: Unit | None, register: Register, tell: Teller, foot: str) -> tuple[Draft, ...]:
    """The three build cards of a unit, or of a unit that is not in the register yet."""
    name = unit.id if unit is not None else NEW_UNIT
    where = unit.id if unit is not None else "a new unit"
    title = tell.name(unit.title, where) if unit is not None else "a unit that is to be built"
    key = unit.id if unit is not None else "new-unit"
    foot = f"{RULES} {foot}"
    shared = {"code": name, "again": AGAIN, "foot": foot}
    return (
        Draft(
            key=f"card-{key}-parts",
            kind="Build card: parts as fitted",
            title=title,
            blocks=tuple(_parts(unit, register, tell)),
            **shared,
        ),
        Draft(
            key=f"card-{key}-checks",
            kind="Build card: checks",
            title=title,
            blocks=tuple(_checks(register, tell, where)),
            **shared,
        ),
        Draft(
            key=f"card-{key}-sign-off",
            kind="Build card: sign-off",
            title=title,
            blocks=tuple(_sign_off(unit, tell)),
            typed=f"riskkit gate --unit {name}" if unit is not None else "",
            **shared,
        ),
    )


def _parts(unit: Unit | None, register: Register, tell: Teller) -> Iterator[Block]:
    yield Text("BEFORE ANYTHING IS PLUGGED IN", "stop", frame="stop")
    yield Text(MAINS, "plain", frame="stop")
    if unit is None:
        yield Field("Unit, as it is to be called")
    boxes = (Box(caption="builder, by role"), Box(caption="place"), Box(caption="day finished"))
    yield Field("", boxes, across=3)
    revision = register.device.revision if register.device is not None else None
    yield Field(f"Revision built to (the register describes {tell(revision or 'none', 'device')})")
    yield Text("Part by part: the version or lot that is really fitted", "heading")
    if not register.parts:
        yield Text("The register lists no parts.", "plain")
    for part in register.parts:
        drawn = tell(part.version or "not stated", part.id)
        label = f"{part.id} {tell(part.title, part.id)}. Drawn: {drawn}."
        fitted = unit.parts.get(part.id) if unit is not None else None
        if fitted is not None and fitted != part.version:
            label += f" On file: {tell(fitted, part.id)}."
        yield Field(label)
    yield Text("Where fitted and drawn differ, write a deviation slip before going on.", "strong")


def _checks(register: Register, tell: Teller, where: str) -> Iterator[Block]:
    yield from stop_blocks(register.device, tell)
    steps = build_steps(register)
    yield Text("Checks of the build, in this order", "heading")
    if not steps:
        yield Text("No check of a build is written in this register.", "plain")
    for number, step in enumerate(steps, start=1):
        second = (Box(caption="seen by (role)"),) if step.two_people else ()
        boxes = (Box(step.unit, "found"), Box(caption="done by (role)"), *second)
        label = f"{tell(step.step, where)}{': two people' if step.two_people else ''}"
        yield Field(label, boxes, str(number), across=len(boxes))
    if any(step.two_people for step in steps):
        yield Text("Two people: the one who saw it is not the one who did it.", "plain")
    yield Text("Tests of every unit, each with a card of its own", "heading")
    tests = tests_of_every_unit(register)
    if not tests:
        yield Text("No test of every unit is written in this register.", "plain")
    for test in tests:
        label = f"{test.id} {tell(test.title, test.id)}, card {card_code(test.id, content_of(test))}"
        yield Field(label, (Box(caption="day"), Box(caption="done by (role)"), Box(caption="what it said")), across=3)


def _sign_off(unit: Unit | None, tell: Teller) -> Iterator[Block]:
    yield Text("WHAT A SIGNATURE HERE SAYS", "stop", frame="stop")
    yield Text(WHAT_IT_SAYS, "plain", frame="stop")
    for deviation in unit.deviations if unit is not None else ():
        where = unit.id if unit is not None else ""
        judged = (
            f"judged: {tell(deviation.judged.verdict, where)}" if deviation.judged is not None else "not judged yet"
        )
        yield Text(f"Deviation on file: {tell(deviation.text, where)} ({judged})", "plain")
    yield Field("Deviation slips written, how many")
    yield Field("What was left blank, and why", across=1, lines=WORDS_LINES)
    yield Text("Builder: I wrote down what I fitted and read, and nothing else.", "plain")
    yield Field("", (Box(caption="role"), Box(caption="day"), Box(caption="mark")), across=3)
    yield Text("Second person, not the builder: I saw the steps for two people and read every line.", "plain")
    yield Field("", (Box(caption="role"), Box(caption="day"), Box(caption="mark")), across=3)
    yield Text("Neither mark lets the unit be used on a person.", "strong")
