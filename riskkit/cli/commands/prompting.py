"""Finding hazards: the next questions, asked at a terminal or on paper."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Optional

import typer

from riskkit.cli.application import HERE, Folder, PlainFormat, Today, app


@app.command()
def ask(
    folder: Folder = HERE,
    most: Annotated[int, typer.Option("--most", metavar="N", min=1, help="How many questions.")] = 12,
    about: Annotated[
        Optional[str], typer.Option("--about", metavar="ID", help="Only about this part, function, step or energy.")
    ] = None,
    grid: Annotated[
        Optional[str],
        typer.Option("--grid", metavar="GRID", help="Only parts, functions, use steps, energy or surroundings."),
    ] = None,
    by: Annotated[Optional[str], typer.Option("--by", metavar="ROLE", help="Who answers, by role.")] = None,
    blind: Annotated[
        bool, typer.Option("--blind", help="Ask what this role has not answered, whatever others have said.")
    ] = False,
    compare: Annotated[
        Optional[str], typer.Option("--compare", metavar="ROLES", help='Where two differ: "builder-1, physician".')
    ] = None,
    coverage: Annotated[bool, typer.Option("--coverage", help="Say how many questions have an answer.")] = False,
    sheet: Annotated[bool, typer.Option("--sheet", help="Print the questions to write on; ask nothing.")] = False,
    output: Annotated[
        Optional[Path], typer.Option("--output", "-o", metavar="FILE", help="With --sheet: a PDF to write.")
    ] = None,
    page: Annotated[str, typer.Option("--page", metavar="a4|letter", help="Paper size of the sheet.")] = "a4",
    answers: Annotated[
        Optional[str],
        typer.Option("--answers", metavar="FILE|-", help="Take answers from lines: code, y n or l, words."),
    ] = None,
    format: PlainFormat = "text",
    today: Today = None,
) -> None:
    """Ask the next twelve questions about what can go wrong, the dangerous ones first."""
    from riskkit.cli.prompting import Wanted, show_coverage, show_pair, show_sheet, sit

    wanted = Wanted(most, about, grid, by, blind)
    if compare is not None:
        show_pair(folder, compare, today, format)
    elif coverage:
        show_coverage(folder, today, format)
    elif sheet or output is not None:
        show_sheet(folder, wanted, today, output, page)
    else:
        raise typer.Exit(sit(folder, wanted, today, answers, format))
