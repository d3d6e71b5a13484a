"""`calc`: bench models from the command line, without a register. A command line of its own.

It is loaded only when `calc` is asked for, so that its options cost nothing at every other start.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Optional

import typer

from riskkit.cli.opening import one_of, print_text, width
from riskkit.diagnostics import RiskkitError

if TYPE_CHECKING:
    from riskkit.engineering.answering import Value
    from riskkit.engineering.models import Model

app = typer.Typer(
    name="calc",
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def run(arguments: Sequence[str]) -> None:
    """`riskkit calc` with these arguments; the help of a model where one stands before `--help`."""
    if {"--help", "-h"} & set(arguments) and not arguments[0].startswith("-"):
        from riskkit.cli.calculation_words import help_lines
        from riskkit.engineering import model

        print_text("\n".join(help_lines(model(arguments[0]), width())) + "\n")
        return
    app(list(arguments) or ["--help"], prog_name="riskkit calc")


@app.command()
def calc(
    model: Annotated[Optional[str], typer.Argument(metavar="MODEL", help="Name of a model, such as u-tube.")] = None,
    inputs: Annotated[
        Optional[list[str]],
        typer.Argument(metavar="NAME=VALUE", help='Inputs, such as reading="83 mm" or reading="83±1 mm" (k = 2).'),
    ] = None,
    answer: Annotated[
        Optional[str],
        typer.Option("--answer", metavar="NAME", help="Which answer of the model; its main one if left out."),
    ] = None,
    unit: Annotated[
        Optional[str], typer.Option("--unit", metavar="UNIT", help="Show the answer in this unit, such as cmH2O.")
    ] = None,
    solve_for: Annotated[
        Optional[str], typer.Option("--solve-for", metavar="NAME", help="Look for this input; needs --target.")
    ] = None,
    target: Annotated[
        Optional[str], typer.Option("--target", metavar="VALUE", help='Wanted value of the answer, such as "8 hPa".')
    ] = None,
    sweep: Annotated[
        Optional[str], typer.Option("--sweep", metavar="NAME=A..B", help='Along one input: "reading=0 mm..100 mm".')
    ] = None,
    points: Annotated[
        Optional[int], typer.Option("--points", metavar="N", help="Points of the sweep; 21 if left out.")
    ] = None,
    svg: Annotated[
        Optional[Path], typer.Option("--svg", metavar="FILE", help="Write the sweep as a figure, too.")
    ] = None,
    monte_carlo: Annotated[
        bool, typer.Option("--monte-carlo", help="Draw the inputs as well, and compare with first order.")
    ] = False,
    seed: Annotated[int, typer.Option("--seed", metavar="N", min=0, help="Seed of the random numbers.")] = 1,
    list_models: Annotated[bool, typer.Option("--list", help="Name all models, one a line.")] = False,
    verify: Annotated[
        bool, typer.Option("--verify", help="Run the checks of all models, or of one, on this machine.")
    ] = False,
    format: Annotated[str, typer.Option("--format", metavar="text|json", help="How the answer is printed.")] = "text",
) -> None:
    """Work out a bench number: its uncertainty, where it holds, its formula and its source.

    `riskkit calc --list` names the models, `riskkit calc MODEL --help` says what one asks for.
    """
    one_of("--format", format, ("text", "json"))
    if verify:
        raise typer.Exit(_verify(model, format))
    if list_models:
        _list(format)
        return
    if model is None or "=" in model:
        raise RiskkitError("no model is named", "write riskkit calc MODEL name=value; --list names the models")
    from riskkit.engineering import model as model_named

    found = model_named(model)
    typed = _inputs(found, inputs or ())
    _refuse_half(solve_for, target, sweep, points, svg, monte_carlo=monte_carlo)
    if sweep is not None:
        _sweep(found, typed, sweep, 21 if points is None else points, answer, unit, svg, format)
    elif solve_for is not None and target is not None:
        _solve(found, typed, solve_for, target, answer, unit, format)
    else:
        _answer(found, typed, answer, unit, seed if monte_carlo else None, format)


def _refuse_half(
    solve_for: str | None,
    target: str | None,
    sweep: str | None,
    points: int | None,
    svg: Path | None,
    *,
    monte_carlo: bool,
) -> None:
    if (solve_for is None) != (target is None):
        raise RiskkitError(
            "solving needs an input to look for and a value to reach", 'give --solve-for reading --target "8 hPa"'
        )
    if solve_for is not None and sweep is not None:
        raise RiskkitError("a sweep shows what an input does, and solving looks for one value of it", "ask for one")
    if sweep is None and (points is not None or svg is not None):
        raise RiskkitError(
            f"{'--points' if points is not None else '--svg'} belongs to --sweep",
            'give --sweep "reading=0 mm..100 mm"',
        )
    if monte_carlo and (sweep is not None or solve_for is not None):
        raise RiskkitError(
            "--monte-carlo looks at one answer", f"leave {'--sweep' if sweep is not None else '--solve-for'} out"
        )


def _inputs(model: Model, written: Sequence[str]) -> dict[str, str]:
    """name=value by name, as typed."""
    typed: dict[str, str] = {}
    before = ""
    for each in written:
        name, equals, value = each.partition("=")
        name, value = name.strip().replace("-", "_"), value.strip()
        if not equals or not name:
            raise RiskkitError(f"`{each}` is no input: it names none", _how_to_name(model, each, before))
        if name in typed:
            raise RiskkitError(f"`{name}` is given twice", "leave one out")
        if not value:
            raise RiskkitError(f"`{name}` has no value", f"write {name}=VALUE without blanks round the `=`")
        typed[name] = value
        before = f"{name}={value}"
    return typed


def _how_to_name(model: Model, each: str, before: str) -> str:
    if before and not each.startswith("="):
        name, _, value = before.partition("=")
        return f'quote a value that holds a blank: {name}="{value} {each}"'
    return f"write name=value; the inputs are {', '.join(given.name for given in model.givens)}"


def _answer(
    model: Model, typed: dict[str, str], name: str | None, unit: str | None, seed: int | None, format: str
) -> None:
    from riskkit.engineering import work_out

    worked = work_out(model, typed)
    value = _in_unit(worked.value(name) if name is not None else worked.main, unit)
    trials = None
    if seed is not None:
        from riskkit.cli.drawing_inputs import drawn

        trials = drawn(worked, value, seed)
    if format == "json":
        from riskkit.exchange.calculations import calculation_data

        beside = {} if trials is None else {"monte_carlo": trials.data}
        _print_json(calculation_data(worked, value) | beside)
        return
    from riskkit.cli.calculation_words import answer_lines

    _print(answer_lines(worked, value, width(), () if trials is None else trials.sentences))


def _solve(
    model: Model,
    typed: dict[str, str],
    wanted: str,
    target: str,
    name: str | None,
    unit: str | None,
    format: str,
) -> None:
    from riskkit.engineering import solve_for

    wanted = wanted.replace("-", "_")
    # An input solved for is often still on the line that is typed again.
    solved = solve_for(model, wanted, target, answer=name, **typed)
    worked = solved.answer
    value = _in_unit(worked.value(name) if name is not None else worked.main, unit)
    if format == "json":
        from riskkit.exchange.calculations import calculation_data, solved_data

        _print_json(calculation_data(worked, value) | {"solved": solved_data(solved)})
        return
    from riskkit.cli.calculation_words import answer_lines, solved_lines

    set_aside = f"{wanted}={typed[wanted]}" if wanted in typed else ""
    _print([*solved_lines(solved, value.found.name, target, set_aside, width()), *answer_lines(worked, value, width())])


def _sweep(
    model: Model,
    typed: dict[str, str],
    written: str,
    points: int,
    name: str | None,
    unit: str | None,
    svg: Path | None,
    format: str,
) -> None:
    from riskkit.engineering import sweep
    from riskkit.exchange.calculations import curves, sweep_data
    from riskkit.units import UnitError

    along, first, last = _ends(model, written)
    swept = sweep(model, along, first, last, points, **typed)
    try:
        told = curves(swept, name, unit)
    except UnitError as error:
        raise RiskkitError(f"--unit: {error.headline}", error.help) from None
    if svg is not None:
        if all(number is None for number in told[0].numbers):
            raise RiskkitError(f"the model gives no {told[0].words} along this sweep", "ask for another with --answer")
        from riskkit.cli.calculation_words import figure_of
        from riskkit.cli.opening import write_whole

        write_whole(svg, figure_of(swept, told[0]).encode())
    if format == "json":
        _print_json(sweep_data(swept, told))
        return
    from riskkit.cli.calculation_words import sweep_lines

    lines = sweep_lines(swept, told, typed, width())
    _print([*lines, *([f"Figure written to {svg}."] if svg is not None else [])])


_ENDS = re.compile(r"(?P<first>.+?)\s*\.\.\s*(?P<last>[^.\s].*|\.\d.*)")
_BARE = re.compile(r"[-+\u2212]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d+)?")


def _ends(model: Model, written: str) -> tuple[str, str, str]:
    """Input, first and last value of `reading=0 mm..100 mm`; the unit may stand behind the last one only."""
    name, _, span = written.partition("=")
    ends = _ENDS.fullmatch(span.strip())
    if ends is None:
        raise RiskkitError(f"--sweep `{written}` is no span", 'write it as --sweep "reading=0 mm..100 mm"')
    given = model.given(name.strip().replace("-", "_"))
    first, last = ends["first"].strip(), ends["last"].strip()
    if given.kind != "number" and _BARE.fullmatch(first):
        first += f" {_BARE.sub('', last, count=1).strip()}"
    return given.name, first.strip(), last


def _verify(name: str | None, format: str) -> int:
    """Run checks; the exit status."""
    from riskkit.engineering import all_models, model, prove
    from riskkit.exchange.calculations import proofs_data

    asked = (model(name),) if name is not None else all_models()
    proved = [(each, prove(each)) for each in asked]
    if format == "json":
        _print_json({"models": [proofs_data(each, proofs) for each, proofs in proved]})
    else:
        from riskkit.cli.calculation_words import proof_lines

        _print(proof_lines(proved, width()))
    return 0 if all(proof.holds for _, proofs in proved for proof in proofs) else 1


def _list(format: str) -> None:
    from riskkit.engineering import all_models

    if format == "json":
        from riskkit.exchange.calculations import model_data

        _print_json({"models": [model_data(each) for each in all_models()]})
        return
    from riskkit.cli.calculation_words import list_lines

    _print(list_lines(all_models()))


def _in_unit(value: Value, unit: str | None) -> Value:
    from riskkit.units import UnitError

    try:
        return value if unit is None else value.converted(unit)
    except UnitError as error:
        raise RiskkitError(f"--unit: {error.headline}", error.help) from None


def _print(lines: Sequence[str]) -> None:
    print_text("\n".join(lines) + "\n")


def _print_json(told: Mapping[str, Any]) -> None:
    import json

    print_text(json.dumps(told, ensure_ascii=False, indent=2) + "\n")
