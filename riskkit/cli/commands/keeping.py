"""The register from day to day: begin it, check it, ask why and what next, compare it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Optional

import typer

from riskkit.cli.application import HERE, Folder, Format, PlainFormat, PolicyFile, Today, Wide, app


@app.command()
def new(
    folder: Annotated[Path, typer.Argument(help="Folder to make.")] = Path("register"),
    example: Annotated[
        Optional[str], typer.Option("--example", metavar="small|hood", help="Copy a built-in example.")
    ] = None,
    no_questions: Annotated[bool, typer.Option("--no-questions", help="Ask nothing; leave every answer open.")] = False,
    today: Today = None,
) -> None:
    """Begin a register: eight short questions, or a copy of an example."""
    from riskkit.cli.starting import begin

    begin(folder, example, today, ask=not no_questions)


@app.command()
def check(
    folder: Folder = HERE,
    format: Format = "text",
    policy: PolicyFile = None,
    today: Today = None,
    wide: Wide = False,
    no_memory: Annotated[bool, typer.Option("--no-memory", help="Do not use or keep the last answer.")] = False,
    since: Annotated[
        Optional[str],
        typer.Option(
            "--since", metavar="REV", help="Only what was loosened, got worse or got better since a revision."
        ),
    ] = None,
    fix: Annotated[bool, typer.Option("--fix", help="Mend first what can be mended without judging.")] = False,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="With --fix: show what would change, and stop.")] = False,
) -> None:
    """List every gap: what is missing, where, and what to type next."""
    if fix or dry_run:
        from riskkit.cli.mending import fix_before_check

        if fix_before_check(folder, format, asked=fix, dry_run=dry_run):
            raise typer.Exit(0)
    if since is not None:
        from riskkit.cli.comparing import check_since

        raise typer.Exit(check_since(folder, since, format, policy, today))
    from riskkit.cli.checking import check_register

    raise typer.Exit(check_register(folder, format, policy, today, wide=wide, memory=not no_memory))


@app.command()
def why(
    id: Annotated[str, typer.Argument(metavar="ID", help="Any record, such as H04.")],
    folder: Folder = HERE,
    today: Today = None,
) -> None:
    """Tell the chain behind a record as a short story."""
    from riskkit.cli.asking import tell_why

    tell_why(id, folder, today)


@app.command("next")
def next_step(folder: Folder = HERE, today: Today = None) -> None:
    """Name the single most valuable thing to do now, and what it would close."""
    from riskkit.cli.asking import tell_next

    tell_next(folder, today)


@app.command()
def explain(
    rule: Annotated[
        Optional[str], typer.Argument(metavar="RULE", help="Name in square brackets behind a finding.")
    ] = None,
) -> None:
    """Explain a rule, with an example of each kind; without a name, list all rules."""
    from riskkit.cli.asking import explain_rule

    explain_rule(rule)


@app.command()
def diff(
    revision: Annotated[str, typer.Argument(metavar="REV", help="Git revision to compare from, such as a tag.")],
    other: Annotated[
        Optional[str],
        typer.Argument(metavar="[REV]", help="Revision to compare with; the files as they are if left out."),
    ] = None,
    folder: Annotated[Path, typer.Option("--in", metavar="FOLDER", help="Folder of the register.")] = HERE,
    format: PlainFormat = "text",
    today: Today = None,
) -> None:
    """Compare two git revisions in risk words: loosened, worse, better."""
    from riskkit.cli.comparing import compare

    compare(folder, revision, other, format, today)


@app.command()
def trend(
    folder: Folder = HERE,
    last: Annotated[int, typer.Option("--last", metavar="N", min=1, help="How many states are told.")] = 12,
    commits: Annotated[bool, typer.Option("--commits", help="Tell commits, also where there are tags.")] = False,
    format: PlainFormat = "text",
    policy: PolicyFile = None,
    today: Today = None,
) -> None:
    """Show how many findings were open at each tag, or at each of the last commits."""
    from riskkit.cli.trending import show_trend

    show_trend(folder, last, format, policy, today, commits=commits)


@app.command()
def schema(
    output: Annotated[Optional[Path], typer.Option("--output", "-o", metavar="FILE", help="File to write.")] = None,
) -> None:
    """Print the JSON Schema of a register's files; with --output, also the line that makes editors complete."""
    from riskkit.cli.asking import show_schema

    show_schema(output)


@app.command()
def watch(folder: Folder = HERE, today: Today = None) -> None:
    """Check again at each save, and tell only what has changed."""
    from riskkit.cli.watching import watch_register

    watch_register(folder, today)
