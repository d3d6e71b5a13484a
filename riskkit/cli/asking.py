"""`why`, `next`, `explain`, `schema`: questions about one thing."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from riskkit.cli.opening import open_register, print_text, require_record, warn_if_broken, width, write_whole
from riskkit.cli.output import counted, wrapped
from riskkit.diagnostics import RiskkitError

if TYPE_CHECKING:
    from riskkit.assess import Assessment


def tell_why(id: str, folder: Path, today: str | None) -> None:
    """Print the story of a record, what is missing in it, and where it stands."""
    from riskkit.judgement.fingerprints import fingerprint
    from riskkit.model.records import Hazard

    assessment = open_register(folder, today)
    warn_if_broken(assessment.report)
    register = assessment.register
    require_record(id, register, folder, "H04 or C01")
    columns = width()
    lines = [f"{id}  {register.title_of(id)}", f"    {assessment.place_of(id)}"]
    for sentence in assessment.story(id):
        lines += wrapped(sentence, columns, "  ", "    ")
    missing = [found for found in assessment.report.open if found.record == id]
    for found in missing:
        lines += wrapped(f"Open: {found.headline} [{found.rule}]", columns, "  ", "    ")
    if isinstance(register.records[id], Hazard):
        lines.append(f"  Fingerprint for a decision: {id}: {_typed(fingerprint(register, assessment.policy, id))}")
    lines += [f"  {words}" for words in _fingerprints(id, assessment)]
    print_text("\n".join(lines) + "\n")


def _fingerprints(id: str, assessment: Assessment) -> Iterator[str]:
    """What to write beside each signature of a record, so that it is void when something else stands there."""
    from riskkit.judgement.freshness import mark_of
    from riskkit.judgement.signatures import signatures_of

    register = assessment.reading.register  # with the void ones too
    for each in signatures_of(register.records[id], register):
        if each.now:
            yield f"Fingerprint for {each.what}: {_typed(each.now)}{' (VOID as it stands)' if each.is_void else ''}"
    found = assessment.freshness.get(id)
    if found is not None and found.lapses:
        yield f"Fingerprint for a `still_valid` judgement on what has changed: {_typed(mark_of(found.lapses))}"


def _typed(fingerprint: str) -> str:
    """A fingerprint as it has to be typed: between quotes where YAML would take it for a number."""
    return f'"{fingerprint}"' if fingerprint.isdigit() else fingerprint


def tell_next(folder: Path, today: str | None) -> None:
    """Print the single most valuable thing to do and what it would close."""
    from riskkit.checks.ranking import next_step

    assessment = open_register(folder, today)
    step = next_step(assessment.report, assessment.context)
    if step is None:
        print_text("No rule finds anything open. Ask someone who has not seen the device what is missing.\n")
        return
    columns = width()
    lines = [f"{step.finding.place}"]
    lines += wrapped(f"{step.finding.headline}.", columns)
    lines += wrapped(f"-> {step.finding.help}", columns, "", "   ")
    lines += wrapped(f"Why this one: {step.why}.", columns)
    lines += wrapped(f"About {counted(step.minutes, 'minute')}. {step.closes}", columns)
    print_text("\n".join(lines) + "\n")


def explain_rule(name: str | None) -> None:
    """Print why a rule exists, with examples; without a name, all rules by name."""
    from riskkit.checks import all_rules
    from riskkit.cli.output import table
    from riskkit.text.complaints import nearest
    from riskkit.text.explanations import format_rules

    rules = {each.name: each for each in all_rules()}
    formats = format_rules()
    if name is None:
        rows = [(each.name, each.severity.word, each.headline) for each in rules.values()]
        rows += [(known, "error", words.partition("\n")[0]) for known, words in formats.items()]
        print_text("\n".join(table(rows)) + "\n")
        return
    if name in formats:
        print_text(f"{name} (error)\n\n{formats[name]}\n\nIt cannot be waived: the file cannot be read as written.\n")
        return
    if name not in rules:
        guess = nearest(name, (*rules, *formats))
        raise RiskkitError(
            f"there is no rule `{name}`", f"did you mean `{guess}`?" if guess else "`riskkit explain` lists all"
        )
    each = rules[name]
    waive = (
        "It cannot be waived."
        if each.breaks
        else "To leave it open on purpose, add a record under `waivers:` with rule, record, because, by, on and until."
    )
    print_text(
        f"{each.name} ({each.severity.word})\n\n{each.explanation}\n\nFound here, at the marked line:\n\n"
        f"{_indented(each.bad)}\nNot found here:\n\n{_indented(each.good)}\n{waive}\n"
    )


def _indented(text: str) -> str:
    return "".join(f"    {line}\n" if line else "\n" for line in text.splitlines())


def show_schema(output: Path | None) -> None:
    """Print the JSON Schema, or write it and print the line for editors."""
    import json

    from riskkit.exchange.schema import EDITOR_LINE, register_schema

    text = json.dumps(register_schema(), ensure_ascii=False, indent=2) + "\n"
    if output is None:
        print_text(text)
        return
    write_whole(output, text.encode())
    print_text(f"{output} is written. Put this line at the top of each YAML file:\n{EDITOR_LINE.format(path=output)}\n")
