"""`budget`: an uncertainty budget as a table that can be read at the bench, or as JSON."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from riskkit.cli.opening import one_of, print_text, width
from riskkit.cli.output import table, wrapped
from riskkit.diagnostics import RiskkitError

if TYPE_CHECKING:
    from riskkit.evidence.propagation import FirstOrder
    from riskkit.evidence.trials import Comparison, MonteCarlo
    from riskkit.text.budgets import BudgetFile

CAUTION = (
    "This is an estimate of a bench measurement, under the assumptions listed here; it says nothing about "
    "a use on a person."
)
"""Stands below every budget."""


def show_budget(path: Path, format: str, confidence: str | None, seed: int, *, monte_carlo: bool) -> None:
    """Work a budget file out and print it."""
    one_of("--format", format, ("text", "json"))
    from riskkit.text.budgets import load_budget

    file = load_budget(path)
    first, refusal = _first_order(file, _level(confidence), may_refuse=monte_carlo)
    level = first.confidence if first is not None else _level(confidence) or file.confidence
    trials = _trials(file, level, seed) if monte_carlo else None
    comparison = None
    if first is not None and trials is not None:
        from riskkit.evidence.trials import compare_first_order

        comparison = compare_first_order(first, trials)
    notes = (*file.notes, *(first.notes if first is not None else ()), *refusal, *(trials.notes if trials else ()))
    if format == "json":
        from riskkit.exchange.budgets import budget_json

        print_text(budget_json(file, first, trials, comparison, notes, CAUTION) + "\n")
        return
    columns = width()
    lines = wrapped(file.title, columns) if file.title else []
    lines += wrapped(f"{file.budget.estimand} = {getattr(file.budget.formula, 'text', '')}", columns)
    lines += ["", *_inputs(file, first, columns), ""]
    if first is not None:
        lines += _answer(file, first, columns)
    if trials is not None:
        lines += _trial_lines(file, trials, comparison, columns)
    lines += [line for note in notes for line in wrapped(f"Note: {note}", columns, "", "  ")]
    lines += wrapped(CAUTION, columns)
    print_text("\n".join(lines) + "\n")


def _level(confidence: str | None) -> float | None:
    """The level of `--confidence`, None where it is not given."""
    if confidence is None:
        return None
    from riskkit.model.fields import read_probability

    try:
        level = read_probability(confidence).exact
    except ValueError:
        level = None
    if level is None or not 0 < level < 1:
        raise RiskkitError(
            f"--confidence cannot be `{confidence}`", "write a level between 0 and 100 %, such as --confidence 99%"
        )
    return float(level)


def _first_order(
    file: BudgetFile, level: float | None, *, may_refuse: bool
) -> tuple[FirstOrder | None, tuple[str, ...]]:
    """The answer to first order; where it has none and Monte Carlo is asked for as well, the reason as a note."""
    from riskkit.evidence.answers import EvidenceError
    from riskkit.evidence.propagation import converted, first_order

    try:
        answer = first_order(
            file.budget,
            level if level is not None else file.confidence,
            k=file.k if level is None else None,
            rounding=file.rounding,
        )
    except EvidenceError as error:
        if may_refuse:
            return None, (f"First order gives no answer: {error.headline}.",)
        raise RiskkitError(f"{file.place}: {error.headline}", _typed(error.help)) from None
    return converted(answer, file.scale.unit, file.scale.factor, file.scale.offset), ()


def _trials(file: BudgetFile, level: float, seed: int) -> MonteCarlo:
    from riskkit.evidence.answers import EvidenceError
    from riskkit.evidence.trials import converted_trials, monte_carlo

    try:
        answer = monte_carlo(file.budget, level, seed)
    except EvidenceError as error:
        raise RiskkitError(f"{file.place}: {error.headline}", error.help) from None
    return converted_trials(answer, file.scale.unit, file.scale.factor, file.scale.offset)


def _typed(help: str) -> str:
    return help.replace("ask for Monte Carlo", "add --monte-carlo")


def _inputs(file: BudgetFile, first: FirstOrder | None, columns: int) -> Iterator[str]:
    """One row per input; in two tables, or a block of lines each, where one would be wider than the terminal."""
    added_in = f"adds, in {first.unit}" if first is not None and first.unit else "adds"
    heads = ("input", "value", "u", "known as", "sensitivity", added_in, "share")
    added = {each.name: each for each in first.contributions} if first is not None else {}
    rows: list[tuple[str, ...]] = [heads if first is not None else heads[:4]]
    for name, known in file.budget.inputs.items():
        scale = file.inputs[name].scale
        value, u = _pair((known.value - scale.offset) / scale.factor, known.u / scale.factor, scale.unit)
        row: tuple[str, ...] = (name, value, u, known.words)
        if name in added and first is not None:
            each = added[name]
            slope = f"{each.sensitivity * scale.factor:.4g} {_per(first.unit, scale.unit)}".strip()
            row = (*row, slope, _two_digits(each.contribution), f"{100 * each.share:.1f} %")
        rows.append(row)
    halves = [row[:4] for row in rows], [(row[0], *row[4:]) for row in rows]
    for tables in ((rows,), halves if first is not None else ()):
        told = [table(each) for each in tables]
        if told and max(len(line) for lines in told for line in lines) <= columns:
            for number, lines in enumerate(told):
                yield from ("",) * (number > 0)
                yield from lines
            return
    for row in rows[1:]:
        yield row[0]
        for head, cell in zip(rows[0][1:], row[1:], strict=True):
            yield from wrapped(f"{head}: {cell}", columns, "  ", "    ")


def _answer(file: BudgetFile, first: FirstOrder, columns: int) -> Iterator[str]:
    from riskkit.evidence.freedom import ROUNDING_WORDS
    from riskkit.evidence.rounding import RULE, rounded_together

    value, expanded = rounded_together(first.value, first.expanded)
    stated = _with_unit(f"({value} ± {expanded})", first.unit)
    yield from wrapped(f"{first.estimand} = {stated}, covering {100 * first.confidence:.6g} %, two-sided", columns)
    yield from wrapped(f"u = {_with_unit(f'{first.u:.4g}', first.unit)}, k = {first.k:.4g}, U = k u", columns, "  ")
    if first.effective_freedom == math.inf:
        freedom = "unlimited"
    else:
        freedom = f"{first.effective_freedom:.6g}"
        if first.effective_freedom != first.unrounded_freedom:
            freedom += f" ({first.unrounded_freedom:.6g}, {ROUNDING_WORDS[first.rounding]})"
    yield from wrapped(f"effective degrees of freedom: {freedom}", columns, "  ", "    ")
    if first.second_order_u is not None:
        second = _with_unit(f"{first.second_order_u:.4g}", first.unit)
        yield from wrapped(f"u with the terms of second order: {second}", columns, "  ", "    ")
    yield from wrapped(f"method: {first.method}", columns, "  ", "    ")
    yield from wrapped(f"{RULE}.", columns, "  ", "    ")
    yield from wrapped(_biggest(file, first), columns)


def _biggest(file: BudgetFile, first: FirstOrder) -> str:
    """Which input matters most; inputs that matter alike are all named."""
    most = max(each.share for each in first.contributions)
    names = [each.name for each in first.contributions if each.share > most * (1 - 1e-6)]
    if len(names) > 1:
        return f"The biggest contributors are {' and '.join(names)}, with {100 * most:.0f} % of the variance each."
    because = file.inputs[first.biggest].because
    return (
        f"The biggest contributor is {first.biggest}, with {100 * most:.0f} % of the variance"
        + (f" ({because})" if because else "")
        + ": know it better and the answer gets better."
    )


def _trial_lines(file: BudgetFile, trials: MonteCarlo, comparison: Comparison | None, columns: int) -> Iterator[str]:
    from riskkit.evidence.rounding import rounded_together

    spread = trials.u if trials.u is not None else (trials.symmetric.upper - trials.symmetric.lower) / 4
    mean, u = rounded_together(trials.mean, spread)
    word, u_words = ("mean", _with_unit(u, trials.unit)) if trials.u is not None else ("median", "none")
    yield ""
    yield from wrapped(f"Monte Carlo: {word} {_with_unit(mean, trials.unit)}, u {u_words}", columns)
    for name, interval in (("symmetric", trials.symmetric), ("shortest", trials.shortest)):
        ends = " to ".join(rounded_together(end, spread)[0] for end in (interval.lower, interval.upper))
        yield from wrapped(
            f"{name} interval of {100 * interval.confidence:.6g} %: {_with_unit(ends, trials.unit)}",
            columns,
            "  ",
            "    ",
        )
    steady = "stable to" if trials.stable else "not yet stable to"
    yield from wrapped(
        f"{trials.trials} trials, seed {trials.seed}; {steady} {_with_unit(f'{trials.tolerance:g}', trials.unit)}",
        columns,
        "  ",
        "    ",
    )
    yield from wrapped(f"method: {trials.method}", columns, "  ", "    ")
    if comparison is not None:
        larger = _with_unit(f"{max(comparison.lower_difference, comparison.upper_difference):.2g}", comparison.unit)
        words = {
            "yes": "First order holds: the ends of both intervals differ by no more than",
            "no": "First order does not hold, so state the Monte Carlo interval: the ends differ by up to",
            "cannot tell": "Whether first order holds cannot be told from so few trials: the ends differ by up to",
        }[comparison.first_order_holds]
        within = _with_unit(f"{comparison.tolerance:g}", comparison.unit)
        yield from wrapped(f"{words} {larger}, tolerance {within} (JCGM 101, 8).", columns, "  ", "    ")
    yield ""


def _pair(value: float, u: float, unit: str) -> tuple[str, str]:
    """Value and u as they stand in the table: u to two digits, the value to the same place."""
    from riskkit.evidence.rounding import rounded_together

    value_text, u_text = rounded_together(value, u)
    return _with_unit(value_text, unit), "exact" if u == 0 else _with_unit(u_text, unit)


def _two_digits(number: float) -> str:
    from riskkit.evidence.rounding import rounded_together

    return rounded_together(number, number)[1]


def _with_unit(number: str, unit: str) -> str:
    return f"{number} {unit}".strip()


def _per(unit: str, other: str) -> str:
    """The unit of a sensitivity: `hPa/mm`, `hPa/(kg/m3)`, `1/s`."""
    if not other:
        return unit
    below = f"({other})" if "/" in other or "·" in other else other
    return f"{unit or '1'} per {other}" if "/" in unit else f"{unit or '1'}/{below}"
