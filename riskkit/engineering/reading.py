"""What people type for the inputs of a model: quantities with units, words, lists and tables, each with its uncertainty."""

from __future__ import annotations

import difflib
import itertools
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from riskkit.engineering.models import EngineeringError, Given, Model
from riskkit.units import KINDS, Quantity, UnitError, read_quantity
from riskkit.units.kinds import readable
from riskkit.units.registry import unit_of

_BARE = re.compile(r"[0-9]*\.?[0-9]+(?:[eE][-+]?[0-9]+)?")
ANGLES = ("deg", "degree", "degrees", "rad", "°")


@dataclass(frozen=True, slots=True)
class Taken:
    """One input as it was taken.

    Attributes:
        given: What the model asks for.
        written: As typed, or the default.
        value: In SI base units for a number; text for a word; a tuple for a list or a table; None where left out.
        uncertainty: Expanded uncertainty (k = 2) in SI base units; 0 where none is stated.
        origin: "given", "default", "left out", or the record that it comes from.
    """

    given: Given
    written: str
    value: Any
    uncertainty: float
    origin: str


def take(model: Model, inputs: Mapping[str, str | float | Quantity], origins: Mapping[str, str]) -> tuple[Taken, ...]:
    """Every input of a model, read, with defaults where something was left out.

    Args:
        model: The model.
        inputs: Input name -> what was typed, a quantity, or a bare number for an input without a unit.
        origins: Input name -> the record it comes from, where it comes from one.

    Raises:
        EngineeringError: an unknown name, a missing input, a wrong kind of quantity.
    """
    names = [each.name for each in model.givens]
    for name in inputs:
        if name not in names:
            near = difflib.get_close_matches(name, names, n=1, cutoff=0.5)
            help = f"did you mean `{near[0]}`?" if near else f"its inputs are {', '.join(names)}"
            raise EngineeringError(f"{model.name} has no input `{name}`", help)
    taken = []
    missing = [each.name for each in model.givens if each.default is None and each.name not in inputs]
    if missing:
        wanted = model.given(missing[0])
        raise EngineeringError(
            f"{model.name} needs {', '.join(f'`{name}`' for name in missing)}",
            f"add {wanted.name}={_example(wanted)}: the {wanted.words}",
        )
    for each in model.givens:
        if each.name in inputs:
            typed = inputs[each.name]
            taken.append(read_input(each, typed, origins.get(each.name, "given"), model))
        elif each.default == "":
            taken.append(Taken(each, "", None, 0.0, "left out"))
        else:
            taken.append(read_input(each, each.default or "", "default", model))
    return tuple(taken)


def read_input(given: Given, typed: str | float | Quantity, origin: str, model: Model) -> Taken:
    """One input of a model, read.

    Raises:
        EngineeringError: a wrong kind of quantity, an unknown word, a table that does not rise.
    """
    where = f"{model.name}, `{given.name}`"
    written = typed.written if isinstance(typed, Quantity) else str(typed).strip()
    match given.kind:
        case "word":
            return Taken(given, written, _word(given, written, where), 0.0, origin)
        case "list":
            items = _items(written)
            values = tuple(quantity_of(given, item, given.items[0], where)[0] for item in items)
            if not values:
                raise EngineeringError(f"{where} is empty", f"write {given.name}={_example(given)}")
            return Taken(given, written, values, 0.0, origin)
        case "table":
            return Taken(given, written, _table(given, written, where), 0.0, origin)
        case _:
            value, spread = quantity_of(given, typed, given.kind, where)
            return Taken(given, written, value, spread, origin)


def kind_of(given: Given) -> str:
    """Kind of quantity of an input, by its unit where no kind of its own has a name."""
    return kind_named(given.kind, given.unit)


def kind_named(kind: str, unit: str) -> str:
    """The kind itself where it is a known one, else the kind of the unit."""
    return kind if kind in KINDS or not unit or kind in ("number", "angle") else unit_of(unit, None).kind


def quantity_of(given: Given, typed: str | float | Quantity, kind: str, where: str) -> tuple[float, float]:
    """Value and expanded uncertainty in SI base units."""
    if kind == "number":
        return _number(typed, where)
    expected = kind_named(kind, given.unit)
    if isinstance(typed, int | float) and not isinstance(typed, bool):
        raise EngineeringError(
            f"{where} is {typed:g} without a unit", f"write it with its unit, such as {_example(given)}"
        )
    try:
        quantity = (
            typed if isinstance(typed, Quantity) else read_quantity(typed, expected if expected in KINDS else None)
        )
    except UnitError as error:
        help = error.help
        if expected == "fraction" and isinstance(typed, str) and _BARE.fullmatch(typed.strip()):
            help = f"write `{100 * float(typed):.10g} %` for the share {typed.strip()}, or `{typed.strip()} %`"
        raise EngineeringError(f"{where}: {error.headline}", help) from None
    if expected == "angle":
        if quantity.unit not in ANGLES:
            raise EngineeringError(f"{where}: `{quantity.written}` is no angle", "write it as `15 deg` or `0.26 rad`")
    elif quantity.kind != expected and {quantity.kind, expected} != {"temperature", "temperature difference"}:
        raise EngineeringError(
            f"{where}: `{quantity.written}` is a {quantity.kind}, and a {expected} is asked for",
            f"write it as {_example(given)}",
        )
    return quantity.value, quantity.plus_minus or 0.0


def _number(typed: str | float | Quantity, where: str) -> tuple[float, float]:
    if isinstance(typed, Quantity):
        return typed.value, typed.plus_minus or 0.0
    text = str(typed).replace("+-", "±").replace("+/-", "±").strip()
    body, stated, spread = (part.strip() for part in text.partition("±"))
    try:
        value = _plain_number(body)
        wide = _plain_number(spread) * (abs(value) if spread.endswith("%") else 1) if stated else 0.0
    except ValueError:
        raise EngineeringError(f"{where}: `{text}` is no plain number", "write it such as 0.65 or 0.65±0.03") from None
    return value, abs(wide)


def _plain_number(text: str) -> float:
    value = float(text[:-1]) / 100 if text.endswith("%") else float(text)
    if not abs(value) < float("inf") or "_" in text:
        raise ValueError(text)
    return value


def _word(given: Given, written: str, where: str) -> str:
    plain = " ".join(written.casefold().split())
    for choice in given.choices:
        if choice.casefold() == plain:
            return choice
    near = difflib.get_close_matches(plain, given.choices, n=1, cutoff=0.5)
    raise EngineeringError(
        f"{where} cannot be `{written}`",
        f"did you mean `{near[0]}`?" if near else f"write one of {', '.join(given.choices)}",
    )


def _items(written: str) -> list[str]:
    return [item.strip() for item in written.strip("[]() ").replace(";", ",").split(",") if item.strip()]


def _table(given: Given, written: str, where: str) -> tuple[tuple[float, float], ...]:
    """Pairs such as `0 L/min: 32 hPa, 100 L/min: 21 hPa`; the first must rise from pair to pair."""
    pairs = []
    for item in _items(written):
        left, colon, right = item.partition(":")
        if not colon:
            raise EngineeringError(f"{where}: `{item}` is no pair", f'write {given.name}="{_example(given)}"')
        pairs.append(
            (
                quantity_of(given, left.strip(), given.items[0], where)[0],
                quantity_of(given, right.strip(), given.items[1], where)[0],
            )
        )
    if len(pairs) < 2:
        raise EngineeringError(f"{where} needs two pairs or more", f'write {given.name}="{_example(given)}"')
    for (first, _), (second, _) in itertools.pairwise(pairs):
        if not second > first:
            raise EngineeringError(
                f"{where} is not monotone: its first numbers must rise from pair to pair",
                "put the pairs in order, each once",
            )
    return tuple(pairs)


def _example(given: Given) -> str:
    if given.default:
        return given.default
    if given.choices:
        return given.choices[0]
    known = KINDS.get(given.kind)
    if known is not None:
        return f'"{known.example}"'
    match given.kind:
        case "number":
            return "0.65"
        case "angle":
            return '"15 deg"'
        case "list":
            return "a, b, c"
        case "table":
            return "0 L/min: 32 hPa, 190 L/min: 0 hPa"
    return f'"1 {readable(given.unit)}"'


def shown(value: float, unit: str, kind: str, digits: int = 4) -> str:
    """A value in SI base units as it is read, in the unit of a model."""
    return f"{_significant(in_unit(value, unit, kind), digits)} {readable(unit)}".rstrip()


def _significant(number: float, digits: int) -> str:
    """So many significant digits; whole numbers below a thousand million are written out."""
    return f"{number:.0f}" if 10**digits - 0.5 <= abs(number) < 1e9 else f"{number:.{digits}g}"


def together(number: float, width: float) -> str:
    """A number and its expanded uncertainty: U to two significant digits, the number to the same place."""
    place = int(f"{width:.1e}".partition("e")[2]) - 1
    if place < -7 or max(abs(number), width) >= 1e9:
        return f"{number:.{max(1, _size(number) - place)}e} ± {width:.1e}"
    return f"{round(number, -place):.{max(0, -place)}f} ± {round(width, -place):.{max(0, -place)}f}"


def _size(number: float) -> int:
    return int(f"{number:.0e}".partition("e")[2]) if number else 0


def in_unit(value: float, unit: str, kind: str) -> float:
    """A value in SI base units as a number in a unit."""
    if not unit:
        return value
    one = unit_of(unit, kind if kind in KINDS else None)
    return (value - one.offset) / one.factor


def width_in(value: float, unit: str, kind: str) -> float:
    """A difference in SI base units as a number in a unit."""
    return value if not unit else value / unit_of(unit, kind if kind in KINDS else None).factor


def names(taken: Sequence[Taken]) -> dict[str, Any]:
    """The inputs as a model's function takes them."""
    return {each.given.name: each.value for each in taken}
