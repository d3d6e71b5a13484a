"""An answer of a model as JSON, and what a model says of itself in lines that the help and the reference page share."""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from riskkit.engineering.answering import COVERAGE, STANDING, Answer, Value
from riskkit.engineering.models import Found, Given, Model
from riskkit.engineering.proving import Proof, summary
from riskkit.engineering.reading import in_unit, width_in
from riskkit.engineering.searching import Solved, Swept
from riskkit.engineering.slopes import slopes_of
from riskkit.units.kinds import readable

MUST, MAY = "must be given", "may be left out"
NOT_STATED = "no input states an uncertainty"
NOT_CARRIED = "an uncertainty cannot be carried through the model"


def coverage(value: Value) -> str:
    """What the uncertainty covers, or why there is none."""
    if value.uncertainty is not None:
        return COVERAGE
    return NOT_CARRIED if value.remarks else NOT_STATED


def calculation_data(answer: Answer, value: Value) -> dict[str, Any]:
    """One value of an answer with everything that belongs to it."""
    model = answer.model
    slopes = slopes_of(answer, value.found.name, value.found.unit)
    return {
        "model": model.name,
        "title": model.title,
        "answer": value.found.name,
        "words": value.found.words,
        "value": value.number,
        "unit": readable(value.found.unit),
        "written": value.written,
        "uncertainty": value.width,
        "coverage": coverage(value),
        "contributors": [
            {
                "name": each.name,
                "uncertainty": width_in(each.uncertainty, value.found.unit, value.found.kind),
                "share": each.share,
            }
            for each in value.contributions
        ],
        "sensitivities": [
            {"name": name, "sensitivity": slope, "unit": per(value.found.unit, model.given(name).unit)}
            for name, slope in slopes.items()
        ],
        "validity": answer.validity,
        "because": list(answer.because),
        "holds": model.holds,
        "inputs": [{"name": each.given.name, "written": each.written, "origin": each.origin} for each in answer.inputs],
        "answers": [
            {
                "name": each.found.name,
                "words": each.found.words,
                "value": each.number,
                "unit": readable(each.found.unit),
                "uncertainty": each.width,
            }
            for each in answer.values
        ],
        "formula": model.formula,
        "source": model.source,
        "remarks": remarks(answer, value),
        "verified": model.is_verified,
        "statement": STANDING,
    }


def remarks(answer: Answer, value: Value) -> list[str]:
    """What was assumed and warned of, and where the uncertainty of this value is rough."""
    of_main = answer.main.remarks
    about_model = answer.remarks[: len(answer.remarks) - len(of_main)]
    return [*about_model, *value.remarks]


def solved_data(solved: Solved) -> dict[str, Any]:
    """The input that was solved for."""
    given = solved.given
    return {
        "name": given.name,
        "value": in_unit(solved.value, given.unit, given.kind),
        "unit": readable(given.unit),
        "written": solved.written,
        "others": list(solved.others),
    }


@dataclass(frozen=True, slots=True)
class Curve:
    """One answer along a sweep: its name, what it is, the unit as it is read, and a number for each point.

    A number is None where the model has no answer.
    """

    name: str
    words: str
    unit: str
    numbers: tuple[float | None, ...]


def curves(swept: Swept, asked: str | None = None, unit: str | None = None) -> tuple[Curve, ...]:
    """The answers along a sweep.

    Args:
        swept: The sweep.
        asked: The one answer that is wanted; all of them if left out.
        unit: The unit of that answer, or of the main one; the model's if left out.

    Raises:
        EngineeringError: where there is no such answer.
        UnitError: where the unit is of another kind.
    """
    finds = (swept.model.find(asked),) if asked is not None else swept.model.finds
    return tuple(_curve(swept, found, unit if place == 0 else None) for place, found in enumerate(finds))


def _curve(swept: Swept, found: Found, unit: str | None) -> Curve:
    place = swept.model.finds.index(found)
    numbers = tuple(point.answers[place] for point in swept.points)
    if unit is None:
        return Curve(found.name, found.words, readable(found.unit), numbers)
    zero, one = in_unit(0.0, found.unit, found.kind), width_in(1.0, found.unit, found.kind)
    told = tuple(
        None if each is None else Value(found, (each - zero) / one, None, ()).converted(unit).number for each in numbers
    )
    Value(found, 1.0, None, ()).converted(unit)  # a wrong unit is refused where no point has an answer, too
    return Curve(found.name, found.words, readable(unit), told)


def sweep_data(swept: Swept, told: tuple[Curve, ...]) -> dict[str, Any]:
    """A sweep, point by point."""
    model = swept.model
    return {
        "model": model.name,
        "input": swept.given.name,
        "input_unit": readable(swept.given.unit),
        "answers": [{"name": each.name, "words": each.words, "unit": each.unit} for each in told],
        "points": [
            {
                "value": point.value,
                "answers": {each.name: each.numbers[place] for each in told},
                "validity": point.validity,
                "because": point.because,
            }
            for place, point in enumerate(swept.points)
        ],
        "formula": model.formula,
        "source": model.source,
        "holds": model.holds,
        "verified": model.is_verified,
        "statement": STANDING,
    }


def per(unit: str, other: str) -> str:
    """The unit of a sensitivity: `hPa/mm`, `hPa/(kg/m³)`, `1/s`; empty for a plain number per plain number."""
    above, below = readable(unit), readable(other)
    if not below:
        return above
    return f"{above or '1'}/{f'({below})' if '/' in below or '·' in below else below}"


def model_data(model: Model) -> dict[str, Any]:
    """What a model is, for `--list`."""
    return {
        "model": model.name,
        "title": model.title,
        "inputs": [each.name for each in model.givens],
        "answers": [each.name for each in model.finds],
        "formula": model.formula,
        "source": model.source,
        "holds": model.holds,
        "verified": model.is_verified,
        "checks": len(model.checks),
        "example": dict(model.example),
    }


def proofs_data(model: Model, proofs: tuple[Proof, ...]) -> dict[str, Any]:
    """The checks of a model as they came out here."""
    return {
        "model": model.name,
        "holds": all(proof.holds for proof in proofs),
        "verified": model.is_verified,
        "summary": summary(model, proofs),
        "checks": [
            {
                "given": dict(proof.check.given),
                "answer": proof.check.answer,
                "expected": proof.check.expected,
                "kind": proof.check.kind,
                "source": proof.check.source,
                "found": proof.value.written if proof.value is not None else proof.refusal,
                "deviation": proof.deviation if proof.value is not None else None,
                "holds": proof.holds,
            }
            for proof in proofs
        ],
    }


def example_line(model: Model) -> str:
    """A line that runs."""
    inputs = (f"{name}={_quoted(value)}" for name, value in model.example.items())
    return " ".join(("riskkit calc", model.name, *inputs))


def _quoted(value: str) -> str:
    quoted = shlex.quote(value)
    return f'"{value}"' if quoted != value and not set('"$`\\!') & set(value) else quoted


def given_rows(model: Model) -> Iterator[tuple[str, str, str, str, str]]:
    """Each input: name, kind and unit, default, range, what it is."""
    for each in model.givens:
        yield each.name, _kind(each), _default(each), _range(each), each.words


def _kind(given: Given) -> str:
    if given.kind == "word":
        return " | ".join(given.choices)
    if given.kind == "list":
        return f"list of {given.items[0]}"
    if given.kind == "table":
        return f"table, {given.items[0]}: {given.items[1]}"
    unit = readable(given.unit)
    if given.kind == "number":
        return "plain number"
    return unit if given.kind == given.unit else f"{given.kind} [{unit}]"


def _default(given: Given) -> str:
    if given.default is None:
        return MUST
    return given.default or MAY


def _range(given: Given) -> str:
    if given.low is None and given.high is None:
        return ""
    told = (
        f"{given.low} to {given.high}"
        if given.low is not None and given.high is not None
        else f"from {given.low}"
        if given.low is not None
        else f"up to {given.high}"
    )
    return told if given.outside == "refused" else f"{told}, marked outside"


def check_words(model: Model) -> Iterator[str]:
    """Each check in a sentence: for which inputs, what has to come out, whose value it is."""
    for each in model.checks:
        inputs = ", ".join(f"{name} {value}" for name, value in each.given.items())
        within = f"within {each.abs}" if each.abs is not None else f"within {each.rel * 100:g} %"
        yield f"{each.kind}: {each.answer} {each.expected} ({within}) for {inputs}; {each.source}"


def spread_words(value: Value, widest: int = 3) -> str:
    """The biggest contributors and their shares of the variance: "reading (99 % of the variance), temperature (1 %)"."""
    told = [f"{each.name} ({_percent(each.share)})" for each in value.contributions[:widest]]
    told[0] = f"{told[0][:-1]} of the variance)"
    return ", ".join(told)


def _percent(share: float) -> str:
    return f"{share * 100:.0f} %" if share >= 0.01 else "below 1 %"
