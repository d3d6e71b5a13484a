"""The application that all commands belong to, and the options that many of them share."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Optional

import typer

from riskkit.version import __version__

app = typer.Typer(
    name="riskkit",
    help="What can go wrong with a device on the bench, what was done about it, and what is still open.",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)

Folder = Annotated[Path, typer.Argument(help="Folder of the register.", show_default="this folder")]
Today = Annotated[
    Optional[str], typer.Option("--today", metavar="DATE", help="Judge dates as on this day, such as 2026-11-25.")
]
Format = Annotated[str, typer.Option("--format", metavar="text|json|sarif", help="How findings are printed.")]
PlainFormat = Annotated[str, typer.Option("--format", metavar="text|json", help="How the answer is printed.")]
PolicyFile = Annotated[
    Optional[str],
    typer.Option("--policy", metavar="FILE", help="Score under another policy: a YAML file or a shipped name."),
]
Wide = Annotated[bool, typer.Option("--wide", help="One line per finding, never wrapped.")]
HERE = Path(".")


def _show_version(asked: bool) -> None:
    if asked:
        typer.echo(f"riskkit {__version__}")
        raise typer.Exit


@app.callback()
def riskkit(
    version: Annotated[
        bool, typer.Option("--version", callback=_show_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    """What can go wrong with a device on the bench, what was done about it, and what is still open.

    riskkit reads a folder of YAML files. It never says that a device may be used on a person.
    """
