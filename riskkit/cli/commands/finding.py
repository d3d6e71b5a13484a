"""Experience of others: the catalogs, what they offer for a record, and taking an entry over."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Optional

import typer

from riskkit.cli.application import HERE, PlainFormat, app

catalog_app = typer.Typer(
    name="catalog",
    help="Look into the catalogs of hazards, failures, controls and tests.",
    no_args_is_help=True,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)
app.add_typer(catalog_app)

More = Annotated[
    Optional[list[Path]],
    typer.Option("--catalog", metavar="FOLDER", help="A further catalog, such as a checkout; may be repeated."),
]
In = Annotated[Path, typer.Option("--in", metavar="FOLDER", help="Folder of the register.")]
Entry = Annotated[str, typer.Argument(metavar="ENTRY", help="Such as controls/strain-relief.")]


@catalog_app.command("list")
def list_them(
    words: Annotated[Optional[list[str]], typer.Argument(metavar="[WORDS]", help="Words that it holds.")] = None,
    kind: Annotated[
        Optional[str], typer.Option("--kind", metavar="KIND", help="Such as hazards, failures, controls or tests.")
    ] = None,
    about: Annotated[Optional[str], typer.Option("--about", metavar="SUBJECT", help="Such as oxygen.")] = None,
    folder: In = HERE,
    catalog: More = None,
    format: PlainFormat = "text",
) -> None:
    """List entries, all of them or those that hold the words."""
    from riskkit.cli.cataloguing import list_entries

    list_entries(words or (), kind, about, folder, catalog or (), format)


@catalog_app.command("show")
def show(entry: Entry, folder: In = HERE, catalog: More = None, format: PlainFormat = "text") -> None:
    """Tell one entry: how it comes about, why it is here, what to ask, where it deceives people."""
    from riskkit.cli.cataloguing import show_entry

    show_entry(entry, folder, catalog or (), format)


@catalog_app.command("diff")
def compare(
    other: Annotated[
        Optional[Path],
        typer.Argument(metavar="[OTHER]", help="A newer catalog; those in use if left out."),
    ] = None,
    folder: In = HERE,
    catalog: More = None,
    format: PlainFormat = "text",
) -> None:
    """Say what a newer catalog would change in adopted records, and which of its entries are new."""
    from riskkit.cli.cataloguing import show_differences

    raise typer.Exit(show_differences(other, folder, catalog or (), format))


@catalog_app.command("check")
def check_own(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Folder of the catalog.")],
    catalog: More = None,
) -> None:
    """List everything in a catalog that cannot be read or leads nowhere, with file and line."""
    from riskkit.cli.cataloguing import check_folder

    raise typer.Exit(check_folder(folder, catalog or ()))


@app.command()
def suggest(
    id: Annotated[str, typer.Argument(metavar="ID", help="A hazard, control, part, use step, function or test.")],
    folder: Annotated[Path, typer.Argument(help="Folder of the register.", show_default="this folder")] = HERE,
    catalog: More = None,
    format: PlainFormat = "text",
) -> None:
    """Offer controls and tests from the catalogs, each with the reason and with its weak point."""
    from riskkit.cli.suggesting import show_suggestions

    show_suggestions(id, folder, catalog or (), format)


@app.command()
def adopt(
    entry: Entry,
    folder: Annotated[Path, typer.Argument(help="Folder of the register.", show_default="this folder")] = HERE,
    answers: Annotated[
        str, typer.Option("--for", metavar="ID", help="The hazard or control that it is for, such as H04.")
    ] = "",
    part: Annotated[str, typer.Option("--part", metavar="ID", help="The part that fails, such as P03.")] = "",
    step: Annotated[str, typer.Option("--step", metavar="ID", help="The use step in which it happens.")] = "",
    severity: Annotated[
        str, typer.Option("--severity", metavar="LEVEL", help="How bad it is here, on the project's own scale.")
    ] = "",
    starts: Annotated[
        Optional[str], typer.Option("--starts", metavar="ENTRY", help="Another hazard that a failure or error starts.")
    ] = None,
    every_use: Annotated[
        bool, typer.Option("--every-use", help="A check of each unit, done before every use.")
    ] = False,
    into: Annotated[
        Optional[str], typer.Option("--in", metavar="FILE", help="YAML file of the register to write into.")
    ] = None,
    catalog: More = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Show what would be written; write nothing.")] = False,
    yes: Annotated[bool, typer.Option("--yes", help="Write without asking once more.")] = False,
) -> None:
    """Write a catalog entry as a record of the register, with its source and with what is still open."""
    from riskkit.cli.adopting import adopt_entry
    from riskkit.judgement.adopting import Wish

    wish = Wish(answers, part, step, severity, every_use)
    raise typer.Exit(adopt_entry(entry, folder, catalog or (), wish, starts, into, dry_run=dry_run, yes=yes))
