"""A budget file: what was typed becomes a budget in SI units; everything wrong with it is one sentence with its line."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, cast

from pydantic import ValidationError

from riskkit.diagnostics import Place, RiskkitError
from riskkit.evidence.answers import EvidenceError
from riskkit.evidence.budgets import Budget
from riskkit.evidence.dimensions import dimension_of
from riskkit.evidence.formulas import Formula, read_formula, refuse_name
from riskkit.evidence.freedom import Rounding
from riskkit.evidence.inputs import Input, Known, Part
from riskkit.model.budget import PLAIN, WAYS, BudgetInput, BudgetSheet, Reason
from riskkit.text.complaints import complaints, nearest
from riskkit.text.positions import Document
from riskkit.text.single_sections import single_section
from riskkit.units import Quantity, Scale, UnitError, scale_of

Steps = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class TypedInput:
    """How an input was typed: the unit in which it is shown, and where its numbers come from."""

    scale: Scale
    because: str = ""


@dataclass(frozen=True, slots=True)
class BudgetFile:
    """A budget that can be worked out.

    Attributes:
        title: What it is about.
        budget: Formula and inputs; all values in SI base units.
        scale: The unit in which the answer is shown.
        inputs: How each input was typed, by name.
        confidence: Level of the coverage interval that the file asks for.
        k: Coverage factor that the file asks for instead.
        rounding: What becomes of a fraction of a degree of freedom.
        notes: What was assumed in reading the file.
        place: Where its formula stands.
    """

    title: str
    budget: Budget
    scale: Scale
    inputs: Mapping[str, TypedInput]
    confidence: float
    k: float | None
    rounding: Rounding
    notes: tuple[str, ...]
    place: Place


def load_budget(path: Path) -> BudgetFile:
    """Read the `budget:` section of a YAML file.

    Raises:
        RiskkitError: one sentence with file and line where the file cannot be read as a budget.
    """
    document = single_section(path, "budget", "the budget", "a budget file", "`formula:`, `unit:` and `inputs:`")
    data = document.data["budget"]
    try:
        sheet = BudgetSheet.model_validate(data)
    except ValidationError as error:
        first = next(complaints(error, BudgetSheet, data if isinstance(data, Mapping) else {}))
        place = document.place(("budget", *first.path), key=first.at_key)
        raise RiskkitError(f"{place}: {first.headline}", first.help) from None
    return _Reader(document, sheet).read()


@dataclass(frozen=True, slots=True)
class _Reader:
    document: Document
    sheet: BudgetSheet

    def read(self) -> BudgetFile:
        """The budget behind the sheet."""
        sheet = self.sheet
        with self._at("formula"):
            formula = read_formula(sheet.formula)
        names = self._names()
        scales = {names[name]: self._scale(name, typed) for name, typed in sheet.inputs.items()}
        inputs = {names[name]: self._input(name, typed) for name, typed in sheet.inputs.items()}
        self._refuse_strangers(formula, names)
        with self._at("unit"):
            wanted = scale_of(sheet.unit or "")
        self._refuse_other_dimension(formula, scales, wanted)
        budget = Budget(formula, inputs, {}, sheet.measurand)
        pairs: dict[tuple[str, str], float] = {}
        for number, pair in enumerate(sheet.correlations):
            one, other = (self._known(names, name, number, place) for place, name in enumerate(pair.between))
            if (one, other) in pairs or (other, one) in pairs:
                raise self._refused(
                    ("correlations", number), f"`{one}` and `{other}` are named twice", "name them once"
                )
            with self._at("correlations", number):
                Budget(formula, inputs, {(one, other): pair.r})
            pairs[one, other] = pair.r
        with self._at("correlations", key=True):
            budget = replace(budget, correlations=pairs)
        return BudgetFile(
            title=sheet.title or "",
            budget=budget,
            scale=wanted,
            inputs={
                names[name]: TypedInput(scales[names[name]], typed.because or "")
                for name, typed in sheet.inputs.items()
            },
            confidence=float(sheet.coverage.exact) if sheet.coverage is not None else 0.95,
            k=sheet.k,
            rounding=sheet.freedom_rounding,
            notes=tuple(self._assumed(names)),
            place=self.document.place(("budget", "formula")),
        )

    @contextmanager
    def _at(self, *path: str | int, key: bool = False) -> Iterator[None]:
        """What is refused inside is said with the place of a field."""
        try:
            yield
        except (EvidenceError, UnitError) as error:
            raise self._refused(path, error.headline, error.help, key=key) from None

    def _names(self) -> dict[str, str]:
        """Names as they were typed -> names as a formula reads them."""
        names: dict[str, str] = {}
        for typed in self.sheet.inputs:
            with self._at("inputs", typed, key=True):
                name = refuse_name(typed)
            if name in names.values():
                raise self._refused(("inputs", typed), f"`{typed}` is read like another input", "rename it", key=True)
            names[typed] = name
        return names

    def _refused(self, path: Steps, headline: str, help: str, *, key: bool = False) -> RiskkitError:
        return RiskkitError(f"{self.document.place(('budget', *path), key=key)}: {headline}", help)

    def _scale(self, name: str, typed: BudgetInput) -> Scale:
        first = typed.value if typed.value is not None else cast("tuple[Quantity, ...]", typed.readings)[0]
        path: Steps = ("inputs", name, "value") if typed.value is not None else ("inputs", name, "readings", 0)
        if first.unit == "AWG":
            raise self._refused(
                path, f"`{first.written}` is a wire gauge, not a measured value", "write the area in mm2"
            )
        with self._at(*path):
            return scale_of(first.unit, difference=first.kind == "temperature difference")

    def _input(self, name: str, typed: BudgetInput) -> Input:
        path: Steps = ("inputs", name)
        readings = None
        if typed.readings is not None:
            first = typed.readings[0]
            for number, reading in enumerate(typed.readings):
                self._refuse_other_unit((*path, "readings", number), reading, first)
            readings = [reading.value for reading in typed.readings]
            centre = Quantity(first.written, sum(readings) / len(readings), first.kind, first.unit)
        else:
            centre = cast(Quantity, typed.value)
        parts = []
        for number, part in enumerate(typed.parts):
            with self._at(*path, "parts", number):
                parts.append(Part(**self._known_as(part, centre, (*path, "parts", number))))
        known: Known = self._known_as(typed, centre, path) if typed.ways else {}
        if typed.freedom is not None and not typed.ways:
            raise self._refused(
                (*path, "freedom"),
                "`freedom` belongs to `u`, `expanded`, `half_width` or `pooled_s`; readings have their own",
                "take it out",
            )
        value = None if readings is not None else centre.value
        with self._at(*path, key=True):
            return Input(value, readings=readings, parts=parts, **known)

    def _known_as(self, typed: Reason, centre: Quantity, path: Steps) -> Known:
        """The way in which an uncertainty was typed, as numbers in SI base units."""
        known: dict[str, Any] = {
            name: self._amount((*path, name), name, getattr(typed, name), centre)
            for name in WAYS
            if getattr(typed, name) is not None
        }
        known |= {name: getattr(typed, name) for name in ("k", "shape", "freedom") if getattr(typed, name) is not None}
        if typed.level is not None:
            known["level"] = float(typed.level.exact)
        if typed.count is not None:
            known["count"] = int(typed.count)
        return cast(Known, known)

    def _amount(self, path: Steps, name: str, amount: Quantity, centre: Quantity) -> float:
        """An uncertainty in SI base units; a share such as `3 %` is one of the value, unless that is itself in %."""
        if amount.kind == "fraction" and centre.kind != "fraction":
            if centre.kind == "temperature":
                raise self._refused(path, f"`{amount.written}` of a temperature means nothing", "write it in K")
            if centre.value == 0:
                raise self._refused(path, f"`{amount.written}` of a value of 0 is 0", "write it with a unit")
            return amount.value * abs(centre.value)
        self._refuse_other_unit(path, amount, centre)
        return amount.value

    def _refuse_other_unit(self, path: Steps, amount: Quantity, centre: Quantity) -> None:
        if amount.kind == PLAIN and centre.kind != PLAIN and centre.unit:
            raise self._refused(
                path,
                f"`{amount.written}` has no unit, and the value is in {centre.unit}",
                f"write `{amount.written} {centre.unit}`",
            )
        if scale_of(amount.unit).dimension != scale_of(centre.unit).dimension:
            raise self._refused(
                path,
                f"`{amount.written}` is {scale_of(amount.unit).dimension.words}, and the value `{centre.written}` is "
                f"{scale_of(centre.unit).dimension.words}",
                f"write it in {centre.unit}" if centre.unit else "give the value its unit, or write a plain number",
            )

    def _refuse_strangers(self, formula: Formula, names: Mapping[str, str]) -> None:
        for name in formula.names:
            if name not in names.values():
                guess = nearest(name, tuple(names))
                raise self._refused(
                    ("formula",),
                    f"`{name}` stands in the formula and not among the inputs",
                    f"did you mean `{guess}`?" if guess else f"add `{name}:` below `inputs:`",
                )
        for typed, name in names.items():
            if name not in formula.names:
                raise self._refused(
                    ("inputs", typed),
                    f"`{typed}` does not stand in the formula",
                    "use it in the formula, or take it out",
                    key=True,
                )

    def _refuse_other_dimension(self, formula: Formula, scales: Mapping[str, Scale], wanted: Scale) -> None:
        with self._at("formula"):
            found = dimension_of(formula, {name: scale.dimension for name, scale in scales.items()})
        if found == wanted.dimension:
            return
        if self.sheet.unit is None:
            raise self._refused(
                ("formula",),
                f"the formula gives {found.words}, and no unit is named",
                f"add `unit:`, such as `unit: {found.unit}`",
            )
        raise self._refused(
            ("unit",),
            f"the formula gives {found.words} ({found.unit or 'no unit'}), and `{self.sheet.unit}` measures {wanted.dimension.words}",
            "check the formula and the units of its inputs, or name another unit",
        )

    def _known(self, names: Mapping[str, str], name: str, number: int, place: int) -> str:
        if name in names:
            return names[name]
        guess = nearest(name, tuple(names))
        raise self._refused(
            ("correlations", number, "between", place),
            f"`{name}` is no input of this budget",
            f"write `{guess}`" if guess else f"the inputs are {', '.join(names)}",
        )

    def _assumed(self, names: Mapping[str, str]) -> list[str]:
        """What was taken for granted in reading, one sentence each."""
        notes = []
        for name, typed in self.sheet.inputs.items():
            if typed.value is not None and typed.value.kind == "temperature":
                kelvin = f"{typed.value.value:.6g} K"
                notes.append(
                    f"`{names[name]}`: {typed.value.written} enters the formula as {kelvin}; write a difference of "
                    "temperatures in K."
                )
            for amount in (typed.value, *(typed.readings or ())):
                if amount is not None and amount.note:
                    notes.append(f"`{names[name]}`: {amount.note}.")
            for reason in (typed, *typed.parts):
                if reason.half_width is not None and reason.shape is None:
                    notes.append(f"`{names[name]}`: no shape is stated, so its half width is taken as rectangular.")
                if reason.shape == "normal" and reason.level is None:
                    notes.append(
                        f"`{names[name]}`: no level is stated, so 95 % are taken to lie inside its half width."
                    )
        return list(dict.fromkeys(notes))
