"""What a change touches, and whether one unit may go to the next step."""

from __future__ import annotations

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
