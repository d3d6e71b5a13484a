"""What was worked out: section 10, each estimate with everything that it rests on."""

from __future__ import annotations

from dataclasses import dataclass

from riskkit.assess import Assessment
from riskkit.dossier.bars import share_bars
from riskkit.dossier.figures import Figure
from riskkit.dossier.view.telling import Teller
from riskkit.engineering.answering import STANDING, Answer
from riskkit.engineering.proving import prove, summary
from riskkit.engineering.reading import in_unit
from riskkit.engineering.slopes import slopes_of
from riskkit.judgement.calculations import Worked
from riskkit.model.fields import From
from riskkit.model.verification import Calculation
from riskkit.units.kinds import readable

MOST_BARS = 8


@dataclass(frozen=True, slots=True)
class CalculationBlock:
    """An estimate with everything that it rests on.

    Attributes:
        inputs: Name, value, and the record that it comes from.
        defaults: Name and value of what is left to the model.
        answers: Name and value with its expanded uncertainty.
        validity: Whether the model holds for these inputs, and why not where it does not.
        proof: Whose values the model reproduces; None without a model.
        bars: What each input does to the main answer, as a figure; None without a model.
    """

    id: str
    title: str
    model: str | None
    formula: str
    inputs: tuple[tuple[str, str, str | None], ...]
    defaults: tuple[tuple[str, str], ...]
    answers: tuple[tuple[str, str], ...]
    validity: str
    proof: str | None
    bars: Figure | None
    valid_for: str
    source: str
    leans: tuple[str, ...]
    used_by: tuple[str, ...]
    remarks: tuple[str, ...]


def calculation_blocks(assessment: Assessment, tell: Teller) -> tuple[CalculationBlock, ...]:
    """All calculations in the order of the register."""
    return tuple(_block(each, assessment, tell) for each in assessment.register.of(Calculation))


def _block(calculation: Calculation, assessment: Assessment, tell: Teller) -> CalculationBlock:
    where = calculation.id
    worked = assessment.worked[where]
    answer = worked.answer
    leans = (*calculation.parts, *calculation.assumptions, *calculation.results, *calculation.calculations)
    leans += tuple(value.source for value in calculation.inputs.values() if isinstance(value, From))
    users = dict.fromkeys(link.source for link in assessment.trace.incoming(where))
    notes = [calculation.notes] if calculation.notes else []
    holds = calculation.valid_for or (answer.model.holds if answer is not None else "not stated")
    source = calculation.source or (answer.model.source if answer is not None else "not stated")
    return CalculationBlock(
        id=where,
        title=tell(calculation.title, where),
        model=tell.maybe(answer.model.name if answer is not None else calculation.model, where),
        formula=tell(
            typeset(calculation.formula or (answer.model.formula if answer is not None else "not stated")), where
        ),
        inputs=_inputs(calculation, answer, tell),
        defaults=_defaults(where, answer, tell),
        answers=_answers(calculation, worked, tell),
        validity=tell(_validity(worked), where),
        proof=tell.maybe(_proof(answer), where),
        bars=_bars(where, answer),
        valid_for=tell(holds, where),
        source=tell(source, where),
        leans=tuple(dict.fromkeys(leans)),
        used_by=tuple(users),
        remarks=tell.each(
            [each.rstrip(". ") for each in (*(answer.remarks if answer is not None else ()), *notes)], where
        ),
    )


def typeset(formula: str) -> str:
    """A formula as it is printed: powers raised, roots and Greek letters as signs, names of inputs with blanks."""
    text = formula.replace("_", "\u00a0")
    for typed, printed in (("^2", "²"), ("^3", "³"), ("sqrt", "√"), (" * ", " · "), ("pi ", "π ")):
        text = text.replace(typed, printed)
    return text


def _inputs(calculation: Calculation, answer: Answer | None, tell: Teller) -> tuple[tuple[str, str, str | None], ...]:
    """As they were taken: typed, or from a record."""
    where = calculation.id
    if answer is None:
        said = []
        for name, value in calculation.inputs.items():
            origin = value.source if isinstance(value, From) else None
            words = (value.what or "its value") if isinstance(value, From) else str(value)
            said.append((tell(name, where), tell(words, where), origin))
        return tuple(said)
    shown = []
    for taken in answer.inputs:
        if taken.origin not in ("left out", "default"):
            origin = taken.origin if taken.origin != "given" else None
            shown.append((tell(taken.given.name.replace("_", " "), where), tell(taken.written, where), origin))
    return tuple(shown)


def _defaults(where: str, answer: Answer | None, tell: Teller) -> tuple[tuple[str, str], ...]:
    """What nobody typed, as the model takes it."""
    return tuple(
        (tell(taken.given.name.replace("_", " "), where), tell(taken.written, where))
        for taken in (answer.inputs if answer is not None else ())
        if taken.origin == "default"
    )


def _answers(calculation: Calculation, worked: Worked, tell: Teller) -> tuple[tuple[str, str], ...]:
    where = calculation.id
    if worked.answer is None:
        return tuple((tell(name, where), tell(value.written, where)) for name, value in worked.answers.items())
    by_model = {value.found.name: value for value in worked.answer.values}
    named = {of_model: name for name, of_model in calculation.gives.items()}
    shown = [
        (tell(named.get(name, name.replace("_", " ")), where), tell(value.written, where))
        for name, value in by_model.items()
        if not named or name in named
    ]
    typed = [
        (tell(name, where), tell(f"{value.written} (typed)", where))
        for name, value in calculation.answers.items()
        if worked.answers.get(name) is value
    ]
    return (*shown, *typed)


def _validity(worked: Worked) -> str:
    if worked.problem:
        return f"cannot be worked out: {worked.problem}"
    if worked.answer is None:
        return "typed by hand; no model works it out"
    if worked.answer.validity == "inside":
        return "inside the range of the model"
    return f"{worked.answer.validity} of the range of the model: {'; '.join(worked.answer.because)}"


def _proof(answer: Answer | None) -> str | None:
    if answer is None:
        return None
    told = summary(answer.model, prove(answer.model))
    return f"the model is {told}" if told.startswith("not ") else f"the model {told}"


def _bars(where: str, answer: Answer | None) -> Figure | None:
    """What one per cent more of each input does to the main answer, in per cent of it."""
    if answer is None or not answer.main.number:
        return None
    slopes = slopes_of(answer, answer.main.found.name)
    effects = []
    for taken in answer.inputs:
        slope = slopes.get(taken.given.name)
        if slope is None or taken.given.kind in ("temperature", "angle"):
            continue
        value = in_unit(float(taken.value), taken.given.unit, taken.given.kind)
        effect = slope * value / answer.main.number
        if abs(effect) >= 0.005:
            effects.append((taken.given.name.replace("_", " "), effect))
    if not effects:
        return None
    strongest = sorted(effects, key=lambda each: -abs(each[1]))[:MOST_BARS]
    unit = readable(answer.main.found.unit)
    name = answer.main.found.name.replace("_", " ")
    return share_bars(f"{where}: per cent of {name}{f' [{unit}]' if unit else ''} for one per cent more of", strongest)


__all__ = ["STANDING", "CalculationBlock", "calculation_blocks"]
