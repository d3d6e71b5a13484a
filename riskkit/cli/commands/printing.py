"""Paper."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Optional

import typer

from riskkit.cli.application import HERE, Folder, PolicyFile, Today, app


@app.command()
def dossier(
    folder: Folder = HERE,
    output: Annotated[
        Optional[Path],
        typer.Option("--output", "-o", metavar="FILE", help="PDF to write; named after the device if left out."),
    ] = None,
    page: Annotated[str, typer.Option("--page", metavar="a4|letter", help="Paper size.")] = "a4",
    one_page: Annotated[bool, typer.Option("--one-page", help="Only the clinician's page.")] = False,
    policy: PolicyFile = None,
    today: Today = None,
    workers: Annotated[
        Optional[int], typer.Option("--workers", metavar="N", min=1, help="Processes to print with.")
    ] = None,
) -> None:
    """Print the review dossier as a PDF."""
    from riskkit.cli.paper import print_dossier

    print_dossier(folder, output, page, policy, today, one_page=one_page, workers=workers)
