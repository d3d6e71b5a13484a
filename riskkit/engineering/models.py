"""What a bench model is: named inputs with kinds and ranges, a formula with its source, and its own checks.

A model is a frozen value that stands in a file of its family. It computes with floats in SI base units;
reading what people type, uncertainty, ranges and words are the business of `answering.py`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Literal

from riskkit.diagnostics import RiskkitError

Outside = Literal["refused", "marked"]
CheckKind = Literal["published", "cross-check", "limit", "constructed"]

OUTSIDE_KINDS: tuple[CheckKind, ...] = ("published", "cross-check")
"""Kinds of check that come from somebody else; a model with none of them is shown as not verified."""


class EngineeringError(RiskkitError, ValueError):
    """A question that a model cannot answer: one sentence, and what to give instead."""


@dataclass(frozen=True, slots=True)
class Given:
    """One input of a model.

    Attributes:
        name: Its name, as typed in `name=value`.
        kind: Kind of quantity (a name of `riskkit.units.KINDS`), "number", "word" (one of `choices`),
            "list" (several quantities of `kind_of_items`), or "table" (pairs `x: y`, such as a blower curve).
        words: What it is, as the end of "the ...".
        unit: Unit in which it is shown and swept; empty for numbers and words.
        default: As typed, where it may be left out; None where it must be given. "" where it may be left out
            and the model then does without it (the function gets None).
        low: Lowest value for which the model holds, as typed; None without an end.
        high: Highest value for which it holds; None without an end.
        outside: Whether a value outside is refused, or answered and marked.
        choices: The words that are allowed, for kind "word".
        items: Kinds of the items: (kind,) for a list, (kind of x, kind of y) for a table.
        asks: A sentence that is printed where the default was taken, such as what was assumed.
    """

    name: str
    kind: str
    words: str
    unit: str = ""
    default: str | None = None
    low: str | None = None
    high: str | None = None
    outside: Outside = "refused"
    choices: tuple[str, ...] = ()
    items: tuple[str, ...] = ()
    asks: str = ""


@dataclass(frozen=True, slots=True)
class Found:
    """One answer of a model: its name, kind of quantity, unit in which it is shown, and what it is."""

    name: str
    kind: str
    unit: str
    words: str


@dataclass(frozen=True, slots=True)
class Check:
    """A value from outside that the model has to give.

    Attributes:
        given: Inputs as typed.
        answer: Name of the answer that is compared.
        expected: Expected value as typed, with its unit where it has one.
        kind: published (standard, handbook, paper), cross-check (another method or library), limit (a case that
            must be so), constructed (worked out for this project, not published).
        source: Where it comes from; "from memory" is said where it is so.
        rel: Largest relative deviation.
        abs: Largest absolute deviation, as typed; None where the relative one counts.
    """

    given: Mapping[str, str]
    answer: str
    expected: str
    kind: CheckKind
    source: str
    rel: float = 5e-4
    abs: str | None = None


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a model's function gives back, in SI base units.

    Attributes:
        values: Answers by name.
        remarks: Sentences that belong to this answer: warnings of physical sense, what was assumed.
        outside: Sentences that say where the model does not hold for these inputs; the answer is then marked.
        edge: Sentences that say where it is close to not holding.
    """

    values: Mapping[str, float]
    remarks: tuple[str, ...] = ()
    outside: tuple[str, ...] = ()
    edge: tuple[str, ...] = ()


Function = Callable[..., Outcome]


@dataclass(frozen=True)
class Model:
    """A bench model.

    Attributes:
        name: Its name on the command line and in a calculation, such as "u-tube".
        title: What it works out.
        formula: The formula in one line, with the names of the inputs.
        source: Where the formula comes from.
        holds: Where it holds, one sentence.
        givens: Inputs, in the order of the help.
        finds: Answers; the first is the main one.
        function: Computes with floats in SI base units, by input name; words are passed as text, lists as
            tuples, tables as tuples of pairs, inputs left out as None.
        checks: Values that it has to give.
        example: Inputs of an example, as typed.
        traps: Questions to ask before the answer is believed.
    """

    name: str
    title: str
    formula: str
    source: str
    holds: str
    givens: tuple[Given, ...]
    finds: tuple[Found, ...]
    function: Function
    checks: tuple[Check, ...]
    example: Mapping[str, str]
    traps: tuple[str, ...] = ()
    aliases: tuple[str, ...] = field(default=())

    @property
    def is_verified(self) -> bool:
        """Whether any of its checks comes from somebody else."""
        return any(check.kind in OUTSIDE_KINDS for check in self.checks)

    def given(self, name: str) -> Given:
        """The input of that name.

        Raises:
            EngineeringError: naming the inputs.
        """
        for each in self.givens:
            if each.name == name:
                return each
        names = ", ".join(each.name for each in self.givens)
        raise EngineeringError(f"{self.name} has no input `{name}`", f"its inputs are {names}")

    def find(self, name: str) -> Found:
        """The answer of that name.

        Raises:
            EngineeringError: naming the answers.
        """
        for each in self.finds:
            if each.name == name:
                return each
        names = ", ".join(each.name for each in self.finds)
        raise EngineeringError(f"{self.name} has no answer `{name}`", f"its answers are {names}")
