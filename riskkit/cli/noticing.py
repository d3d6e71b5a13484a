"""The notice to builders: which units, what was found, what it may do, what to do now, and whom to answer.

It is plain text for a letter or a wall. Words of the register lose claims on the way, as they do on paper.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from riskkit.cli.output import bench_time, wrapped
from riskkit.diagnostics import RiskkitError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from riskkit.assess import Assessment
    from riskkit.dossier.view.telling import Teller
    from riskkit.judgement.where_used import Used
    from riskkit.model.upkeep import Unit

COLUMNS = 76
MOST_HAZARDS = 12
CAUTIONS = (0, 1, 5, 7, 8, 9, 10, 11)
"""Of the fixed sentences, those that matter to somebody who opens a unit and tests it again."""
PERMITS_NOTHING = (
    "This notice permits nothing. When all of it is done, the unit is where it was before: on the bench. A unit that is not "
    "named here may have the same fault."
)


def notice_to_builders(used: Used, reason: str, to: str | None, assessment: Assessment) -> str:
    """The notice as text of 76 columns.

    Args:
        used: Where the thing is used.
        reason: What was found, in the words of whoever asks.
        to: The builder's role it is written to; None for one notice to all.
        assessment: The register.

    Raises:
        RiskkitError: where nobody has to be told, no such builder has one, or the reason is empty or claims something.
    """
    from riskkit.dossier.refusing import claims_in
    from riskkit.dossier.view.telling import Teller
    from riskkit.model.upkeep import Unit

    if not reason.strip():
        raise RiskkitError("a notice says what was found", 'write it: --notice "two springs of five broke at 100 h"')
    claim = next(iter(claims_in(reason)), None)
    if claim is not None:
        raise RiskkitError(f"the notice would say `{claim.phrase}`, which nothing here can show", claim.offer)
    units = tuple(assessment.register.all_of(used.units, Unit))
    if not units:
        raise RiskkitError(
            f"no unit on file has `{used.what}`, so nobody has to be told", "`riskkit where-used` lists what units have"
        )
    chosen = tuple(each for each in units if to is None or (each.builder or "").casefold() == to.casefold())
    if not chosen:
        builders = sorted({each.builder for each in units if each.builder is not None})
        raise RiskkitError(
            f"no unit of {to} has `{used.what}`",
            f"its builders are {', '.join(builders)}" if builders else "no builder is written down; leave --to out",
        )
    tell = Teller(claims_in)
    lines = list(_lines(used, reason, chosen, assessment, tell))
    return "\n".join(lines) + "\n"


def _lines(used: Used, reason: str, units: tuple[Unit, ...], assessment: Assessment, tell: Teller) -> Iterator[str]:
    from riskkit.dossier.cautions import SENTENCES, VERSION, cautions

    register = assessment.register
    device = register.device
    name = tell.name(device.name, "device") if device is not None else "a device without a name"
    builders = tuple(dict.fromkeys(each.builder for each in units if each.builder is not None))
    yield "NOTICE TO BUILDERS"
    yield "=================="
    yield from _wrapped(f"Device: {name}{_revision(assessment, tell)}")
    yield from _wrapped(f"Day: {assessment.today}")
    yield from _wrapped(
        f"To: {', '.join(tell(each, 'units') for each in builders) or 'whoever has one of these units'}"
    )
    yield from ("", "STOP. DO NOT USE THESE UNITS UNTIL YOU HAVE AN ANSWER.", "")
    yield "Which units"
    for unit in units:
        yield from _item(_unit(unit, used, tell))
    yield from ("", "What was found")
    yield from _wrapped(tell(reason.strip(), "the notice"), "  ")
    for record in used.records:
        yield from _wrapped(f"It concerns {record}, {tell.name(register.title_of(record), record)}.", "  ")
    yield from ("", "What it may do")
    yield from _hazards(used, assessment, tell)
    yield from ("", "What to do now")
    for number, step in enumerate(_steps(used, units, assessment, tell), start=1):
        yield from wrapped(f"{number}. {step}", COLUMNS, "  ", "     ")
    yield from ("", "Cautions")
    said = cautions(device.stop_conditions if device is not None else ())
    for number in CAUTIONS:
        # The ninth sentence carries the project's own stop conditions; the others are printed word for word.
        text = said[number] if said[number] == SENTENCES[number] else tell(said[number], "device")
        yield from _item(text)
    yield ""
    yield from _wrapped(PERMITS_NOTHING)
    build = assessment.revision or assessment.reading.snapshot.fingerprint()[:12]
    yield from _wrapped(f"Written from register {build}; cautions version {VERSION}.")


def _revision(assessment: Assessment, tell: Teller) -> str:
    device = assessment.register.device
    return f", revision {tell(device.revision, 'device')}" if device is not None and device.revision else ""


def _unit(unit: Unit, used: Used, tell: Teller) -> str:
    facts = [unit.title]
    facts += [f"serial {unit.serial}"] if unit.serial else []
    facts += [f"built by {unit.builder}"] if unit.builder else []
    facts += [f"at {unit.place}"] if unit.place else []
    facts += [f"no longer used since {unit.retired}"] if unit.retired else []
    has = [
        f"{each.part} {each.version or 'of a version that nobody wrote down'}" if each.part else each.how
        for each in used.found
        if each.unit == unit.id
    ]
    return tell(f"{unit.id}: {'; '.join(has)} ({', '.join(facts)})", unit.id)


def _hazards(used: Used, assessment: Assessment, tell: Teller) -> Iterator[str]:
    from riskkit.judgement.where_used import hazards_of

    policy = assessment.policy
    found = sorted(hazards_of(used, assessment.register), key=lambda each: -policy.severity_rank(each.severity))
    for each in found[:MOST_HAZARDS]:
        rank = policy.severity_rank(each.severity)
        word = f" ({policy.severity[rank].word})" if rank >= 0 else ""
        yield from _item(tell(f"{each.title}: {each.harm.text}. Severity {each.severity}{word}, {each.id}.", each.id))
    if len(found) > MOST_HAZARDS:
        yield from _item(f"And {len(found) - MOST_HAZARDS} more of no greater severity, in the register.")
    if not found:
        yield from _wrapped("No listed hazard leans on it. That does not mean that there is none.", "  ")
    else:
        yield from _wrapped("This list is what we thought of. There may be more.", "  ")


def _steps(used: Used, units: tuple[Unit, ...], assessment: Assessment, tell: Teller) -> Iterator[str]:
    """What a builder has to do, one thing each."""
    from riskkit.model.records import Part

    register = assessment.register
    device = register.device
    yield "Stop every run. Where oxygen is on, close it before you switch the blower off. Take the plug out."
    yield "Put a note on the unit so that nobody else switches it on. Do not hand it on, lend it or show it running."
    if used.sort == "instrument":
        results = ", ".join(each.result for each in used.results) or "no result on file"
        yield f"Put the instrument aside. What was read with it is in doubt, also inside its limit: {results}."
    elif used.sort == "firmware":
        yield "Read the firmware back from the unit and write down its SHA-256, all 64 digits. Do not trust the number on the screen."
    else:
        yield (
            "Look whether it is so: read the marking on the part, compare it with the drawing, take a photo, and write down "
            "what is really fitted. Where nothing is marked, write that down."
        )
    for part in register.all_of(used.records, Part):
        if part.fails:
            modes = "; ".join(each.mode for each in part.fails)
            yield tell(f"Look for the ways in which {part.id} is known to fail: {modes}.", part.id)
    if used.sort in ("part", "version"):
        yield "Keep what you take out, in a bag with the name of the unit. It may tell more than a photo."
    ids = {each.id for each in units}
    then = "With another instrument" if used.sort == "instrument" else "After it is replaced or judged"
    for again in used.again:
        on = [each for each in again.units if each in ids]
        if again.units and not on:
            continue
        where = f" on {', '.join(on)}" if on else ""
        minutes = again.minutes / max(1, len(again.units)) * max(1, len(on))
        stated = "" if again.time_is_stated else " (no time is stated; an hour is taken)"
        title = tell.name(register.title_of(again.test), again.test)
        yield f"{then}, do {again.test} ({title}){where} again: {bench_time(minutes)}{stated}."
    owner = (device.owner or device.group) if device is not None else None
    whom = tell(owner, "device") if owner else "whoever sent you this notice"
    yield f"Answer to {whom}, even if you found nothing: which unit, what is fitted, what you saw, and since when it has been switched off."


def _wrapped(text: str, indent: str = "") -> list[str]:
    return wrapped(text, COLUMNS, indent)


def _item(text: str) -> list[str]:
    return wrapped(f"- {text}", COLUMNS, "  ", "    ")
