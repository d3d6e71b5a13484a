"""`adopt`: a catalog entry becomes a record of the register, with its source and with everything that is still open."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from riskkit.cli.opening import print_text, warn_if_broken, width
from riskkit.cli.output import wrapped
from riskkit.diagnostics import RiskkitError

if TYPE_CHECKING:
    from riskkit.cli.adoption import Adoption
    from riskkit.judgement.adopting import Draft, Source, Wish
    from riskkit.model import catalog
    from riskkit.model.policy import Policy
    from riskkit.model.records import Cause, Control, Hazard
    from riskkit.model.register import Register
    from riskkit.model.verification import Test
    from riskkit.text.catalogs import Catalogs
    from riskkit.text.reader import Reading


def adopt_entry(
    typed: str,
    folder: Path,
    catalogs: Sequence[Path],
    wish: Wish,
    starts: str | None,
    into: str | None,
    *,
    dry_run: bool,
    yes: bool,
) -> int:
    """Show the record, write it, and say what is still open; the exit status."""
    from riskkit.cli.adding import file_in
    from riskkit.cli.adoption import plan_adoption, write_adoption
    from riskkit.text.catalogs import catalogs_of
    from riskkit.text.reader import read
    from riskkit.text.snapshot import read_folder

    reading = read(*read_folder(folder))
    warn_if_broken(reading.report)
    shelf = catalogs_of(catalogs, reading.register, folder)
    id = shelf.full_id(typed)
    target = file_in(folder, into) if into is not None else None
    wish = _with_severity(shelf, id, starts, reading.register, wish, ask=sys.stdin.isatty() and not (yes or dry_run))
    made = _draft(shelf, id, starts, reading.register, wish)
    plan = plan_adoption(reading, made, target)
    _show(plan, folder, made)
    _warn_of_the_same(shelf.entry(id), made, reading.register)
    if dry_run:
        print_text("Nothing is written: this was a dry run.\n")
        return 0
    if not yes and not _agreed():
        print_text("Nothing was written.\n")
        return 1

    def again(now: Reading) -> Adoption:
        return plan_adoption(now, _draft(shelf, id, starts, now.register, wish), target)

    written = write_adoption(folder, reading, plan, again)
    if written.id != plan.id:
        print_text(f"Somebody else has written meanwhile; the record is {written.id}.\n")
    print_text(f"{written.id} is written to {folder / written.file}{_named_by(written)}.\n")
    _tell_what_is_left(shelf, id, made, written.id, folder, reading.register)
    return 0


def _named_by(written: Adoption) -> str:
    return f", and {' and '.join(written.linked)} names it" if written.linked else ""


def _policy(register: Register) -> Policy:
    from riskkit.text.policies import DEFAULT_POLICY, shipped_policy

    return register.policy or shipped_policy(DEFAULT_POLICY)


def _draft(shelf: Catalogs, id: str, starts: str | None, register: Register, wish: Wish) -> Draft:
    """The record, from what the catalogs and the register are now.

    Raises:
        RiskkitError: where it was adopted already, or the options do not fit.
    """
    from riskkit.judgement.adopting import draft, hazard_draft
    from riskkit.model import catalog

    entry = shelf.entry(id)
    _must_exist(register, wish)
    if isinstance(entry, catalog.Failure | catalog.UseError | catalog.BuildError):
        hazard = _hazard_of(shelf, id, entry, starts)
        made = hazard_draft(*hazard, register, _policy(register), wish, (id, entry))
        _refuse_twice_through(register, id, made)
        return made
    if starts is not None:
        raise RiskkitError(
            f"{id} starts no hazard of its own", "`--starts` goes with failures, use errors and build errors"
        )
    _refuse_twice(register, id, wish)
    home = shelf.catalog_of(id)
    return draft(id, entry, home.name if home else "", register, _policy(register), wish)


def _hazard_of(shelf: Catalogs, id: str, entry: Source, starts: str | None) -> tuple[str, catalog.Hazard, str]:
    from riskkit.model import catalog

    chosen = entry.starts[0] if starts is None else shelf.full_id(starts)
    if chosen not in entry.starts:
        raise RiskkitError(
            f"{id} does not start {chosen} by the catalog", f"write `--starts` with one of {', '.join(entry.starts)}"
        )
    hazard, home = shelf.entry(chosen), shelf.catalog_of(chosen)
    assert isinstance(hazard, catalog.Hazard)
    assert home is not None
    return chosen, hazard, home.name


def _refuse_twice(register: Register, id: str, wish: Wish) -> None:
    from riskkit.judgement.adopting import adopted_from
    from riskkit.model.records import Control, Hazard

    for record in adopted_from(register, id):
        help = "work on that one"
        if isinstance(record, Hazard):
            help += "; a failure or a use error that starts the same hazard can be adopted beside it"
        elif wish.answers:
            # A hazard names its controls and tests, and a test the controls that it speaks for.
            to_control = isinstance(register.records.get(wish.answers), Control)
            help = "`riskkit link {} {}`".format(
                *((record.id, wish.answers) if to_control else (wish.answers, record.id))
            )
        raise RiskkitError(f"{id} is in the register already: {record.id} ({record.title})", help)


def _refuse_twice_through(register: Register, id: str, made: Draft) -> None:
    """A failure may start one hazard in two parts, but not twice in one."""
    from riskkit.judgement.adopting import adopted_from

    entry = made.fields["adopted"]["entry"]
    causes = {cause["by"] for cause in made.fields.get("causes", ())}
    for record in adopted_from(register, id, through=id):
        same = record.adopted is not None and record.adopted.entry == entry
        if same and causes <= {cause.by for cause in getattr(record, "causes", ())}:
            raise RiskkitError(
                f"{id} is in the register already: {record.id} ({record.title})",
                "work on that one; `--part`, `--step` or `--starts` name another part, step or hazard",
            )


def _must_exist(register: Register, wish: Wish) -> None:
    from riskkit.model.records import Part, UseStep

    for option, id, kind in (("--part", wish.part, Part), ("--step", wish.step, UseStep)):
        if id and register.get(id, kind) is None:
            known = ", ".join(f"{each.id} ({register.title_of(each.id)})" for each in register.of(kind)[:5])
            raise RiskkitError(
                f"there is no {id} in `{kind.SECTION}`",
                f"name one with `{option}`: {known}" if known else f"add it to `{kind.SECTION}:` first",
            )


def _with_severity(shelf: Catalogs, id: str, starts: str | None, register: Register, wish: Wish, *, ask: bool) -> Wish:
    """The wish with the severity that a person at the terminal gives, where the entry becomes a hazard."""
    from riskkit.judgement.adopting import severity_hint
    from riskkit.model import catalog

    entry = shelf.entry(id)
    if isinstance(entry, catalog.Failure | catalog.UseError | catalog.BuildError):
        entry = _hazard_of(shelf, id, entry, starts)[1]
    if not isinstance(entry, catalog.Hazard):
        if wish.severity:
            raise RiskkitError(f"{id} becomes no hazard, and has no severity", "leave `--severity` out")
        return wish
    if wish.severity or not ask:
        return wish
    policy = _policy(register)
    levels = ", ".join(f"{step.level} {step.word}" for step in policy.severity)
    question = f"How bad is it on this device? {severity_hint(entry)} Here: {levels}. Enter where nobody has decided."
    while True:
        answer = _line("\n".join(wrapped(question, width())))
        if answer == "" or policy.severity_rank(answer) >= 0:
            return replace(wish, severity=answer)
        print_text(f"`{answer}` is none of these levels.\n")


def _line(question: str) -> str:
    from riskkit.cli.asking_result import ask_line
    from riskkit.cli.filled_card import AnswersEnded

    try:
        return ask_line(question)
    except AnswersEnded:
        raise RiskkitError(
            "nobody said that it may be written; nothing was written", "answer y, or add --yes"
        ) from None


def _agreed() -> bool:
    while True:
        answer = _line("Write it? y or n").lower()
        if answer in ("y", "yes"):
            return True
        if answer in ("n", "no"):
            return False


def _show(plan: Adoption, folder: Path, made: Draft) -> None:
    lines = [f"Passed over: {sentence}." for sentence in plan.passed_over]
    lines.append(f"{folder / plan.file}{' (new)' if plan.is_new else ''}, below `{made.section}:`")
    print_text("\n".join(line for each in lines for line in wrapped(each, width())) + "\n\n" + plan.lines + "\n")
    if plan.linked:
        print_text(f"{' and '.join(plan.linked)} will name {plan.id}.\n")


def _warn_of_the_same(entry: catalog.Entry, made: Draft, register: Register) -> None:
    """Say which record of the register speaks of nearly the same, so that nothing is told twice unawares."""
    from riskkit.judgement.kinship import SAME_TITLE, likeness

    title, causes = made.fields["title"], made.fields.get("causes", ())
    every: tuple[Hazard | Control | Test, ...] = (*register.hazards, *register.controls, *register.tests)
    near: list[Hazard | Control | Test] = [
        *(each for each in register.hazards if made.section == "hazards" and _shares_cause(each.causes, causes)),
        *(
            each
            for each in every
            if made.section == each.SECTION
            and max(likeness(each.title, title), likeness(each.title, entry.title)) >= SAME_TITLE
        ),
    ]
    for id in dict.fromkeys(each.id for each in near):
        told = f"{id} ({register.title_of(id)}) speaks of something near: look whether this is not told twice."
        print_text("\n".join(wrapped(told, width())) + "\n")


def _shares_cause(theirs: Sequence[Cause], mine: Sequence[Mapping[str, str]]) -> bool:
    from riskkit.judgement.kinship import SAME_TITLE, likeness

    return any(
        one.by == other["by"] and one.mode and likeness(one.mode, other.get("mode", "")) >= SAME_TITLE
        for one in theirs
        for other in mine
    )


def _tell_what_is_left(shelf: Catalogs, id: str, made: Draft, written: str, folder: Path, register: Register) -> None:
    """What is open in it, what else belongs to it, and what to type for that."""
    columns = width()
    lines: list[str] = []
    if "undecided" in made.fields:
        told = f"Nobody has decided how bad {written} is; until then the worst level stands there. {_hint(shelf, made)}"
        lines += wrapped(told, columns, "", "  ")
        lines.append(f"  riskkit set {written} harm.severity LEVEL {folder}")
    if made.open:
        lines.append(f"Still to be found out for {written} (they stand in its list `open`):")
        lines += [line for each in made.open for line in wrapped(each, columns, "  - ", "    ")]
    for offer in made.offers:
        lines += wrapped(f"Not listed yet, {offer}", columns, "", "  ")
    usual = list(_usual(shelf, id, made, register))
    if usual:
        lines.append(f"What usually goes with it (`riskkit suggest {written} {folder}` says why):")
        answers = f" --for {written}" if made.section in ("hazards", "controls") else ""
        for each in usual:
            entry = shelf.get(each)
            title = f"   {entry.title}" if entry is not None else ""
            lines.append(f"  riskkit adopt {each} {folder}{answers}{title}")
    if lines:
        print_text("\n".join(lines) + "\n")


def _hint(shelf: Catalogs, made: Draft) -> str:
    from riskkit.judgement.adopting import severity_hint
    from riskkit.model import catalog

    entry = shelf.entry(made.fields["adopted"]["entry"])
    return severity_hint(entry) if isinstance(entry, catalog.Hazard) else ""


def _usual(shelf: Catalogs, id: str, made: Draft, register: Register) -> list[str]:
    """Usual controls, or tests of a control, that the register has not taken over yet."""
    from riskkit.judgement.offers import already_there

    entries = shelf.all_of(dict.fromkeys((id, made.fields["adopted"]["entry"])))
    is_hazard = made.section == "hazards"
    fields = ("controls",) if is_hazard else ("tests", "checks")
    named = dict.fromkeys(each for entry in entries.values() for name in fields for each in getattr(entry, name, ()))
    records = register.controls if is_hazard else register.tests
    return [
        each for each, entry in shelf.all_of(named).items() if already_there(each, entry, records, register) is None
    ]
