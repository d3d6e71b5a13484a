"""Everyday editing: exact characters are replaced, and everything else in the files stays byte for byte."""

from __future__ import annotations

from typing import Annotated, Optional

import typer

from riskkit.cli.application import Today, app

DryRun = Annotated[bool, typer.Option("--dry-run", help="Show what would change; write nothing.")]
Register = Annotated[Optional[str], typer.Argument(metavar="[FOLDER]", help="Folder of the register.")]
Field = Annotated[Optional[str], typer.Option("--as", metavar="FIELD", help="Field, where several are possible.")]


@app.command()
def add(
    kind: Annotated[str, typer.Argument(metavar="KIND", help="Kind of record or its section, such as hazard.")],
    title: Annotated[
        Optional[str], typer.Argument(metavar="[TITLE]", help="What it is, in one line; without it you are asked.")
    ] = None,
    folder: Register = None,
    part: Annotated[
        Optional[str], typer.Option("--part", metavar="ID", help="Part that it starts from or uses.")
    ] = None,
    settings: Annotated[
        Optional[list[str]], typer.Option("--set", metavar="FIELD=VALUE", help="Another field; may be repeated.")
    ] = None,
    into: Annotated[Optional[str], typer.Option("--in", metavar="FILE", help="YAML file of the register.")] = None,
    id: Annotated[
        Optional[str], typer.Option("--id", metavar="ID", help="Its id; the next free one if left out.")
    ] = None,
    dry_run: DryRun = False,
    today: Today = None,
) -> None:
    """Add a record in one line, or by a short interview; what is not known is listed as a gap."""
    from riskkit.cli.adding_record import add as add_record
    from riskkit.cli.editing import told_apart_with_title

    what, words, where = told_apart_with_title(kind, title, folder)
    raise typer.Exit(add_record(what, words, where, settings or (), part, into, id, today, dry_run=dry_run))


@app.command("set")
def set_field(
    id: Annotated[str, typer.Argument(metavar="ID", help="Record, such as H04; or device, or policy.")],
    field: Annotated[str, typer.Argument(metavar="FIELD", help="Field, such as title or harm.severity.")],
    value: Annotated[
        Optional[str], typer.Argument(metavar="VALUE", help='Its value, such as "2 h 40", 4 or "[C01, C02]".')
    ] = None,
    folder: Register = None,
    clear: Annotated[bool, typer.Option("--clear", help="Take the field out.")] = False,
    dry_run: DryRun = False,
) -> None:
    """Give a field of a record a value, or take the field out."""
    from riskkit.cli.editing import set_value, told_apart

    words, where = told_apart((id, field, value, folder), 2 if clear else 3)
    raise typer.Exit(set_value(words[0], words[1], None if clear else words[2], where, clear=clear, dry_run=dry_run))


@app.command()
def link(
    first: Annotated[str, typer.Argument(metavar="A", help="Record that names the other one, such as H04.")],
    second: Annotated[str, typer.Argument(metavar="B", help="Record that is named, such as C07.")],
    folder: Register = None,
    field: Field = None,
    dry_run: DryRun = False,
) -> None:
    """Name one record in another: `link H04 C07` adds C07 to the controls of H04."""
    from riskkit.cli.editing import told_apart
    from riskkit.cli.linking import link as link_records

    (one, other), where = told_apart((first, second, folder), 2)
    raise typer.Exit(link_records(one, other, field, where, dry_run=dry_run))


@app.command()
def unlink(
    first: Annotated[str, typer.Argument(metavar="A", help="Record that names the other one, such as H04.")],
    second: Annotated[str, typer.Argument(metavar="B", help="Record that is named, such as C07.")],
    folder: Register = None,
    field: Field = None,
    dry_run: DryRun = False,
) -> None:
    """Take the name of one record out of another."""
    from riskkit.cli.editing import told_apart
    from riskkit.cli.linking import unlink as unlink_records

    (one, other), where = told_apart((first, second, folder), 2)
    raise typer.Exit(unlink_records(one, other, field, where, dry_run=dry_run))


@app.command()
def rename(
    old: Annotated[str, typer.Argument(metavar="OLD", help="Id of a record.")],
    new: Annotated[str, typer.Argument(metavar="NEW", help="The id that it gets, wherever it is named.")],
    folder: Register = None,
    dry_run: DryRun = False,
) -> None:
    """Give a record another id in every place of every file at once."""
    from riskkit.cli.editing import told_apart
    from riskkit.cli.renaming import rename as rename_record

    (was, becomes), where = told_apart((old, new, folder), 2)
    raise typer.Exit(rename_record(was, becomes, where, dry_run=dry_run))


@app.command()
def remove(
    id: Annotated[str, typer.Argument(metavar="ID", help="Record to take out.")],
    folder: Register = None,
    because: Annotated[str, typer.Option("--because", metavar="TEXT", help="Why; kept in its tombstone.")] = "",
    unlink: Annotated[bool, typer.Option("--unlink", help="Take it out of the records that name it, too.")] = False,
    dry_run: DryRun = False,
    today: Today = None,
) -> None:
    """Take a record out and leave a tombstone, so that its id is never used again. Results stay."""
    from riskkit.cli.editing import told_apart
    from riskkit.cli.renaming import remove as remove_record

    (record,), where = told_apart((id, folder), 1)
    raise typer.Exit(remove_record(record, because, where, today, unlink=unlink, dry_run=dry_run))


@app.command()
def renumber(
    id: Annotated[str, typer.Argument(metavar="ID", help="Id that two records have after a merge.")],
    folder: Register = None,
    into: Annotated[
        Optional[str], typer.Option("--in", metavar="FILE", help="File whose record gets a new id.")
    ] = None,
    to: Annotated[
        Optional[str], typer.Option("--to", metavar="NEW", help="The new id; the next free one if left out.")
    ] = None,
    dry_run: DryRun = False,
) -> None:
    """Give one of two records of the same id a new one, with what names it in its file."""
    from riskkit.cli.editing import told_apart
    from riskkit.cli.renaming import renumber as renumber_record

    (twice,), where = told_apart((id, folder), 1)
    raise typer.Exit(renumber_record(twice, into, to, where, dry_run=dry_run))
