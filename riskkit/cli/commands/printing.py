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
    since: Annotated[
        Optional[str],
        typer.Option("--since", metavar="REV", help="Tell what changed since a git revision, such as a tag."),
    ] = None,
    only_changes: Annotated[
        bool,
        typer.Option(
            "--only-changes",
            "--difference",
            help="Only what is not claimed, what changed, and the open list; since the latest tag if --since is left out.",
        ),
    ] = False,
    policy: PolicyFile = None,
    today: Today = None,
    workers: Annotated[
        Optional[int], typer.Option("--workers", metavar="N", min=1, help="Processes to print with.")
    ] = None,
) -> None:
    """Print the review dossier as a PDF."""
    from riskkit.cli.paper import print_dossier

    print_dossier(
        folder,
        output,
        page,
        policy,
        today,
        one_page=one_page,
        workers=workers,
        since=since,
        only_changes=only_changes,
    )


@app.command()
def cards(
    folder: Folder = HERE,
    ids: Annotated[
        Optional[list[str]],
        typer.Option("--for", metavar="ID", help="A test, instrument or unit; may be given several times."),
    ] = None,
    kind: Annotated[
        Optional[list[str]],
        typer.Option(
            "--kind",
            metavar="KIND",
            help="test, fault, unit, instrument, slip, switch-on or blank; all test cards if left out.",
        ),
    ] = None,
    unit: Annotated[
        Optional[str], typer.Option("--unit", metavar="UNIT", help="Build cards of this unit; `new` for empty ones.")
    ] = None,
    page: Annotated[str, typer.Option("--page", metavar="a4|letter", help="Paper size.")] = "a4",
    large: Annotated[bool, typer.Option("--large", help="Two cards to a sheet, no letter below 14 pt.")] = False,
    left_handed: Annotated[bool, typer.Option("--left-handed", help="Boxes at the left edge.")] = False,
    hide_limit: Annotated[bool, typer.Option("--hide-limit", help="Leave limits and claims off the cards.")] = False,
    output: Annotated[
        Optional[Path],
        typer.Option("--output", "-o", metavar="FILE", help="PDF to write; named after the device if left out."),
    ] = None,
    today: Today = None,
) -> None:
    """Print cards to write on at the bench: four to a sheet, to be cut apart."""
    from riskkit.cli.card_paper import print_bench_cards

    wanted = (tuple(ids or ()), tuple(kind or ()), unit or "", hide_limit)
    print_bench_cards(folder, wanted, page, output, today, large=large, left_handed=left_handed)


@app.command()
def pack(
    folder: Folder = HERE,
    page: Annotated[str, typer.Option("--page", metavar="a4|letter", help="Paper size.")] = "a4",
    output: Annotated[
        Optional[Path],
        typer.Option("--output", "-o", metavar="FILE", help="PDF to write; named after the device if left out."),
    ] = None,
    policy: PolicyFile = None,
    today: Today = None,
) -> None:
    """Print the build pack for a stranger: cautions, parts, instruments, checks, cards and forms."""
    from riskkit.cli.card_paper import print_build_pack

    print_build_pack(folder, page, output, policy, today)
