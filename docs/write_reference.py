"""Writes the generated pages of `docs/reference`. Run it with `make docs`; a test compares the pages with the code."""

from __future__ import annotations

import dataclasses
import importlib
import inspect
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from typer.testing import CliRunner

from riskkit import evidence
from riskkit.engineering import Model, all_models
from riskkit.engineering.models import OUTSIDE_KINDS
from riskkit.evidence import tolerance
from riskkit.exchange.calculations import check_words, example_line, given_rows
from riskkit.exchange.reference import pages
from riskkit.units import everyday_units
from riskkit.units.kinds import readable

REFERENCE = Path(__file__).parent / "reference"
UNIT_TABLE = Path(__file__).parent.parent / "riskkit" / "units" / "table.json"


def unit_table() -> str:
    """What pint says of everyday units, one a line."""
    rows = (f"  {json.dumps(key)}: {json.dumps(row)}" for key, row in everyday_units().items())
    return "{\n" + ",\n".join(rows) + "\n}\n"


def command_page() -> str:
    """What `--help` says, for every command."""
    from riskkit.cli.commands import app

    runner = CliRunner(env={"COLUMNS": "100", "TERMINAL_WIDTH": "100"})
    lines = [
        "# Commands",
        "",
        "Exit status: 0 nothing open, 1 gaps, 2 broken register or impossible request, 3 our bug, 130 interrupted.",
        "",
    ]
    for name in ("", *command_names()):
        arguments = [*name.split(), "--help"]
        told = runner.invoke(app, arguments, prog_name="riskkit").output
        lines += [
            f"## riskkit {name}".rstrip(),
            "",
            "```text",
            *(line.rstrip() for line in told.strip().splitlines()),
            "```",
            "",
        ]
    return "\n".join([*lines, *_questions_of_plan(runner)])


def command_names() -> Iterator[str]:
    """Every command in the order of a working day; those of a group behind the name of the group."""
    from riskkit.cli.commands import app

    for command in app.registered_commands:
        yield _name(command)
    for group in app.registered_groups:
        assert group.typer_instance is not None, "a group has commands"
        for command in group.typer_instance.registered_commands:
            yield f"{group.name or group.typer_instance.info.name} {_name(command)}"


def _name(command: Any) -> str:
    return str(command.name or command.callback.__name__)


def _questions_of_plan(runner: CliRunner) -> Iterator[str]:
    """What each question of `plan` says of itself: it is a command line of its own."""
    from riskkit.cli.planning import app

    for command in app.registered_commands:
        told = runner.invoke(app, [command.name or "", "--help"], prog_name="riskkit plan").output
        yield from (f"## riskkit plan {command.name}", "", "```text")
        yield from (line.rstrip() for line in told.strip().splitlines())
        yield from ("```", "")


def evidence_page() -> str:
    """The public names of `riskkit.evidence`: signature, and what each says of itself."""
    lines = [
        "# riskkit.evidence",
        "",
        "Pure functions on numbers; each answer is frozen and names its estimand, method, level and side. `from",
        "riskkit.evidence import clopper_pearson` is all it takes; no register is needed. What cannot be answered raises",
        "`EvidenceError` with one sentence and what to give instead.",
        "",
    ]
    for module, names in evidence.HOMES.items():
        told = importlib.import_module(f"riskkit.evidence.{module}")
        lines += [f"## {_first_line(told)}", ""]
        answers = [
            name
            for name, thing in vars(told).items()
            if dataclasses.is_dataclass(thing) and thing.__module__ == told.__name__ and not name.startswith("_")
        ]
        for name in dict.fromkeys((*names, *answers)):
            lines += [*_described(name, getattr(told, name)), ""]
    return "\n".join(lines)


def models_page() -> str:
    """Every bench model: what it works out, formula, source, inputs, answers, an example, traps, checks."""
    lines = [
        "# Bench models",
        "",
        "`riskkit calc MODEL name=value ...` works each of them out; [how](../how-to/work-out-a-number.md). Inputs are typed",
        "with their units and may state an expanded uncertainty (k = 2) behind ±. Every answer is a bench estimate inside",
        "stated limits, not a clinical prediction. This page is made from the models.",
        "",
        "| model | works out | checked by values from outside |",
        "|---|---|---|",
    ]
    for each in all_models():
        outside = sum(check.kind in OUTSIDE_KINDS for check in each.checks)
        lines.append(
            f"| [{each.name}](#{each.name}) | {_cell(each.title)} | "
            f"{f'{outside} of {len(each.checks)}' if outside else 'not verified'} |"
        )
    for each in all_models():
        lines += ["", *_model(each)]
    return "\n".join(lines) + "\n"


def _model(model: Model) -> Iterator[str]:
    yield from (f"## {model.name}", "", f"{model.title[0].upper()}{model.title[1:]}.", "")
    if model.aliases:
        yield f"- **Also called:** {', '.join(f'`{alias}`' for alias in model.aliases)}"
    yield f"- **Formula:** {model.formula}"
    yield f"- **Source:** {model.source}"
    yield f"- **Where it holds:** {model.holds}"
    yield from ("", "| input | kind [unit] | default | range | what it is |", "|---|---|---|---|---|")
    for name, *cells in given_rows(model):
        yield f"| `{name}` | {' | '.join(map(_cell, cells))} |"
    yield from ("", "| answer | unit | what it is |", "|---|---|---|")
    for found in model.finds:
        yield f"| `{found.name}` | {readable(found.unit)} | {_cell(found.words)} |"
    yield from ("", "```text", example_line(model), "```")
    if model.traps:
        yield from ("", "To ask before the answer is believed:", "", *(f"- {trap}" for trap in model.traps))
    yield from ("", "Checks:" if model.is_verified else "Checks, none of them from outside (not verified):", "")
    yield from (f"- {words}" for words in check_words(model))


def _cell(words: str) -> str:
    return words.replace("|", "/")


def _first_line(thing: Any) -> str:
    return inspect.cleandoc(thing.__doc__ or "").splitlines()[0]


_UNQUOTED = re.compile(r"(: |-> )'([^']*)'")


def _bare(found: re.Match[str]) -> str:
    return found[1] + found[2]


def _described(name: str, thing: Any) -> Iterator[str]:
    if not callable(thing):
        shown = f"{name} = {thing!r}"
    elif inspect.isclass(thing):
        shown = f"class {name}"
    else:
        shown = f"{name}{_UNQUOTED.sub(_bare, str(inspect.signature(thing)))}"
    yield from (f"### {name}", "", "```python", shown, "```")
    if not callable(thing):
        return
    yield from ("", "```text")
    yield from inspect.cleandoc(thing.__doc__ or "").splitlines()
    yield "```"


def all_pages() -> dict[str, str]:
    """File name -> text of every generated page."""
    return dict(pages()) | {"commands.md": command_page(), "evidence.md": evidence_page(), "models.md": models_page()}


def main() -> None:
    """Write all pages."""
    REFERENCE.mkdir(exist_ok=True)
    for name, text in all_pages().items():
        (REFERENCE / name).write_text(text, encoding="utf-8")
    UNIT_TABLE.write_text(unit_table(), encoding="utf-8")
    tolerance.write_factor_table()


if __name__ == "__main__":
    main()
