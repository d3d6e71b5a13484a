"""Spreadsheets: hazards in and out."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Optional

import typer

from riskkit.cli.application import HERE, Folder, PlainFormat, Today, app


@app.command("import")
def import_(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="A .csv or .xlsx file with one hazard or failure a row.")
    ],
    folder: Folder = HERE,
    column: Annotated[
        Optional[list[str]],
        typer.Option(
            "--column", metavar="HEADING=NAME", help='What a column says: "Effect=harm", or kept, or ignored.'
        ),
    ] = None,
    level: Annotated[
        Optional[list[str]],
        typer.Option("--level", metavar="WORD=LEVEL", help='What a severity of the sheet is here: "7-8=4".'),
    ] = None,
    condition: Annotated[
        Optional[str], typer.Option("--condition", metavar="CONDITION", help="For rows that name none.")
    ] = None,
    sheet: Annotated[Optional[str], typer.Option("--sheet", metavar="NAME", help="Sheet of a workbook.")] = None,
    encoding: Annotated[str, typer.Option("--encoding", metavar="NAME", help="Of a CSV that is not UTF-8.")] = "",
    into: Annotated[
        Optional[str], typer.Option("--in", metavar="FILE", help="YAML file of the register to write into.")
    ] = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Show what would be written; write nothing.")] = False,
    yes: Annotated[bool, typer.Option("--yes", help="Write without asking once more.")] = False,
    format: PlainFormat = "text",
    today: Today = None,
) -> None:
    """Take hazards from a spreadsheet: each row comes in, or is listed with its reason."""
    from riskkit.cli.exchanging import Sheet, import_sheet

    asked = Sheet(file, sheet, encoding, tuple(column or ()), tuple(level or ()), condition)
    raise typer.Exit(import_sheet(asked, folder, into, today, format, dry_run=dry_run, yes=yes))


@app.command()
def export(
    folder: Folder = HERE,
    output: Annotated[
        Path, typer.Option("--output", "-o", metavar="FILE", help="The .csv or .xlsx file to write.")
    ] = Path("hazards.csv"),
    today: Today = None,
) -> None:
    """Write the hazards into a spreadsheet that can be edited and imported again."""
    from riskkit.cli.exchanging import export_sheet

    export_sheet(folder, output, today)
