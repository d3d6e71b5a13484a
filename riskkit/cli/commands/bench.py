"""At the bench: what runs can show, what was read, what it says, and bench numbers."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Optional

import typer

from riskkit.cli.application import HERE, Folder, PlainFormat, Today, app


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
def plan(context: typer.Context) -> None:
    """Say what runs, hours and readings can show: `riskkit plan --help` lists the questions."""
    from riskkit.cli.planning import run

    run(context.args)


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


@app.command(
    context_settings={"allow_extra_args": True, "ignore_unknown_options": True, "help_option_names": []},
    add_help_option=False,
)
def calc(context: typer.Context) -> None:
    """Work out a bench number with a named model: `riskkit calc --list` names them."""
    from riskkit.cli.calculating import run

    run(context.args)
