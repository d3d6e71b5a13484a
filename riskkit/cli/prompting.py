"""`ask`: the next twelve questions, the dangerous ones first; answers are kept as they are given."""

from __future__ import annotations

import datetime
import json
import re
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from riskkit.cli.opening import day, one_of, print_text, warn_if_broken, width, write_whole
from riskkit.cli.output import counted, wrapped
from riskkit.diagnostics import RiskkitError

if TYPE_CHECKING:
    from riskkit.cli.appending import NewRecord
    from riskkit.judgement.prompts import Cell
    from riskkit.judgement.sittings import Standing
    from riskkit.model.policy import Policy
    from riskkit.model.register import Register
    from riskkit.text.reader import Reading

WORST_IS_TAKEN = "nobody has judged it yet; the worst level is taken until somebody does"
HOW_TO_ANSWER = "y and what then reaches a person, n and why not, l for later; Enter leaves it, q stops."


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which cells a sitting is about."""

    most: int
    about: str | None = None
    grid: str | None = None
    by: str | None = None
    blind: bool = False


@dataclass(frozen=True, slots=True)
class Answer:
    """What was said to one cell."""

    cell: Cell
    word: str
    because: str


def sit(folder: Path, wanted: Wanted, today: str | None, answers: str | None, format: str) -> int:
    """Ask the next questions, or take answers that were written on a sheet; the exit status."""
    one_of("--format", format, ("text", "json"))
    if wanted.blind and wanted.by is None:
        raise RiskkitError("two people answer apart from each other by role", "add --by ROLE to --blind")
    on, reading = day(today), _read(folder)
    if answers is not None:
        return _take(folder, reading, wanted, answers, on)
    found = _standings(reading, wanted)
    asked = _waiting(found)[: wanted.most]
    if format == "json":
        print_text(_json(asked, found))
        return 0
    if not asked:
        print_text("Every question has an answer. It is asked again when the thing it is about has changed.\n")
        return 0
    if not sys.stdin.isatty() and sys.stdin.closed:
        raise RiskkitError("nobody can be asked here", "print the questions with --sheet, or give --answers FILE")
    return _dialogue(folder, reading.register, wanted, asked, found, on)


def show_sheet(folder: Path, wanted: Wanted, today: str | None, output: Path | None, page: str) -> None:
    """Print the next questions to be written on, as text or, with a file name, as a PDF."""
    one_of("--page", page, ("a4", "letter"))
    on, reading = day(today), _read(folder)
    cells = [each.cell for each in _waiting(_standings(reading, wanted))[: wanted.most]]
    if not cells:
        print_text("Every question has an answer.\n")
        return
    if output is None:
        print_text(_sheet(cells, folder))
        return
    from riskkit.dossier.prompt_sheet import render_sheet

    device = reading.register.device
    paper = render_sheet(device.name if device is not None else "register", cells, on, page=page)
    write_whole(output, paper.pdf)
    print_text(f"{output}: {counted(paper.pages, 'page')}, {counted(len(cells), 'question')}\n")


def show_coverage(folder: Path, today: str | None, format: str) -> None:
    """Print how many questions of each grid have an answer."""
    one_of("--format", format, ("text", "json"))
    from riskkit.judgement.sittings import coverage

    day(today)
    rows = coverage(_standings(_read(folder), Wanted(most=0)))
    total = sum(each.cells for each in rows)
    done = sum(each.answered + each.told for each in rows)
    if format == "json":
        told = [
            {"grid": each.name, "answered": each.answered, "told": each.told, "later": each.later, "cells": each.cells}
            for each in rows
        ]
        print_text(json.dumps({"answered": done, "cells": total, "grids": told}, indent=2) + "\n")
        return
    lines = [f"{_answered(done, total)}."]
    for each in rows:
        later = f", {each.later} put off" if each.later else ""
        lines += wrapped(
            f"{each.name}: {each.answered + each.told} of {each.cells}, {each.told} of them by a hazard that says it{later}",
            width(),
            "  ",
            "    ",
        )
    print_text("\n".join(lines) + "\n")


def show_pair(folder: Path, roles: str, today: str | None, format: str) -> None:
    """Print where two roles differ, and how far they agree beyond chance."""
    one_of("--format", format, ("text", "json"))
    first, _, second = (piece.strip() for piece in roles.partition(","))
    if not first or not second:
        raise RiskkitError(f"`{roles}` does not name two roles", 'write --compare "builder-1, emergency physician"')
    from riskkit.evidence.agreement import kappa
    from riskkit.evidence.answers import EvidenceError
    from riskkit.judgement.sittings import pair

    day(today)
    reading = _read(folder)
    found = pair(_cells(reading), reading.register, first, second)
    try:
        agreed = kappa(found.table)
    except EvidenceError:
        raise RiskkitError(
            f"{first} and {second} have no question that both answered with yes or no",
            f'let each sit apart: riskkit ask --blind --by "{first}"',
        ) from None
    apart = list(found.apart)
    if format == "json":
        answer = {
            "roles": [first, second],
            "cells": agreed.items,
            "table": [list(row) for row in found.table],
            "agreement": agreed.agreement,
            "kappa": None if agreed.kappa is None else agreed.kappa.estimate,
            "low": None if agreed.kappa is None else agreed.kappa.lower,
            "high": None if agreed.kappa is None else agreed.kappa.upper,
            "differ": [{"code": cell.code, "question": cell.question} for cell, _, _ in apart],
        }
        print_text(json.dumps(answer, ensure_ascii=False, indent=2) + "\n")
        return
    columns = width()
    lines = wrapped(
        f"{first} and {second} both answered {counted(agreed.items, 'question')}: {agreed.because}.", columns
    )
    if agreed.kappa is not None:
        each = agreed.kappa
        lines += wrapped(
            f"{each.estimand}: {each.estimate:.2f}, from {each.lower:.2f} to {each.upper:.2f} "
            f"({100 * each.confidence:.3g} %, {each.method}).",
            columns,
        )
    lines += ["", "They differ here; talk about these:" if apart else "They differ nowhere."]
    for cell, one, other in apart:
        lines += wrapped(f"{cell.code}  {cell.question}", columns, "  ", "    ")
        for role, said in ((first, one), (second, other)):
            lines += wrapped(
                f"{role}: {said.answer}{', ' + said.because if said.because else ''}", columns, "    ", "      "
            )
    print_text("\n".join(lines) + "\n")


# -- what is asked --------------------------------------------------------------------------------


def _read(folder: Path) -> Reading:
    """The register as it stands; which questions are open hangs on no rule."""
    from riskkit.text.reader import read
    from riskkit.text.snapshot import read_folder

    reading = read(*read_folder(folder))
    warn_if_broken(reading.report)
    return reading


def _cells(reading: Reading) -> tuple[Cell, ...]:
    """Every question, made from the shipped catalog and those that the device sheet names."""
    from riskkit.judgement.prompts import cells
    from riskkit.text.catalogs import catalogs_of

    register, root = reading.register, Path(reading.snapshot.root or ".")
    entries = catalogs_of((), register, root).of("hazards", "failures", "use-errors", "build-errors")
    return cells(register, _policy(register), entries)


def _policy(register: Register) -> Policy:
    from riskkit.text.policies import DEFAULT_POLICY, shipped_policy

    return register.policy or shipped_policy(DEFAULT_POLICY)


def _standings(reading: Reading, wanted: Wanted) -> tuple[Standing, ...]:
    from typing import get_args

    from riskkit.judgement.sittings import standings
    from riskkit.model.prompts import Grid

    every = _cells(reading)
    if wanted.about is not None and wanted.about not in {cell.about for cell in every}:
        from riskkit.text.complaints import nearest

        guess = nearest(wanted.about, tuple(sorted({cell.about for cell in every if cell.about})))
        raise RiskkitError(
            f"nothing is asked about {wanted.about}",
            f"did you mean {guess}?" if guess else "name a part, a function, a use step or an energy source",
        )
    if wanted.grid is not None:
        one_of("--grid", wanted.grid, get_args(Grid))
    chosen = [cell for cell in every if wanted.about in (None, cell.about) and wanted.grid in (None, cell.grid)]
    return standings(chosen, reading.register, wanted.by if wanted.blind else None)


def _waiting(found: Sequence[Standing]) -> Sequence[Standing]:
    from riskkit.judgement.sittings import still_to_ask

    return still_to_ask(found)


def _json(asked: Sequence[Standing], found: Sequence[Standing]) -> str:
    states = [each.state for each in found]
    cells = [
        {
            "code": each.cell.code,
            "grid": each.cell.grid,
            "about": each.cell.about or None,
            "way": each.cell.way,
            "question": each.cell.question,
            "hint": each.cell.hint,
            "state": each.state,
            "starts": list(each.cell.starts),
        }
        for each in asked
    ]
    counts = {"answered": states.count("answered") + states.count("told"), "cells": len(states)}
    return json.dumps({"questions": cells, **counts}, ensure_ascii=False, indent=2) + "\n"


def _sheet(cells: Sequence[Cell], folder: Path) -> str:
    lines = ["Questions for the table. Tick one, and write one line.", ""]
    for number, cell in enumerate(cells, start=1):
        lines += wrapped(f"{number:2}  {cell.code}", 78)
        lines += wrapped(cell.question, 78, "    ")
        if cell.hint:
            lines += wrapped(f"Think of this: {cell.hint}", 78, "    ", "      ")
        lines += ["    [ ] yes, and then   [ ] no, because   [ ] later", "    " + "_" * 70, ""]
    where = "" if str(folder) == "." else f" {folder}"
    lines += [
        f"Back at the desk: riskkit ask{where} --answers - , then a line per answer:",
        f"  {cells[0].code} n the outlet has a castle edge",
    ]
    return "\n".join(lines) + "\n"


# -- answers --------------------------------------------------------------------------------------

_WORDS = MappingProxyType({"y": "yes", "yes": "yes", "n": "no", "no": "no", "l": "later", "later": "later"})
_SAID = re.compile(r"(?P<word>[A-Za-z]+)\b[\s,:;-]*(?P<because>.*)", re.DOTALL)


def _understood(text: str) -> tuple[str, str] | None:
    """The word and the reason of an answer; None where it is neither yes nor no nor later."""
    found = _SAID.fullmatch(text.strip())
    word = _WORDS.get(found["word"].casefold()) if found is not None else None
    return None if word is None or found is None else (word, " ".join(found["because"].split()))


def _answered(done: int, cells: int) -> str:
    return f"{done} of {cells} questions {'has' if done == 1 else 'have'} an answer"


def _dialogue(
    folder: Path,
    register: Register,
    wanted: Wanted,
    asked: Sequence[Standing],
    found: Sequence[Standing],
    on: datetime.date,
) -> int:
    from riskkit.cli.asking_result import ask_line
    from riskkit.cli.filled_card import AnswersEnded

    columns, given = width(), 0
    print_text(f"{counted(len(asked), 'question')}. {HOW_TO_ANSWER}\n\n")
    try:
        for number, standing in enumerate(asked, start=1):
            cell = standing.cell
            lines = wrapped(f"{number}. {cell.question}  [{cell.code}]", columns, "", "   ")
            if standing.state == "changed":
                lines += wrapped("It was answered before, and has changed since.", columns, "   ")
            if cell.hint:
                lines += wrapped(f"Think of this: {cell.hint}", columns, "   ", "     ")
            answer = _one(ask_line, "\n".join(lines), cell)
            if answer == "stop":
                break
            if isinstance(answer, Answer):
                register = _keep(folder, [answer], wanted, on, register)
                given += 1
    except AnswersEnded:
        pass
    left = len([each for each in found if each.state in ("open", "changed", "later")]) - given
    done = len(found) - len([each for each in found if each.state in ("open", "changed", "later")]) + given
    kept = counted(given, "answer")
    print_text(f"{kept[0].upper()}{kept[1:]} kept. {_answered(done, len(found))}; {left} left.\n")
    return 0


def _one(ask_line: Any, label: str, cell: Cell) -> Answer | str:
    """The answer to one cell: an answer, "stop", or "" where it is left."""
    while True:
        text = ask_line(label)
        if text.casefold() in ("q", "quit", "stop"):
            return "stop"
        if not text:
            return ""
        said = _understood(text)
        if said is None:
            label = f"   `{text}` is neither y, n nor l. {HOW_TO_ANSWER}"
            continue
        word, because = said
        if word == "no" and not because:
            because = ask_line("   Why not, in a few words?")
            if not because:
                label = "   A no needs its reason, so that it is not asked again. y, n, l or Enter."
                continue
        if word == "yes" and not because:
            because = ask_line("   And what then reaches a person, in one line? Enter if that is not known yet.")
        return Answer(cell, word, because)


def _take(folder: Path, reading: Reading, wanted: Wanted, answers: str, on: datetime.date) -> int:
    """Answers from a file or standard input: all of them, or none where a line cannot be taken."""
    cells = {standing.cell.code: standing.cell for standing in _standings(reading, wanted)}
    try:
        text = sys.stdin.read() if answers == "-" else Path(answers).read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise RiskkitError("the answers are not UTF-8", "save the file as UTF-8") from None
    except OSError as error:
        raise RiskkitError(f"{answers} cannot be read: {(error.strerror or '').lower()}", "name a text file") from None
    name = "the answers" if answers == "-" else answers
    taken = list(_lines(text, name, cells))
    if not taken:
        raise RiskkitError("there are no answers", "write one a line: the code, then y, n or l, then a few words")
    _keep(folder, taken, wanted, on, reading.register)
    print_text(f"{counted(len(taken), 'answer')} kept.\n")
    return 0


def _lines(text: str, name: str, cells: Mapping[str, Cell]) -> Iterator[Answer]:
    from riskkit.judgement.prompt_codes import checks_out, plain_code

    seen: dict[str, int] = {}
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        typed, _, rest = line.strip().partition(" ")
        code, place = plain_code(typed), f"{name}, line {number}"
        cell = next((each for known, each in cells.items() if plain_code(known) == code), None)
        if cell is None:
            what = "is no question of this register now" if checks_out(code) else "is mistyped: its letters do not fit"
            raise RiskkitError(f"{place}: `{typed}` {what}; nothing was written", "look at the sheet again")
        if code in seen:
            raise RiskkitError(f"{place}: {typed} was answered in line {seen[code]} already", "leave one of the two")
        seen[code] = number
        said = _understood(rest)
        if said is None:
            raise RiskkitError(
                f"{place}: `{rest.strip() or typed}` says neither y, n nor l; nothing was written",
                f"write `{typed} n` and why not, `{typed} y` and what then reaches a person, or `{typed} l`",
            )
        if said[0] == "no" and not said[1]:
            raise RiskkitError(f"{place}: a no needs its reason; nothing was written", f"write `{typed} n` and why not")
        yield Answer(cell, *said)


def _keep(
    folder: Path, answers: Sequence[Answer], wanted: Wanted, today: datetime.date, register: Register
) -> Register:
    """Write answers, and a first hazard for each yes that says what reaches a person; the register after it."""
    from riskkit.cli.appending import append_records

    for answer in answers:
        register = append_records(folder, list(_records(answer, wanted, today, register)))
    return register


def _records(answer: Answer, wanted: Wanted, today: datetime.date, register: Register) -> Iterator[NewRecord]:
    from riskkit.cli.appending import NewRecord
    from riskkit.judgement.new_ids import next_id

    cell, became = answer.cell, []
    if answer.word == "yes" and answer.because and not wanted.blind:
        id = next_id("hazards", register, "H01")
        became.append(id)
        yield NewRecord("hazards", id, _hazard(answer, today, register))
    taken = {id.casefold() for id in (*register.records, *register.broken)}
    id, count = cell.code, 1
    while id.casefold() in taken:
        count += 1
        id = f"{cell.code}-{count}"
    fields: dict[str, Any] = {"about": cell.about} if cell.about else {}
    fields |= {"grid": cell.grid, "way": cell.way, "answer": answer.word}
    if answer.because:
        fields["because"] = answer.because
    fields["on"] = today
    if wanted.by is not None:
        fields["by"] = wanted.by
    if became:
        fields["became"] = became
    if cell.remembers:
        fields["remembers"] = cell.remembers
    yield NewRecord("asked", id, fields)


def _hazard(answer: Answer, today: datetime.date, register: Register) -> dict[str, Any]:
    """A first hazard: what was said, where it came from, and nothing that nobody said."""
    from riskkit.exchange.levels import plain_level

    cell = answer.cell
    fields: dict[str, Any] = {"title": answer.because, "condition": cell.condition}
    if cell.grid in ("parts", "use steps"):
        fields["causes"] = [{"by": cell.about, "mode": cell.mode}]
    elif cell.grid == "functions":
        fields["functions"] = [cell.about]
    elif cell.grid == "energy":
        fields["loss_of" if cell.way == "is gone" else "energy"] = [cell.about]
    fields["harm"] = {
        "text": "to be found out",
        "severity": plain_level(_policy(register).severity[-1].level),
        "because": WORST_IS_TAKEN,
    }
    fields["controls"] = []
    fields["origin"] = f"asked on {today}: {cell.question} [{cell.code}]"
    return fields
