"""Writes the generated pages of `docs/reference`. Run it with `make docs`; a test compares the pages with the code."""

from __future__ import annotations

import json
from pathlib import Path

from typer.testing import CliRunner

from riskkit.exchange.reference import pages
from riskkit.units import everyday_units

REFERENCE = Path(__file__).parent / "reference"
UNIT_TABLE = Path(__file__).parent.parent / "riskkit" / "units" / "table.json"
COMMANDS = ("new", "check", "why", "next", "explain", "score", "diff", "dossier", "schema")


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
    for name in ("", *COMMANDS):
        arguments = [name, "--help"] if name else ["--help"]
        told = runner.invoke(app, arguments, prog_name="riskkit").output
        lines += [
            f"## riskkit {name}".rstrip(),
            "",
            "```text",
            *(line.rstrip() for line in told.strip().splitlines()),
            "```",
            "",
        ]
    return "\n".join(lines)


def all_pages() -> dict[str, str]:
    """File name -> text of every generated page."""
    return dict(pages()) | {"commands.md": command_page()}


def main() -> None:
    """Write all pages."""
    REFERENCE.mkdir(exist_ok=True)
    for name, text in all_pages().items():
        (REFERENCE / name).write_text(text, encoding="utf-8")
    UNIT_TABLE.write_text(unit_table(), encoding="utf-8")


if __name__ == "__main__":
    main()
