"""`record`: typing in what was read on the bench, in the order of the card.

An empty answer means "not known": the field is left out and named as a gap. Nothing is written before
the last answer, and nothing at all where the answers end in the middle.
"""

from __future__ import annotations

import importlib
import importlib.util
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from riskkit.cli.opening import day, print_text, warn_if_broken, width
from riskkit.cli.output import wrapped
from riskkit.diagnostics import RiskkitError

if TYPE_CHECKING:
    from riskkit.cli.adding import Plan
    from riskkit.model.register import Register
    from riskkit.model.verification import Test
    from riskkit.text.reader import Reading


def record_result(
    test_id: str,
    folder: Path,
    card: str | None,
    into: str | None,
    today: str | None,
    answers: str | None,
    *,
    dry_run: bool,
    yes: bool,
) -> int:
    """Ask for a result, show it, write it, and say what is still missing; the exit status."""
    from riskkit.cli.adding import add_result, file_in, plan_result
    from riskkit.cli.asking_result import Dialogue
    from riskkit.cli.filled_card import answered
    from riskkit.cli.given_answers import Given
    from riskkit.judgement.new_ids import new_result_id
    from riskkit.text.reader import read
    from riskkit.text.snapshot import read_folder

    on = day(today)
    reading = read(*read_folder(folder))
    warn_if_broken(reading.report)
    test, register = _test(reading, test_id, folder)
    target = file_in(folder, into) if into is not None else None
    voice = Given(_mapping(answers), test) if answers is not None else Dialogue(test)
    entry = answered(voice, test, register, folder, on, card)
    fields = {**entry.fields, **_remembered(test, entry.fields, reading.register)}
    plan = plan_result(reading, test_id, fields, new_result_id(test_id, reading.register), target)
    _show(plan, folder, entry.gaps)
    if dry_run:
        print_text("Nothing is written: this was a dry run.\n")
        return 0
    if not yes and not _agreed(answers == "-"):
        print_text("Nothing was written.\n")
        return 1
    written = add_result(folder, reading, test_id, fields, target, new_result_id, plan)
    if written.id != plan.id:
        print_text(f"Somebody else has written meanwhile; the result is {written.id}.\n")
    print_text(f"{written.id} is written to {folder / written.file}.\n")
    _tell_what_is_missing(written.id, test_id, folder, today, entry.gaps)
    return 0


def _remembered(test: Test, fields: Mapping[str, Any], register: Register) -> Mapping[str, Any]:
    """What the result leans on, as it is today, so that a later change of it is noticed."""
    from riskkit.judgement.calculations import with_answers, work_out_all
    from riskkit.judgement.freshness import memories

    worked = work_out_all(register)
    found = memories(test, fields.get("instruments", ()), with_answers(register, worked), worked)
    return {"remembers": found} if found else {}


def print_sheet(test_id: str, folder: Path, *, hide_limit: bool) -> None:
    """Print the card of a test, to be written on."""
    from riskkit.cli.card_sheet import sheet
    from riskkit.text.reader import read
    from riskkit.text.snapshot import read_folder

    reading = read(*read_folder(folder))
    warn_if_broken(reading.report)
    test, register = _test(reading, test_id, folder)
    print_text(sheet(test, register, hide_limit=hide_limit))


def _test(reading: Reading, test_id: str, folder: Path) -> tuple[Test, Register]:
    """The test, and the register that it stands in, with calculated limits in their places as on the printed card.

    Raises:
        RiskkitError: where there is no such test, or it cannot be read.
    """
    from riskkit.cli.typed_answers import nearest_id
    from riskkit.judgement.calculations import with_own_answers
    from riskkit.model.verification import Test

    register = with_own_answers(reading.register)
    test = register.get(test_id, Test)
    if test is not None:
        return test, register
    if register.broken.get(test_id) == "tests":
        raise RiskkitError(
            f"{test_id} cannot be read as written", f"`riskkit check {folder}` says what is wrong with it"
        )
    section = register.section_of(test_id)
    guess = nearest_id(test_id, tuple(each.id for each in register.tests))
    headline = f"{test_id} stands in `{section}`, and is no test" if section else f"there is no test {test_id}"
    raise RiskkitError(headline, f"did you mean {guess}?" if guess else "add it under `tests:` first, with its limit")


def _mapping(answers: str) -> Mapping[str, Any]:
    """The answers of a YAML file, or of standard input for `-`.

    Raises:
        RiskkitError: where it cannot be read, or is no mapping.
    """
    from riskkit.text.syntax import parse_file

    try:
        content = sys.stdin.buffer.read() if answers == "-" else Path(answers).read_bytes()
    except OSError as error:
        raise RiskkitError(f"{answers} cannot be read: {(error.strerror or '').lower()}", "name a YAML file") from None
    document = parse_file("the answers" if answers == "-" else answers, content)
    if document.diagnostics:
        found = document.diagnostics[0]
        raise RiskkitError(f"{found.place}: {found.headline}", found.help)
    if not document.data:
        raise RiskkitError("there are no answers", "write them as `name: value`, with the names of a result")
    return dict(document.data)


def _show(plan: Plan, folder: Path, gaps: tuple[str, ...]) -> None:
    columns = width()
    lines = [""]
    for sentence in plan.passed_over:
        lines += wrapped(f"Passed over: {sentence}.", columns)
    lines.append(f"{folder / plan.file}{'' if plan.before else ' (new)'}, below `results:`")
    print_text("\n".join(lines) + "\n\n" + plan.lines + "\n")
    if gaps:
        print_text("\n".join(wrapped(f"Not known: {', '.join(gaps)}.", columns)) + "\n")


def _agreed(answers_came_by_input: bool) -> bool:
    """Whether the person wants it written.

    Raises:
        RiskkitError: where nobody can be asked any more.
    """
    from riskkit.cli.asking_result import ask_line
    from riskkit.cli.filled_card import AnswersEnded

    try:
        if answers_came_by_input:
            raise AnswersEnded
        while True:
            answer = ask_line("Write it? y or n").lower()
            if answer in ("y", "yes"):
                return True
            if answer in ("n", "no"):
                return False
    except AnswersEnded:
        raise RiskkitError(
            "nobody said that it may be written; nothing was written", "answer y, or add --yes"
        ) from None


def _tell_what_is_missing(id: str, test_id: str, folder: Path, today: str | None, gaps: tuple[str, ...]) -> None:
    """Gaps in what was typed, what the rules find in it, and what the result says about the limit."""
    from riskkit.cli.opening import open_register

    assessment = open_register(folder, today)
    columns = width()
    lines: list[str] = []
    if gaps:
        lines += wrapped(f"Still missing in {id}: {', '.join(gaps)}. Add what comes to light.", columns, "", "  ")
    for found in assessment.report:
        if found.record == id:
            lines += wrapped(f"{found.place}: {found.headline} [{found.rule}]", columns, "", "  ")
            lines += wrapped(f"-> {found.help}", columns, "  ", "     ")
    if not lines:
        lines.append("Every question of the card is answered.")
    print_text("\n".join(lines) + "\n")
    if importlib.util.find_spec("riskkit.cli.judging") is not None:
        importlib.import_module("riskkit.cli.judging").tell_judgement(test_id, folder, today, only=id)
