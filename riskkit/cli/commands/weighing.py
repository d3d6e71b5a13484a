"""The risk picture and the logic of faults."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Optional

import typer

from riskkit.cli.application import HERE, Folder, PlainFormat, PolicyFile, Today, app


@app.command()
def score(
    folder: Folder = HERE,
    format: PlainFormat = "text",
    policy: PolicyFile = None,
    today: Today = None,
) -> None:
    """Show the risk picture: before controls, as claimed, as supported by evidence."""
    from riskkit.cli.scoring import show_scores

    show_scores(folder, format, policy, today)


@app.command()
def fault(
    tree: Annotated[
        str, typer.Argument(metavar="TREE", help="A fault tree or hazard of the register, or a file with one tree.")
    ],
    folder: Folder = HERE,
    draft: Annotated[
        bool, typer.Option("--draft", help="Print a first tree of a hazard, from its causes and controls.")
    ] = False,
    output: Annotated[
        Optional[Path], typer.Option("--output", "-o", metavar="FILE", help="Write the draft into a new file.")
    ] = None,
    listed: Annotated[
        int, typer.Option("--list", metavar="N", min=1, help="How many minimal cut sets are listed.")
    ] = 20,
    spread: Annotated[
        bool, typer.Option("--spread", help="Draw the events as far as they vary, and say how far the top spreads.")
    ] = False,
    seed: Annotated[int, typer.Option("--seed", metavar="N", min=0, help="Seed of the random numbers.")] = 1,
    format: PlainFormat = "text",
    today: Today = None,
) -> None:
    """Say what has to go wrong together, what does it alone, and how likely that is."""
    from riskkit.cli.faulting import show_draft, show_fault

    if draft:
        show_draft(tree, folder, today, output)
    else:
        show_fault(tree, folder, format, today, listed, seed if spread else None)
