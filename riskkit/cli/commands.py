"""The commands and their options, in the order of a working day. The work is done in the files beside this one."""

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
) -> None:
    """List every gap: what is missing, where, and what to type next."""
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
def record(
    test: Annotated[str, typer.Argument(metavar="TEST", help="Test that was done, such as T07.")],
    folder: Folder = HERE,
    card: Annotated[Optional[str], typer.Option("--card", metavar="CODE", help="Code at the top of the card.")] = None,
    into: Annotated[
        Optional[str], typer.Option("--in", metavar="FILE", help="YAML file of the register to write into.")
    ] = None,
    answers: Annotated[
        Optional[str],
        typer.Option("--answers", metavar="FILE|-", help="Take the answers from YAML; - for standard input."),
    ] = None,
    sheet: Annotated[bool, typer.Option("--sheet", help="Print the card to write on, and ask nothing.")] = False,
    hide_limit: Annotated[bool, typer.Option("--hide-limit", help="Leave the limit off the card.")] = False,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Show what would be written; write nothing.")] = False,
    yes: Annotated[bool, typer.Option("--yes", help="Write without asking once more.")] = False,
    today: Today = None,
) -> None:
    """Type in what was read on the bench, in the order of the card."""
    from riskkit.cli.recording import print_sheet, record_result

    if sheet:
        print_sheet(test, folder, hide_limit=hide_limit)
        return
    raise typer.Exit(record_result(test, folder, card, into, today, answers, dry_run=dry_run, yes=yes))


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


@app.command(
    context_settings={"allow_extra_args": True, "ignore_unknown_options": True, "help_option_names": []},
    add_help_option=False,
)
def plan(context: typer.Context) -> None:
    """Say what runs, hours and readings can show: `riskkit plan --help` lists the questions."""
    from riskkit.cli.planning import run

    run(context.args)


@app.command()
def judge(
    test: Annotated[Optional[str], typer.Argument(metavar="[TEST]", help="Test, such as T07.")] = None,
    folder: Folder = HERE,
    reading: Annotated[
        Optional[list[str]],
        typer.Option("--reading", metavar="QUANTITY", help='Without a register: a reading, such as "17.6 hPa".'),
    ] = None,
    uncertainty: Annotated[
        Optional[str], typer.Option("--uncertainty", metavar="QUANTITY", help="Its expanded uncertainty (k = 2).")
    ] = None,
    at_most: Annotated[Optional[str], typer.Option("--at-most", metavar="QUANTITY", help="Upper limit.")] = None,
    at_least: Annotated[Optional[str], typer.Option("--at-least", metavar="QUANTITY", help="Lower limit.")] = None,
    guard: Annotated[
        float, typer.Option("--guard", metavar="G", min=0, help="Guard band in expanded uncertainties.")
    ] = 1.0,
    format: PlainFormat = "text",
    today: Today = None,
) -> None:
    """Say of each result of a test: meets, does not meet, cannot tell; and what its sample shows."""
    from riskkit.cli.judging import judge_asked

    judge_asked(test, folder, reading, uncertainty, at_most, at_least, guard, format, today)


@app.command(
    context_settings={"allow_extra_args": True, "ignore_unknown_options": True, "help_option_names": []},
    add_help_option=False,
)
def calc(context: typer.Context) -> None:
    """Work out a bench number with a named model: `riskkit calc --list` names them."""
    from riskkit.cli.calculating import run

    run(context.args)


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
def budget(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="YAML file with a `budget:` section.")],
    format: PlainFormat = "text",
    monte_carlo: Annotated[bool, typer.Option("--monte-carlo", help="Draw the inputs as well, until stable.")] = False,
    confidence: Annotated[
        Optional[str], typer.Option("--confidence", metavar="LEVEL", help="Level of the interval, such as 99%.")
    ] = None,
    seed: Annotated[int, typer.Option("--seed", metavar="N", min=0, help="Seed of the random numbers.")] = 1,
) -> None:
    """Work out how well a measured quantity is known, and which input matters most."""
    from riskkit.cli.budgeting import show_budget

    show_budget(file, format, confidence, seed, monte_carlo=monte_carlo)


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


@app.command()
def trace(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Recording: a text file of readings, such as CSV.")],
    columns: Annotated[
        Optional[str],
        typer.Option(
            "--columns", metavar="NAMES", help='Name and unit of every column, "-" for none: "t s, pressure hPa, -".'
        ),
    ] = None,
    column: Annotated[Optional[str], typer.Option("--column", metavar="NAME", help="Column to measure.")] = None,
    interval: Annotated[
        Optional[str], typer.Option("--interval", metavar="TIME", help="Between rows, as 10ms.")
    ] = None,
    rate: Annotated[Optional[str], typer.Option("--rate", metavar="RATE", help="Rows per time, such as 100Hz.")] = None,
    time: Annotated[
        Optional[str], typer.Option("--time", metavar="NAME", help='Column of the clock: "tick ms".')
    ] = None,
    missing: Annotated[
        Optional[list[str]],
        typer.Option("--missing", metavar="NUMBER", help="Number that means no reading: -999 or pressure=-999."),
    ] = None,
    at_most: Annotated[
        Optional[str], typer.Option("--at-most", metavar="LIMIT", help="Upper limit, as 16 hPa.")
    ] = None,
    at_least: Annotated[Optional[str], typer.Option("--at-least", metavar="LIMIT", help="Lower limit.")] = None,
    uncertainty: Annotated[
        Optional[str], typer.Option("--uncertainty", metavar="U", help="Expanded uncertainty, k = 2, as 0.3 hPa.")
    ] = None,
    levels: Annotated[
        Optional[str], typer.Option("--levels", metavar="LEVELS", help='Levels that were set: "15 hPa, 5 hPa".')
    ] = None,
    within: Annotated[Optional[str], typer.Option("--within", metavar="WIDTH", help="Tolerance of --levels.")] = None,
    above: Annotated[Optional[str], typer.Option("--above", metavar="LIMIT", help="Tell the time above it.")] = None,
    below: Annotated[Optional[str], typer.Option("--below", metavar="LIMIT", help="Tell the time below it.")] = None,
    start: Annotated[Optional[str], typer.Option("--from", metavar="TIME", help="Leave out what is earlier.")] = None,
    stop: Annotated[Optional[str], typer.Option("--to", metavar="TIME", help="Leave out what is later.")] = None,
    event: Annotated[
        Optional[str], typer.Option("--event", metavar="WHAT", help='Time or condition: "10 s", "pressure < 3 hPa".')
    ] = None,
    alarm: Annotated[
        Optional[str], typer.Option("--alarm", metavar="WHAT", help='Alarm that answers --event: "buzzer > 0.5 V".')
    ] = None,
    plot: Annotated[bool, typer.Option("--plot/--no-plot", help="Draw the signal in characters.")] = True,
    format: PlainFormat = "text",
) -> None:
    """Measure a recording of the bench: cycles, levels, overshoot, rate, drift, the worst cycle."""
    from riskkit.cli.tracing import Asked, show_trace

    asked = Asked(
        columns, column, interval, rate, time, tuple(missing or ()), at_most, at_least, uncertainty, levels, within, above,
        below, start, stop, event, alarm,
    )  # fmt: skip
    show_trace(file, asked, format, plot=plot)


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


@app.command()
def schema(
    output: Annotated[Optional[Path], typer.Option("--output", "-o", metavar="FILE", help="File to write.")] = None,
) -> None:
    """Print the JSON Schema of a register's files; with --output, also the line that makes editors complete."""
    from riskkit.cli.asking import show_schema

    show_schema(output)
