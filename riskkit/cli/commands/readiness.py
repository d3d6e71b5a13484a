"""What a change touches, where a lot is used, whether one unit may go to the next step, and what falls due."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Optional

import typer

from riskkit.cli.application import HERE, Folder, PlainFormat, Today, app


@app.command()
def change(
    id: Annotated[str, typer.Argument(metavar="ID", help="What changes: a part, test, instrument, calculation ...")],
    folder: Annotated[Optional[str], typer.Argument(metavar="[FOLDER]", help="Folder of the register.")] = None,
    format: PlainFormat = "text",
    today: Today = None,
) -> None:
    """List what leans on a record, what a change of it makes stale, and the cheapest tests that mend it."""
    from riskkit.cli.changing import show_change

    show_change(id, folder, format, today)


@app.command()
def gate(
    folder: Folder = HERE,
    unit: Annotated[str, typer.Option("--unit", metavar="UNIT", help="Built unit, such as U02.")] = "",
    to: Annotated[str, typer.Option("--to", metavar="GATE", help="Next step, by id or by its words.")] = "",
    format: PlainFormat = "text",
    today: Today = None,
) -> None:
    """Say whether one unit may go to the next step: yes, no or cannot tell, and the shortest way to yes."""
    from riskkit.cli.gating import show_gate

    show_gate(folder, unit, to, format, today)


@app.command()
def calendar(
    folder: Folder = HERE,
    output: Annotated[
        Optional[Path], typer.Option("--output", "-o", metavar="FILE", help="File to write, such as due.ics.")
    ] = None,
    format: Annotated[
        str, typer.Option("--format", metavar="ics|text|json", help="A calendar file, a list to read, or data.")
    ] = "ics",
    remind: Annotated[
        Optional[int],
        typer.Option("--remind", metavar="DAYS", min=0, max=366, help="Let the calendar remind that many days before."),
    ] = None,
    today: Today = None,
) -> None:
    """Write what falls due as an iCalendar file: comparisons, parkings, waivers, decisions, parts that age."""
    from riskkit.cli.dating import show_calendar

    show_calendar(folder, output, format, remind, today)


@app.command("where-used")
def where_used(
    what: Annotated[
        Optional[str],
        typer.Argument(
            metavar="[WHAT]",
            help="A part, an instrument, a lot or version such as 'lot S' or 'P09 lot B', or a SHA-256; all lots if left out.",
        ),
    ] = None,
    folder: Annotated[Optional[str], typer.Argument(metavar="[FOLDER]", help="Folder of the register.")] = None,
    notice: Annotated[
        Optional[str], typer.Option("--notice", metavar="FOUND", help="Write a notice to builders: what was found.")
    ] = None,
    to: Annotated[
        Optional[str], typer.Option("--to", metavar="BUILDER", help="Only the units of that builder, by role.")
    ] = None,
    output: Annotated[
        Optional[Path], typer.Option("--output", "-o", metavar="FILE", help="Text file for the notice.")
    ] = None,
    format: PlainFormat = "text",
    today: Today = None,
) -> None:
    """Say which units have a part, a lot or a firmware, or were measured with an instrument, and what leans on it."""
    from riskkit.cli.finding_uses import show_where_used

    show_where_used(what, folder, notice, to, output, format, today)
