"""`where-used`: which units have a part, lot or firmware, or were measured with an instrument; and a notice to builders."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

from riskkit.cli.opening import one_of, open_register, print_text, warn_if_broken, width, write_whole
from riskkit.cli.output import bench_time, counted, wrapped
from riskkit.diagnostics import RiskkitError

if TYPE_CHECKING:
    from riskkit.assess import Assessment
    from riskkit.judgement.where_used import RestsOn, Taken, Used

LISTED = (("hazards", "Hazards"), ("controls", "Controls"), ("calculations", "Calculations"), ("tests", "Tests"))
MOST_LOTS = 16
"""Versions and lots that are named where a word leads nowhere; without a word, `where-used` lists all."""


def show_where_used(
    first: str | None,
    second: str | None,
    notice: str | None,
    to: str | None,
    output: Path | None,
    format: str,
    today: str | None,
) -> None:
    """Print where something is used, or write the notice to builders; the folder may stand before or behind the words."""
    one_of("--format", format, ("text", "json"))
    what, folder = _told_apart(first or None, second)
    if notice is None and (to is not None or output is not None):
        raise RiskkitError("--to and --output belong to a notice", 'say what was found: --notice "two springs broke"')
    from riskkit.judgement.where_used import where_used

    assessment = open_register(folder, today)
    warn_if_broken(assessment.report)
    register = assessment.register
    if what is None:
        print_text(_lots(assessment))
        return
    used = where_used(what, register, assessment.trace, assessment.verdicts, assessment.freshness)
    if used is None:
        raise _unknown(what, assessment)
    if notice is None:
        print_text(_json(used, assessment) if format == "json" else _text(used, assessment))
        return
    from riskkit.cli.noticing import notice_to_builders

    written = notice_to_builders(used, notice, to, assessment)
    if output is None:
        print_text(written)
    else:
        write_whole(output, written.encode("utf-8", "replace"))
        print_text(f"The notice stands in {output}. Read it before you send it; riskkit sends nothing.\n")


def _told_apart(first: str | None, second: str | None) -> tuple[str | None, Path]:
    if first is None or (second is None and Path(first).is_dir()):
        return None, Path(first or ".")
    if second is None:
        return first, Path()
    if Path(first).is_dir() and not Path(second).is_dir():
        return second, Path(first)
    if not Path(second).is_dir():
        together = f"{first} {second}"
        raise RiskkitError(f"there is no folder {second}", f"put words that belong together in quotes: '{together}'")
    return first, Path(second)


def _unknown(what: str, assessment: Assessment) -> RiskkitError:
    """One sentence with the nearest spelling, and what there is."""
    from riskkit.judgement.where_used import lots, split_words
    from riskkit.model.records import Part
    from riskkit.model.verification import Instrument
    from riskkit.text.complaints import nearest

    register = assessment.register
    record = register.records.get(what)
    if record is not None:
        return RiskkitError(
            f"{what} is no part, instrument, lot or firmware: it stands under {record.SECTION}",
            f"`riskkit change {what}` lists what leans on it, `riskkit why {what}` tells its story",
        )
    words = split_words(what)
    part = next((each.id for each in register.parts if words and each.id.casefold() == words[0]), None)
    versions = lots(register, part)
    known = tuple(dict.fromkeys(version for each in versions.values() for version in each))
    asked = " ".join(what.split()[1:]) if part is not None and len(words) > 1 else what
    ids = tuple(each.id for kind in (Part, Instrument) for each in register.of(kind))
    guess = nearest(asked, (*known, *ids)) or nearest(what, ids)
    if guess is not None and part is not None and guess in known:
        guess = f"{part} {guess}"
    of = f" of {part}" if part is not None else ""
    shown = ", ".join(f"`{each}`" for each in known[:MOST_LOTS]) + (" ..." if len(known) > MOST_LOTS else "")
    there = f"versions and lots{of}: {shown}" if known else f"no version or lot{of} is written down"
    help = f"did you mean `{guess}`? {there[0].upper()}{there[1:]}" if guess else there
    return RiskkitError(f"no unit, result or part here has `{what}`", help)


def _lots(assessment: Assessment) -> str:
    """Every part with its versions and lots, and the units that have each."""
    from riskkit.judgement.where_used import lots
    from riskkit.model.fields import plain_words

    register, columns = assessment.register, width()
    lines: list[str] = []
    for part, versions in lots(register).items():
        lines += wrapped(f"{part} ({register.title_of(part)})", columns)
        for version in versions:
            same = plain_words(version)
            units = [each.id for each in register.units if plain_words(each.parts.get(part, "")) == same]
            lines += wrapped(f"{version}: {', '.join(units) or 'in no unit on file'}", columns, "  ", "    ")
    return "\n".join(lines or ["No version or lot is written down."]) + "\n"


# -- one thing ----------------------------------------------------------------------------------------


def _text(used: Used, assessment: Assessment) -> str:
    from riskkit.judgement.where_used import hazards_of

    register, columns = assessment.register, width()
    lines: list[str] = []
    for record in used.records:
        lines += wrapped(f"{record} ({register.title_of(record)})", columns)
    lines += [""] if lines else []
    lines += _units(used, assessment, columns)
    lines += ["", *_results(used, columns)]
    severity = {each.id: f", severity {each.severity}" for each in hazards_of(used, register)}
    for section, heading in LISTED:
        chains = [each for each in used.leaning if register.section_of(each.record) == section]
        if chains:
            lines += ["", f"{heading} that lean on it:"]
        for each in chains:
            path = ", ".join(link.sentence() for link in each.links)
            title = f"{register.title_of(each.record)}{severity.get(each.record, '')}"
            lines += wrapped(f"{each.record} ({title}): {path}", columns, "  ", "    ")
    lines += _gates(used, assessment, columns)
    if used.again:
        lines += ["", "Tests whose readings depend on it, to be done again once it is replaced or judged:"]
        for again in used.again:
            on = f", on {', '.join(again.units)}" if again.units else ""
            time = bench_time(again.minutes) + ("" if again.time_is_stated else ", no time stated and an hour taken")
            lines += wrapped(f"{again.test} ({register.title_of(again.test)}){on}: {time}", columns, "  ", "    ")
    if used.units:
        lines += ["", 'Tell their builders: the same command with --notice "what was found" writes the notice.']
    return "\n".join(lines) + "\n"


def _units(used: Used, assessment: Assessment, columns: int) -> list[str]:
    from riskkit.model.upkeep import Unit

    if not used.found:
        return ["No unit on file has it."]
    lines = [f"{counted(len(used.units), 'unit')} on file:"]
    for unit in assessment.register.all_of(used.units, Unit):
        said = []
        for each in used.found:
            if each.unit == unit.id:
                how = f" ({each.how})" if each.how != "fitted" else ""
                said.append(f"{each.part} {each.version or 'version not written down'}{how}" if each.part else each.how)
        facts = [unit.title, *([f"built by {unit.builder}"] if unit.builder else [])]
        facts += [f"at {unit.place}"] if unit.place else []
        facts += [f"no longer used since {unit.retired}"] if unit.retired else []
        lines += wrapped(f"{unit.id} ({', '.join(facts)}): {'; '.join(said)}", columns, "  ", "    ")
    return lines


def _results(used: Used, columns: int) -> list[str]:
    if not used.results:
        return ["No result on file was taken with it."]
    lines = ["Results taken with it:"]
    for each in used.results:
        lines += wrapped(_result(each), columns, "  ", "    ")
    return lines


def _result(each: Taken) -> str:
    on = f" on {each.unit}" if each.unit else ""
    word = "cannot be told from its limit" if each.word == "cannot tell" else f"{each.word} its limit"
    said = f"{each.result} of {each.test}{on}, {each.on}: {word}"
    notes = [
        *(["replaced by a later one"] if each.replaced else []),
        *(["stale already"] if each.stale else []),
        *(["it does not say so itself, its unit or test does"] if not each.stated else []),
        *(["its test does not depend on it"] if not each.matters else []),
    ]
    return f"{said} ({'; '.join(notes)})" if notes else said


def _gates(used: Used, assessment: Assessment, columns: int) -> list[str]:
    from riskkit.model.upkeep import Gate, Unit

    register = assessment.register
    lines: list[str] = []
    for unit in register.all_of(used.units, Unit):
        gate = register.get(unit.gate, Gate) if unit.gate is not None else None
        if gate is None:
            lines += wrapped(f"{unit.id} has reached no gate.", columns, "  ", "    ")
            continue
        mine = [each for each in used.gates if each.unit == unit.id]
        rests = "; ".join(_rest(each) for each in mine) or "no answer of it rests on a result taken with it"
        lines += wrapped(f"{unit.id} has reached {gate.id} ({gate.title}): {rests}.", columns, "  ", "    ")
    return ["", "What their gates rest on:", *lines] if lines else []


def _rest(each: RestsOn) -> str:
    results = ", ".join(each.taken_with_it)
    beside = f", beside {', '.join(each.others)} without it" if each.others else ", and on nothing else that holds"
    return f"`{each.ask}` of {each.gate} asks for {each.test} and rests on {results}{beside}"


def _json(used: Used, assessment: Assessment) -> str:
    from riskkit.judgement.where_used import controls_of, hazards_of

    register = assessment.register
    answer = {
        "what": used.what,
        "sort": used.sort,
        "records": list(used.records),
        "found": [
            {"unit": each.unit, "part": each.part, "version": each.version, "how": each.how} for each in used.found
        ],
        "results": [
            {
                "result": each.result,
                "test": each.test,
                "unit": each.unit,
                "on": each.on.isoformat(),
                "verdict": each.word,
                "stale": each.stale,
                "replaced": each.replaced,
                "matters": each.matters,
                "stated": each.stated,
            }
            for each in used.results
        ],
        "tests": [each.record for each in used.leaning if register.section_of(each.record) == "tests"],
        "controls": [each.id for each in controls_of(used, register)],
        "hazards": [
            {"hazard": each.id, "title": each.title, "severity": each.severity} for each in hazards_of(used, register)
        ],
        "leaning": [{"record": each.record, "path": [link.sentence() for link in each.links]} for each in used.leaning],
        "gates": [
            {
                "unit": each.unit,
                "gate": each.gate,
                "ask": each.ask,
                "test": each.test,
                "taken_with_it": list(each.taken_with_it),
                "others": list(each.others),
            }
            for each in used.gates
        ],
        "again": [
            {"test": each.test, "units": list(each.units), "runs": each.runs, "minutes": round(each.minutes, 6)}
            for each in used.again
        ],
    }
    return json.dumps(answer, ensure_ascii=False, indent=2) + "\n"
