"""Instrument cards, slips for deviations and observations, and the card that is read before anything is switched on."""

from __future__ import annotations

import datetime
from collections.abc import Iterator

from riskkit.dossier.cards.blocks import WORDS_LINES, Block, Box, Draft, Field, Text
from riskkit.dossier.cards.of_tests import RULES, stop_blocks
from riskkit.dossier.cards.of_units import MAINS, tests_of_every_use
from riskkit.dossier.cautions import SENTENCES
from riskkit.dossier.view.telling import Teller
from riskkit.judgement.cards import card_code, content_of
from riskkit.model.register import Register
from riskkit.model.verification import Instrument
from riskkit.units.kinds import readable

NOT_A_DEVICE, OXYGEN = SENTENCES[0], SENTENCES[9]
NEVER_ALONE = "Never test alone with oxygen, with a mask on a person, or with guards off."
"""The end of the ninth sentence, which does not change with the project."""

COMPARISONS = 3
SPARE_LINES = 3


def instrument_card(
    instrument: Instrument | None, today: datetime.date, tell: Teller, foot: str, place: int = 1
) -> Draft:
    """A card to stick on an instrument, or an empty one for a builder's own."""
    if instrument is None:
        return _own_instrument(tell, foot, place)
    return Draft(
        key=f"card-{instrument.id}",
        code=instrument.id,
        kind="Instrument card: stick it on",
        title=tell.name(instrument.title, instrument.id),
        blocks=tuple(_of_instrument(instrument, today, tell)),
        again="DO NOT USE after the day on card 1.",
        foot=f"{RULES} {foot}",
    )


def _of_instrument(instrument: Instrument, today: datetime.date, tell: Teller) -> Iterator[Block]:
    where = instrument.id
    yield from _until_when(instrument, today)
    facts = (
        ("Measures", instrument.measures),
        ("From where to where", instrument.span),
        ("Smallest step", instrument.resolution.written if instrument.resolution is not None else None),
        ("Read as", " or ".join(instrument.reading_modes) or None),
    )
    for label, words in facts:
        if words is not None or label != "Read as":
            yield Text(f"{label}: {tell(words or 'not stated', where)}", "plain")
    uncertainty = instrument.uncertainty or "not stated: a reading of it cannot be judged"
    yield Text(f"Expanded uncertainty (k = 2): {tell(uncertainty, where)}", "strong")
    if instrument.notes:
        yield Text(tell(instrument.notes, where), "plain")
    yield Text("Compared with a better one", "heading")
    for each in instrument.calibrations:
        against = f", against {tell(each.reference, where)}" if each.reference else ""
        yield Text(f"{each.on} {each.outcome}{against}", "plain")
    if not instrument.calibrations:
        yield Text("No comparison is on file.", "plain")
    yield from _next_comparisons(COMPARISONS)


def _next_comparisons(lines: int) -> Iterator[Block]:
    columns = (Box(caption="day"), Box(caption="came out"), Box(caption="by (role)"))
    yield Field("Next comparisons", columns * lines, across=3)


def _until_when(instrument: Instrument, today: datetime.date) -> Iterator[Block]:
    """The day after which nobody reads it, and what stands against it today."""
    last = max(instrument.calibrations, key=lambda each: each.on, default=None)
    if last is not None and last.outcome == "failed":
        yield Text("DO NOT USE", "big", frame="stop")
        yield Text(f"The last comparison failed on {last.on}.", "strong", frame="stop")
    elif instrument.due is None:
        yield Text("NO DUE DATE", "big", frame="stop")
        yield Text("Nobody has said until when a reading of it counts.", "strong", frame="stop")
    elif instrument.due < today:
        late = (today - instrument.due).days
        yield Text(f"OVERDUE SINCE {instrument.due}", "big", frame="stop")
        days = "1 day" if late == 1 else f"{late} days"
        yield Text(
            f"Do not use: compare it first. On the day of printing it was late by {days}.", "strong", frame="stop"
        )
    else:
        yield Text(f"DO NOT USE AFTER {instrument.due}", "big", frame="stop")
        yield Text("Compare it again by then, or when it was dropped.", "plain", frame="stop")


def _own_instrument(tell: Teller, foot: str, place: int) -> Draft:
    blocks: tuple[Block, ...] = (
        Text("DO NOT USE AFTER", "big", frame="stop"),
        Field("", (Box(caption="day"),), across=1),
        Field("What it is"),
        Field("Measures", short=True),
        Field("From where to where", short=True),
        Field("Smallest step", short=True),
        Field("Uncertainty (k = 2), with unit", short=True),
        Field("Compared with"),
        *_next_comparisons(COMPARISONS - 1),
    )
    return Draft(
        key=f"card-own-instrument-{place}",
        code="I__",
        kind="Instrument card: stick it on",
        title="An instrument of your own",
        blocks=blocks,
        again="DO NOT USE after the day on card 1.",
        foot=f"{RULES} {foot}",
    )


def deviation_slip(foot: str, place: int) -> Draft:
    """One difference between a unit and the drawings, and what was decided about it."""
    blocks: tuple[Block, ...] = (
        Text("STOP", "stop", frame="stop"),
        Text("Do not go on with this part before the difference is judged.", "plain", frame="stop"),
        Field("", (Box(caption="unit"), Box(caption="day"), Box(caption="written by (role)")), across=3),
        Field("", (Box(caption="part, as P09"), Box(caption="drawn"), Box(caption="fitted")), across=3),
        Field("What is different, and why", across=1, lines=WORDS_LINES),
        Text("Judged by somebody other than the builder", "heading"),
        Field("What was decided", across=1),
        Field("", (Box(caption="tests to do again"), Box(caption="by (role)"), Box(caption="day")), across=3),
    )
    return Draft(
        key=f"slip-deviation-{place}",
        code="DEVIATION",
        kind="Slip",
        title="A unit differs from the drawings",
        blocks=blocks,
        again="STOP: the difference is not judged yet.",
        foot=f"riskkit change PART says what leans on it. {RULES} {foot}",
    )


def observation_slip(foot: str, place: int) -> Draft:
    """Something seen, heard or smelt that nobody has explained."""
    blocks: tuple[Block, ...] = (
        Text("STOP", "stop", frame="stop"),
        Text("Smoke, smell, heat, a reset: switch off first, write afterwards.", "plain", frame="stop"),
        Field("", (Box(caption="unit"), Box(caption="day and hour"), Box(caption="seen by (role)")), across=3),
        Field("What was seen, heard or smelt", across=1, lines=WORDS_LINES),
        Field("What was running, at which settings", across=1),
        Text("Later: it became a hazard, or there is a reason why not", "heading"),
        Field("Hazard, by id"),
        Field("Or why it is none", across=1),
    )
    return Draft(
        key=f"slip-observation-{place}",
        code="OBSERVATION",
        kind="Slip",
        title="Nobody has explained this yet",
        blocks=blocks,
        again="STOP: switch off first, write afterwards.",
        foot=f"{RULES} {foot}",
    )


def switch_on_card(register: Register, tell: Teller, foot: str, *, hide_limit: bool = False) -> Draft:
    """What is read aloud before anything is switched on."""
    return Draft(
        key="card-switch-on",
        code="SWITCH-ON",
        kind="Before you switch on",
        title="Read aloud, both of you, every time",
        blocks=tuple(_switch_on(register, tell, hide_limit=hide_limit)),
        again="STOP AT ONCE at every condition on card 1.",
        foot=f"{RULES} {foot}",
    )


def _switch_on(register: Register, tell: Teller, *, hide_limit: bool) -> Iterator[Block]:
    device = register.device
    yield from stop_blocks(device, tell)
    yield Text("Who is here", "heading")
    yield Field("", (Box(caption="runs it (role)"), Box(caption="watches (role)")), across=2)
    yield Text(NEVER_ALONE, "strong")
    yield Text(OXYGEN, "plain")
    yield Text(MAINS, "plain")
    yield Text("Must never happen", "heading")
    must_never = device.must_never if device is not None else ()
    yield from (Text(tell(each, "device"), "item", "–") for each in must_never)
    if not must_never:
        yield Text("The device sheet does not say what must never happen.", "plain")
    yield Text(NOT_A_DEVICE, "plain")
    yield Text("Checks before every use", "heading")
    tests = tests_of_every_use(register)
    for test in tests:
        limits = "" if hide_limit else "; ".join(tell(limit.sentence(), test.id) for limit in test.limit)
        title, code = tell(test.title, test.id), card_code(test.id, content_of(test))
        words = f"{test.id} {title}{f' ({limits})' if limits else ''}, card {code}"
        unit = next((readable(limit.quantities[0].unit) for limit in test.limit if limit.quantities), "")
        yield Field(words, (Box(unit, "found"), Box(caption="by (role)")), across=2)
    if not tests:
        yield Text(
            "No check before every use is written in this register. What was looked at, and what was found:", "plain"
        )
        yield Field("", (Box(),) * SPARE_LINES, across=1)
