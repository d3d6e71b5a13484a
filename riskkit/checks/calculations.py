"""Rules about calculations: what their models cannot answer, where they do not hold, and what they contradict."""

from __future__ import annotations

import math
from collections.abc import Iterator

from riskkit.checks import Context, Finding, rule
from riskkit.judgement.amounts import amount, difference, half_width, uncertainty_of_mean
from riskkit.judgement.calculations import expectations
from riskkit.judgement.verdicts import alike, match_readings, replaced_results
from riskkit.model.fields import From
from riskkit.model.verification import Calculation

ROUNDING = 0.02
"""A typed answer may differ from the worked out one by this share: it was rounded for people."""


@rule("error")
def calculation_cannot_be_worked_out(context: Context) -> Iterator[Finding]:
    """A calculation that names a model which cannot answer with these inputs.

    An input is missing, of the wrong kind, outside of what the model can answer, or leads to no number.

    Bad:

        calculations:
          K01: {title: lower level, model: u-tube, owner: builder-1, source: bench, inputs: {reading: 83 s}}   # <-

    Good:

        calculations:
          K01: {title: lower level, model: u-tube, owner: builder-1, source: bench, inputs: {reading: 83 mm}}
    """
    for worked in context.worked.values():
        if worked.problem and not worked.circle:
            yield Finding(
                worked.calculation,
                ("inputs", worked.at) if worked.at else ("inputs",),
                f"{worked.calculation} cannot be worked out: {worked.problem}",
                worked.help or "`riskkit calc --list` names the models, `riskkit calc MODEL --help` their inputs",
            )


@rule("error")
def calculation_in_a_circle(context: Context) -> Iterator[Finding]:
    """Calculations that need each other's answers.

    None of them can be worked out before the others.

    Bad:

        calculations:
          K01:
            title: one
            model: u-tube
            source: bench
            owner: builder-1
            inputs: {reading: {from: K02, what: length}}   # <-
          K02:
            title: other
            model: u-tube
            source: bench
            owner: builder-1
            inputs: {reading: {from: K01, what: length}}   # <-

    Good:

        calculations:
          K01: {title: one, model: u-tube, source: bench, owner: builder-1, inputs: {reading: 83 mm}}
    """
    for worked in context.worked.values():
        if worked.circle:
            others = ", ".join(worked.circle)
            yield Finding(
                worked.calculation,
                ("inputs", worked.at) if worked.at else ("inputs",),
                f"{worked.calculation} stands in a circle of calculations that need each other ({others})",
                "take one input from a part, an assumption or a result instead",
            )


@rule("warning")
def calculation_outside_validity(context: Context) -> Iterator[Finding]:
    """A calculation whose inputs lie where its model does not hold, or may lie there.

    The number is printed all the same, marked; nobody should lean on it.

    Bad:

        calculations:
          K01:
            title: upper level
            model: u-tube
            source: bench
            owner: builder-1
            inputs: {reading: 83 mm, temperature: 39.5±1 degC}   # <-

    Good:

        calculations:
          K01:
            title: upper level
            model: u-tube
            source: bench
            owner: builder-1
            inputs: {reading: 83 mm, temperature: 21±1 degC}
    """
    for worked in context.worked.values():
        if worked.answer is not None and worked.answer.validity != "inside":
            where = "at the edge" if worked.answer.validity == "at the edge" else "outside"
            yield Finding(
                worked.calculation,
                ("inputs",),
                f"{worked.calculation} is worked out {where} of where {worked.answer.model.name} holds: "
                f"{'; '.join(worked.answer.because)}",
                "measure it instead, or name inputs inside of its range",
            )


@rule("error")
def answer_differs_from_model(context: Context) -> Iterator[Finding]:
    """A typed answer that is not what the model gives for the inputs.

    Somebody changed an input and not the answer, or copied it from somewhere else.

    Bad:

        calculations:
          K01:
            title: lower level
            model: u-tube
            source: bench
            owner: builder-1
            inputs: {reading: 83 mm}
            answers: {pressure: 9.0 hPa}   # <-

    Good:

        calculations:
          K01:
            title: lower level
            model: u-tube
            source: bench
            owner: builder-1
            inputs: {reading: 83 mm}
            answers: {pressure: 8.1 hPa}
    """
    for calculation in context.register.of(Calculation):
        worked = context.worked[calculation.id]
        for name, typed in calculation.answers.items() if worked.answer is not None else ():
            found = worked.answers[name]
            if found is typed:
                continue
            same_kind = found.kind == typed.kind
            if not same_kind or abs(found.value - typed.value) > ROUNDING * max(abs(found.value), 1e-12):
                right = amount(found.value, typed) if same_kind else found.written
                yield Finding(
                    calculation.id,
                    ("answers", name),
                    f"{calculation.id} says {name} {typed.written}, and {calculation.model} gives {right} for its inputs",
                    f"write `{name}: {right}`, or mend the inputs",
                )


@rule("warning")
def calculation_without_source(context: Context) -> Iterator[Finding]:
    """A calculation whose typed inputs come from nowhere: no source, or nobody who looks after it.

    An input that was copied once is never brought up to date again.

    Bad:

        calculations:
          K01: {title: lower level, model: u-tube, inputs: {reading: 83 mm}}   # <-

    Good:

        calculations:
          K01: {title: lower level, model: u-tube, source: read on the bench, owner: builder-1, inputs: {reading: 83 mm}}
    """
    for calculation in context.register.of(Calculation):
        typed = [name for name, value in calculation.inputs.items() if not isinstance(value, From)]
        stated = (("source", calculation.source), ("owner", calculation.owner))
        missing = [word for word, value in stated if value is None]
        if context.worked[calculation.id].answer is not None and typed and missing:
            yield Finding(
                calculation.id,
                (),
                f"{calculation.id} has no {' and no '.join(missing)}, and {', '.join(typed)} stand in it as typed",
                "say `source:` and `owner:`, or take the numbers from records: `{from: P11, what: mass}`",
            )


@rule("error")
def claim_beyond_calculation(context: Context) -> Iterator[Finding]:
    """A limit that a calculation says will not be kept.

    The test can be spared, or the limit has to be taken back.

    Bad:

        calculations:
          K01: {title: runtime, answers: {runtime: 2.6 h}}
        tests:
          T01: {title: runtime, limit: {what: runtime, at_least: 3 h, expected: {from: K01, what: runtime}}}   # <-

    Good:

        calculations:
          K01: {title: runtime, answers: {runtime: 2.6 h}}
        tests:
          T01: {title: runtime, limit: {what: runtime, at_least: 2 h, expected: {from: K01, what: runtime}}}
    """
    for test, place, value in expectations(context.register, context.worked):
        limit = test.limit[place]
        origin = limit.expected.source if limit.expected is not None else ""
        ends = [(limit.at_most, 1), (limit.at_least, -1)]
        if limit.between is not None:
            ends = [(limit.between[1], 1), (limit.between[0], -1)]
        for end, sign in ends:
            if end is not None and alike(value, end) and sign * (value.value - end.value) > 0:
                bound = limit.expected.bound if limit.expected is not None else "value"
                told = amount(value.value, end) if bound == "value" else f"{bound} {amount(value.value, end)}"
                yield Finding(
                    test.id,
                    ("limit", place) if len(test.limit) > 1 else ("limit",),
                    f"{test.id} asks for {limit.sentence()}, and {origin} works out {told}",
                    "claim what the calculation allows, or change the device; then measure it",
                    ((origin, ("answers",), "the calculation"),),
                )


@rule("error")
def calculation_against_measurement(context: Context) -> Iterator[Finding]:
    """A reading that differs from what a calculation expects by more than both uncertainties together.

    One of the two is wrong, or the model does not hold here.

    Bad:

        calculations:
          K01: {title: runtime, answers: {runtime: 2.6 h}}
        tests:
          T01: {title: runtime, limit: {what: runtime, at_least: 2 h, expected: {from: K01, what: runtime}}}
        results:
          R01:
            test: T01
            on: 2026-11-02
            readings: {runtime: [2.2 h]}   # <-
            uncertainty: {runtime: 0.1 h}

    Good:

        calculations:
          K01: {title: runtime, answers: {runtime: 2.6 h}}
        tests:
          T01: {title: runtime, limit: {what: runtime, at_least: 2 h, expected: {from: K01, what: runtime}}}
        results:
          R01:
            test: T01
            on: 2026-11-02
            readings: {runtime: [2.55 h]}
            uncertainty: {runtime: 0.1 h}
    """
    replaced = replaced_results(context.register)
    for test, place, value in expectations(context.register, context.worked):
        origin = test.limit[place].expected
        for result in context.register.results:
            verdict = context.verdicts.get(result.id)
            if result.test != test.id or result.id in replaced or verdict is None or not verdict.limits:
                continue
            if verdict.limits[place].kind == "conditions":
                continue  # read at another setting: the two were never about one thing
            name = match_readings(result, test)[place][1]
            readings = result.readings.get(name or "", ())
            spread = result.uncertainty.get(name or "")
            if name is None or not readings or spread is None or not alike(readings[0], value):
                continue
            numbers = [each.value for each in readings]
            mean = sum(numbers) / len(numbers)
            try:
                wide = uncertainty_of_mean(half_width(spread, readings[0]), numbers)
            except ValueError:
                continue  # the verdict says that the two are of different kinds
            joint = math.hypot(wide, value.plus_minus or 0.0)
            apart = mean - value.value
            bound = origin.bound if origin is not None else "value"
            beyond = {"value": abs(apart), "at most": apart, "at least": -apart}[bound]
            if beyond > joint * (1 + 1e-12):
                yield Finding(
                    result.id,
                    ("readings", name),
                    f"{result.id} reads {amount(mean, readings[0])} for `{name}`, and {origin.source if origin else ''} works out "
                    f"{amount(value.value, readings[0])}: {difference(abs(apart), readings[0])} apart, with a "
                    f"joint uncertainty of {difference(joint, readings[0])} (k = 2)",
                    "find out which is wrong; give the calculation's inputs their uncertainty, such as `14±1 W`",
                )
