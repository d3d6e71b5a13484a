"""Calculations of the register worked out by their models, with inputs taken from other records by reference.

An answer may be the limit of a test, a delay of an alarm or a hazard's time to harm: change a part's rating, and they move.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from riskkit.judgement.amounts import half_width, uncertainty_of_mean
from riskkit.model.fields import From, Limit, Record, plain_words
from riskkit.model.records import Hazard, Part
from riskkit.model.register import Register
from riskkit.model.verification import Assumption, Calculation, Result, Test
from riskkit.units import Quantity

if TYPE_CHECKING:
    from riskkit.engineering.answering import Answer


class NoNumber(Exception):
    """A reference that leads to no number; the message is the sentence. `circle` where it leads back to itself."""

    def __init__(self, headline: str, circle: tuple[str, ...] = ()) -> None:
        super().__init__(headline)
        self.circle = circle


@dataclass(frozen=True, slots=True)
class Worked:
    """One calculation.

    Attributes:
        calculation: Its id.
        answer: What the model says; None where there is no model of that name, or it cannot answer.
        answers: Its answers by the names of the register: worked out where there is a model, as typed elsewhere.
        problem: Why the model cannot answer; empty where it can, or where there is none.
        help: What to type instead.
        at: The input that the problem is about; empty where it is about the whole.
        circle: Ids of the calculations that need each other, this one first; empty where there are none.
    """

    calculation: str
    answer: Answer | None
    answers: Mapping[str, Quantity]
    problem: str = ""
    help: str = ""
    at: str = ""
    circle: tuple[str, ...] = ()


@dataclass
class _Desk:
    """Calculations on the way: done ones, and those that wait for others."""

    register: Register
    done: dict[str, Worked] = field(default_factory=dict)
    waiting: list[str] = field(default_factory=list)


def work_out_all(register: Register) -> Mapping[str, Worked]:
    """Every calculation of the register by id, in the order of the register."""
    desk = _Desk(register)
    for calculation in register.of(Calculation):
        _work_out(calculation, desk)
    return {calculation.id: desk.done[calculation.id] for calculation in register.of(Calculation)}


def _work_out(calculation: Calculation, desk: _Desk) -> Worked:
    known = desk.done.get(calculation.id)
    if known is not None:
        return known
    if calculation.id in desk.waiting:
        circle = tuple(desk.waiting[desk.waiting.index(calculation.id) :])
        names = " -> ".join((*circle, calculation.id))
        return Worked(calculation.id, None, calculation.answers, f"it needs its own answer: {names}", circle=circle)
    desk.waiting.append(calculation.id)
    worked = _by_model(calculation, desk)
    desk.waiting.pop()
    desk.done[calculation.id] = worked
    return worked


def _by_model(calculation: Calculation, desk: _Desk) -> Worked:
    typed = calculation.answers
    if calculation.model is None:
        return Worked(calculation.id, None, typed)
    from riskkit.engineering import EngineeringError, model, work_out

    try:
        found = model(calculation.model)
    except EngineeringError:
        return Worked(calculation.id, None, typed)
    inputs: dict[str, str | float | Quantity] = {}
    origins: dict[str, str] = {}
    for name, value in calculation.inputs.items():
        if isinstance(value, From):
            try:
                inputs[name] = _number(value, desk)
            except NoNumber as why:
                circle = why.circle if calculation.id in why.circle else ()
                return Worked(calculation.id, None, typed, str(why), "name a record that has it", name, circle)
            origins[name] = value.source
        else:
            inputs[name] = value
    try:
        answer = work_out(found, inputs, origins)
    except EngineeringError as error:
        at = next((name for name in inputs if f"`{name}`" in error.headline), "")
        return Worked(calculation.id, None, typed, error.headline, error.help, at)
    by_model = {each.found.name: each for each in answer.values}
    named = dict(calculation.gives)
    for name in typed:
        if name not in named and name.replace(" ", "_") in by_model:
            named[name] = name.replace(" ", "_")
    wrong = next((name for name in named.values() if name not in by_model), None)
    if wrong is not None:
        names = ", ".join(by_model)
        return Worked(
            calculation.id, answer, typed, f"{found.name} has no answer `{wrong}`", f"its answers are {names}"
        )
    answers = dict(typed)
    for name, of_model in named.items():
        value = by_model[of_model]
        unit = value.found.unit or "count"
        kind = typed[name].kind if name in typed else _kind(value.found.kind, value.found.unit)
        answers[name] = Quantity(_written(value.number, value.found.unit), value.value, kind, unit, value.uncertainty)
    for name, value in by_model.items():
        if name not in named.values() and name.replace("_", " ") not in answers:
            kind = _kind(value.found.kind, value.found.unit)
            answers[name.replace("_", " ")] = Quantity(
                _written(value.number, value.found.unit),
                value.value,
                kind,
                value.found.unit or "count",
                value.uncertainty,
            )
    return Worked(calculation.id, answer, answers)


def _written(number: float, unit: str) -> str:
    from riskkit.units.kinds import readable

    return f"{number:.4g} {readable(unit)}".rstrip()


def _kind(kind: str, unit: str) -> str:
    from riskkit.engineering.reading import kind_named

    return kind_named(kind, unit)


def _number(origin: From, desk: _Desk) -> Quantity:
    """The number that a reference leads to, with its expanded uncertainty as `plus_minus`.

    Raises:
        NoNumber: where the record has none of that name, or more than one.
    """
    record = desk.register.records.get(origin.source)
    match record:
        case Part():
            return _named(record.ratings, origin, "rating")
        case Assumption():
            if record.value is None:
                raise NoNumber(f"{record.id} assumes no number")
            return record.value
        case Calculation():
            worked = _work_out(record, desk)
            if worked.problem:
                raise NoNumber(f"{record.id} has no answer: {worked.problem}", worked.circle)
            return _named(worked.answers, origin, "answer")
        case Result():
            return _reading(record, origin)
    raise NoNumber(f"there is no {origin.source} to take a number from")


def _named(numbers: Mapping[str, Quantity], origin: From, what: str) -> Quantity:
    if origin.what is None:
        if len(numbers) == 1:
            return next(iter(numbers.values()))
        raise NoNumber(f"{origin.source} has {len(numbers)} {what}s, and `what` does not say which")
    wanted = plain_words(origin.what)
    for name, value in numbers.items():
        if plain_words(name) == wanted:
            return value
    names = ", ".join(f"`{name}`" for name in numbers) or "none"
    raise NoNumber(f"{origin.source} has no {what} `{origin.what}`; it has {names}")


def _reading(result: Result, origin: From) -> Quantity:
    lists = {name: values for name, values in result.readings.items() if values}
    chosen = _named({name: values[0] for name, values in lists.items()}, origin, "reading")
    name = next(name for name, values in lists.items() if values[0] is chosen)
    values = lists[name]
    numbers = [each.value for each in values]
    match origin.use:
        case "largest":
            value = max(numbers)
        case "smallest":
            value = min(numbers)
        case _:
            value = sum(numbers) / len(numbers)
    spread = result.uncertainty.get(name)
    wide = half_width(spread, chosen) if spread is not None else chosen.plus_minus
    if wide is not None and origin.use == "mean":
        wide = uncertainty_of_mean(wide, numbers)
    return Quantity(f"{origin.use} of {name} in {result.id}", value, chosen.kind, chosen.unit, wide)


def number_of(origin: From, register: Register, worked: Mapping[str, Worked]) -> Quantity | None:
    """The number that a reference leads to, or None where there is none."""
    try:
        return _number(origin, _Desk(register, dict(worked)))
    except NoNumber:
        return None


def with_answers(register: Register, worked: Mapping[str, Worked]) -> Register:
    """The register with calculated limits and times to harm in their places; itself where nothing is calculated."""
    changed: dict[str, Record] = {}
    for test in register.tests:
        limits = tuple(_limit(limit, register, worked) for limit in test.limit)
        if limits != test.limit:
            changed[test.id] = test.model_copy(update={"limit": limits})
    for unit in register.units:
        checks = tuple(
            each if each.limit is None else each.model_copy(update={"limit": _limit(each.limit, register, worked)})
            for each in unit.checks
        )
        if checks != unit.checks:
            changed[unit.id] = unit.model_copy(update={"checks": checks})
    for hazard in register.hazards:
        moved = _time_to_harm(hazard, worked)
        if moved is not hazard:
            changed[hazard.id] = moved
    for control in register.controls:
        if control.alarm is not None and control.alarm.taken:
            delays: dict[str, Any] = {
                step: value
                for step, origin in control.alarm.taken.items()
                if (value := number_of(origin, register, worked)) is not None and value.kind == "time"
            }
            changed[control.id] = control.model_copy(update={"alarm": control.alarm.model_copy(update=delays)})
    if not changed:
        return register
    records = {id: changed.get(id, record) for id, record in register.records.items()}
    return Register(records, register.device, register.policy, register.broken)


def with_own_answers(register: Register) -> Register:
    """The register with its calculations worked out and their answers in their places."""
    return with_answers(register, work_out_all(register))


def _limit(limit: Limit, register: Register, worked: Mapping[str, Worked]) -> Limit:
    for end, origin in (("at_most", limit.at_most_from), ("at_least", limit.at_least_from)):
        if origin is not None:
            value = number_of(origin, register, worked)
            if value is not None:
                return limit.model_copy(update={end: value})
    return limit


def _time_to_harm(hazard: Hazard, worked: Mapping[str, Worked]) -> Hazard:
    harm = hazard.time_to_harm
    if harm is None or harm.calculation is None or harm.answer is None or harm.calculation not in worked:
        return hazard
    found = worked[harm.calculation].answers.get(harm.answer)
    if found is None or found.kind != "time" or (harm.value is not None and found.same_as(harm.value)):
        return hazard
    return hazard.model_copy(update={"time_to_harm": harm.model_copy(update={"value": found})})


def expectations(register: Register, worked: Mapping[str, Worked]) -> Iterator[tuple[Test, int, Quantity]]:
    """Every limit for which a calculation says what the reading will be: the test, the place of the limit, the number."""
    for test in register.tests:
        for place, limit in enumerate(test.limit):
            if limit.expected is not None:
                value = number_of(limit.expected, register, worked)
                if value is not None:
                    yield test, place, value
