"""Test cards, fault-injection cards and spare cards: when to stop, what is done, and the questions in the order of typing.

The questions are those of `riskkit record`, so that what was written is typed in from top to bottom.
"""

from __future__ import annotations

from collections.abc import Iterator

from riskkit.dossier.cards.blocks import WORDS_LINES, Block, Box, Draft, Field, Text
from riskkit.dossier.view.telling import Teller, counted
from riskkit.judgement.cards import (
    Question,
    all_questions,
    card_code,
    content_of,
    is_fault_injection,
    reading_boxes,
)
from riskkit.model.records import Device, Hazard
from riskkit.model.register import Register
from riskkit.model.verification import Test
from riskkit.units.kinds import readable

RULES = "Bench only, on nobody. Never alone with oxygen on or with guards off. Roles, no names; blank where not known."
"""At the bottom of every card."""

NO_STOP = "No condition of its own is stated for this test."
NO_DEVICE_STOP = "The device sheet states no stop condition: agree on one before anything is switched on."
FULL_WIDTH = ("observed", "notes", "fault_shown")
SHORT = ("date", "unit", "count", "quantity")
ROLES = ("operator", "witness")
READINGS_ACROSS = 3
SPARE_READINGS = 6


def card_of_test(test: Test, register: Register, tell: Teller, foot: str, *, hide_limit: bool) -> Draft:
    """The card of a test; one that sets a fault also says which, and how it is known to be there.

    Args:
        test: The test, as it stands in the files: the code of the card depends on every word of it.
        register: For titles, instruments and the stop conditions of the device.
        tell: Prepares the register's words for print.
        foot: Build and day.
        hide_limit: Leaves out the limit and the claim, so that nobody writes down what is expected.
    """
    code = card_code(test.id, content_of(test))
    questions = all_questions(test, register)
    faulty = is_fault_injection(test, register)
    own = Text(tell(test.stop, test.id), "strong", frame="stop") if test.stop else Text(NO_STOP, frame="stop")
    blocks: list[Block] = [*stop_blocks(register.device, tell, (own,))]
    if faulty:
        blocks += _fault_blocks(test, register, tell, questions)
    blocks += _what_is_done(test, tell, hide_limit=hide_limit)
    blocks += [
        _field(str(number), question, test, tell, hide_limit=hide_limit)
        for number, question in enumerate(questions, start=1)
    ]
    return Draft(
        key=f"card-{test.id}",
        code=code,
        kind="Fault-injection card" if faulty else "Test card",
        title=tell.name(test.title, test.id),
        blocks=(*_full_title(test, tell), *blocks),
        again=_again(test, tell),
        typed=f"riskkit record {test.id} --card {code}",
        foot=f"{RULES} {foot}",
    )


def _again(test: Test, tell: Teller) -> str:
    """When to stop, as it stands on every further card."""
    own = f"{tell.name(test.stop, test.id)}, and at " if test.stop else ""
    return f"STOP AT ONCE at {own}every condition on card 1."


def _full_title(test: Test, tell: Teller) -> Iterator[Block]:
    """The whole title where the head of the card has no room for it."""
    if tell.name(test.title, test.id) != tell(test.title, test.id):
        yield Text(tell(test.title, test.id), "strong")


def stop_blocks(device: Device | None, tell: Teller, own: tuple[Block, ...] = ()) -> Iterator[Block]:
    """When to stop, in a frame: conditions of a test first, where there are some, then those of the device."""
    yield Text("STOP AT ONCE AT", "stop", frame="stop")
    yield from own
    conditions = device.stop_conditions if device is not None else ()
    yield from (Text(tell(each, "device"), "item", "–", "stop") for each in conditions)
    if not conditions:
        yield Text(NO_DEVICE_STOP, "plain", frame="stop")


def _fault_blocks(test: Test, register: Register, tell: Teller, questions: tuple[Question, ...]) -> Iterator[Block]:
    """Which fault, who is there, and how it is seen that the fault is present."""
    yield Text(f"The fault that is set: {tell(test.title, test.id)}.", "strong", frame="fault")
    stands_for = tuple(_causes(test, register, tell))
    yield from (Text(f"It stands for: {cause}", "plain", frame="fault") for cause in stands_for)
    if not stands_for:
        yield Text("No hazard of the register names this test.", "plain", frame="fault")
    place = next(number for number, each in enumerate(questions, start=1) if each.field == "fault_shown")
    yield Text(
        f"See that the fault is present before a reading counts, and write in box {place} how it was seen: "
        "on camera, on a trace, on a lamp.",
        "plain",
        frame="fault",
    )
    ticks = ("a second person is here and can reach the switch", "both have read the stop conditions aloud")
    yield Field("", tuple(Box(caption=words, tick=True) for words in ticks), across=2)


def _causes(test: Test, register: Register, tell: Teller) -> Iterator[str]:
    """ "P05 controller: drives to full speed (H05)", once each; the test's single-fault hazards where there are some."""
    named = [hazard for hazard in register.of(Hazard) if test.id in hazard.tests]
    single = [hazard for hazard in named if "single fault" in hazard.condition] or named
    said: dict[str, list[str]] = {}
    for hazard in single:
        for cause in hazard.causes:
            words = tell.name(f"{cause.by} {register.title_of(cause.by)}", hazard.id)
            mode = f": {tell.name(cause.mode, hazard.id)}" if cause.mode else ""
            said.setdefault(f"{words}{mode}", []).append(hazard.id)
    yield from (f"{words} ({', '.join(ids)})" for words, ids in said.items())


def _what_is_done(test: Test, tell: Teller, *, hide_limit: bool) -> Iterator[Block]:
    """Claim, limit, settings, steps."""
    if test.parked is not None:
        yield Text(f"This test is parked until {test.parked.until}: {tell(test.parked.reason, test.id)}", "strong")
    if hide_limit:
        yield Text("The limit is left off this card on purpose: write what you read.", "plain")
    else:
        if test.claim:
            yield Text(f"Claim: {tell(test.claim, test.id)}", "plain")
        yield from (Text(f"Limit: {tell(limit.sentence(), test.id)}", "strong") for limit in test.limit)
        if not test.limit:
            yield Text("No limit is stated for this test: a reading of it cannot be judged.", "strong")
    settings = ", ".join(f"{name} {setting.written}" for name, setting in test.conditions.items())
    if settings:
        yield Text(f"Set: {tell(settings, test.id)}", "plain")
    plan = test.plan
    if plan is not None and (plan.runs or plan.units):
        parts = [counted(plan.runs, "run")] if plan.runs else []
        parts += [f"on {counted(plan.units, 'unit')}"] if plan.units else []
        yield Text(f"Plan: {' '.join(parts)}, {counted(plan.allowed_failures, 'failure')} allowed", "plain")
    for number, step in enumerate(test.steps, start=1):
        yield Text(tell(step, test.id), "step", f"{number}.")
    if not test.steps:
        yield Text("No steps are written for this test: write below what was done.", "plain")
    if test.record:
        yield Text(f"Write down: {'; '.join(tell.each(test.record, test.id))}", "plain")


def _field(number: str, question: Question, test: Test, tell: Teller, *, hide_limit: bool) -> Field:
    """A question with boxes that suit its kind."""
    hint = "" if question.kind == "words" or (question.kind == "choice" and hide_limit) else question.hint
    ask = tell(question.ask, test.id)
    label = f"{ask} ({tell(hint, test.id)})" if hint else ask
    unit = readable(question.unit)
    box = Box(unit)
    if question.kind == "readings":
        boxes = tuple(Box(unit, str(place)) for place in range(1, reading_boxes(test) + 1))
        return Field(label, boxes, number, across=READINGS_ACROSS)
    if question.kind == "choice":
        ticks = tuple(Box(caption=tell.name(choice, test.id), tick=True) for choice in question.choices)
        return Field(label, ticks, number, across=2)
    if question.field in FULL_WIDTH:
        return Field(label, (box,), number, across=1, lines=1 if question.field == "notes" else WORDS_LINES)
    return Field(label, (box,), number, short=question.kind in SHORT or question.field in ROLES)


def spare_card(register: Register, tell: Teller, foot: str, place: int) -> Draft:
    """A card without a test: what every reading needs, whatever it is of."""
    roles = (Box(caption="who did it, by role"), Box(caption="who watched, by role"))
    fields = (
        Field("", (Box(caption="test"), Box(caption="day"), Box(caption="unit")), across=3),
        Field("Parts that matter: version or lot fitted", across=1),
        Field("Instruments used"),
        Field("Settings, with units"),
        Field("Room temperature", (Box("°C"),)),
        Field("What was read, and in which unit"),
        Field(
            "Readings",
            tuple(Box(caption=str(number)) for number in range(1, SPARE_READINGS + 1)),
            across=READINGS_ACROSS,
        ),
        Field("Expanded uncertainty (k = 2), with its unit"),
        Field("", roles, across=2),
        Field("What was seen, in words", across=1, lines=WORDS_LINES),
    )
    return Draft(
        key=f"card-spare-{place}",
        code="SPARE",
        kind="Test card without a code",
        title="For a reading that has no card yet",
        blocks=(
            *stop_blocks(register.device, tell),
            Text("Before anything is switched on, write when this test is stopped:", "plain"),
            Field("", across=1),
            *fields,
        ),
        again="STOP AT ONCE at every condition on card 1.",
        foot=f"{RULES} {foot}",
    )
