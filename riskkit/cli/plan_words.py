"""How `plan` reads what is typed and says its answers."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator
from typing import Any

from riskkit.cli.opening import one_of, print_text, width
from riskkit.cli.output import wrapped
from riskkit.diagnostics import RiskkitError


def print_answer(answer: Any, format: str, *sentences: str, **beside: Any) -> None:
    """The answer as sentences, or as JSON with further fields beside its own."""
    one_of("--format", format, ("text", "json"))
    if format == "json":
        from riskkit.exchange.answers import answer_json

        text = (
            json.dumps(answer, ensure_ascii=False, indent=2)
            if isinstance(answer, dict)
            else answer_json(answer, **beside)
        )
        print_text(text + "\n")
        return
    columns = width()
    print_text("\n".join(line for sentence in sentences for line in wrapped(sentence, columns, "", "  ")) + "\n")


def interval_sentences(interval: Any) -> Iterator[str]:
    """What is bounded, by what, at which level and on which side."""
    unit = f" {interval.unit}" if interval.unit else ""
    lower, upper = f"{interval.lower:.6g}", f"{interval.upper:.6g}" if math.isfinite(interval.upper) else "no end"
    match interval.sides:
        case "upper":
            told = f"at most {upper}{unit}"
        case "lower":
            told = f"at least {lower}{unit}"
        case _:
            told = f"between {lower} and {upper}{unit}"
    estimate = (
        f" (estimate {interval.estimate:.6g}{unit})"
        if interval.estimate is not None and math.isfinite(interval.estimate)
        else ""
    )
    yield f"The {interval.estimand} is {told} at {percent(interval.confidence)} confidence, {interval.sides}{estimate}."
    yield f"Method: {interval.method}."


def share_of(written: str) -> float:
    """A share or level as typed: 95%, `95 %`, 0.95, 1/1000.

    Raises:
        RiskkitError: where it is none.
    """
    from riskkit.model.fields import read_probability

    try:
        return float(read_probability(written).exact)
    except ValueError as why:
        raise RiskkitError(str(why), "write it as 95% or 0.95") from None


def hours_of(written: str, option: str) -> float:
    """A time in hours as typed: 72, `72 h`, `3 d`.

    Raises:
        RiskkitError: where it is no time.
    """
    from riskkit.units import UnitError, read_quantity

    try:
        return float(written)
    except ValueError:
        pass
    try:
        return read_quantity(written, "time").to("h")
    except UnitError as error:
        raise RiskkitError(f"{option}: {error.headline}", "write hours as a number, or a time such as `72 h`") from None


def numbers_of(values: str | None) -> tuple[float, ...] | None:
    """Numbers between blanks, semicolons or commas; None where none are given.

    Raises:
        RiskkitError: where it is no list, or commas can be read in two ways.
    """
    if values is None:
        return None
    if re.search(r"\d,\d", values) and "." not in values:
        raise RiskkitError(
            f"`{values}` can be read in two ways: decimal commas, or commas between numbers",
            'write decimal points and blanks: "17.2 17.6 17.4"',
        )
    try:
        return tuple(float(each) for each in values.replace(",", " ").replace(";", " ").split())
    except ValueError:
        raise RiskkitError(f"`{values}` is no list of numbers", 'write --values "17.2 17.6 17.4"') from None


def prior_of(written: str, jeffreys: tuple[float, float]) -> tuple[float, float]:
    """The two parameters of a prior, or those of Jeffreys.

    Raises:
        RiskkitError: where there are not two.
    """
    if written.strip().lower() == "jeffreys":
        return jeffreys
    numbers = numbers_of(written)
    if numbers is None or len(numbers) != 2:
        raise RiskkitError(f"`{written}` is no prior", "write --prior 0.5,0.5 or --prior jeffreys")
    return numbers[0], numbers[1]


def percent(share: float) -> str:
    """A share in percent, or as it is where it is very small."""
    return f"{share * 100:.6g} %" if share >= 1e-4 or share == 0 else f"{share:.4g}"
