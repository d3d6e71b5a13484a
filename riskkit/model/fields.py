"""The kinds of value that stand in a record: ids, references, dates, probabilities, quantities, limits.

Each type says in one sentence what it expected; where the value stands in a file is the reader's business.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Annotated, Any, ClassVar, Literal

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    PlainSerializer,
    PlainValidator,
    StringConstraints,
    WithJsonSchema,
    model_validator,
)
from pydantic_core import core_schema

from riskkit import units
from riskkit.units import Quantity

ID_PATTERN = r"^[A-Za-z][A-Za-z0-9]*([._-][A-Za-z0-9]+)*$"

Id = Annotated[str, StringConstraints(pattern=ID_PATTERN, max_length=40)]
"""A short name such as `H04`, `HZ-012` or `T07-2`; unique in the register, never used twice."""

Text = Annotated[str, StringConstraints(min_length=1, strip_whitespace=True)]
"""A sentence or a few words; an empty text is not an answer."""

Role = Text
"""Who, by role and never by name: `emergency physician`, `builder-1`."""


def plain_words(text: str) -> str:
    """A text as it is compared with another one: without capitals, and with single blanks."""
    return " ".join(text.casefold().split())


@dataclass(frozen=True, slots=True)
class Refers:
    """Marks a field whose ids point at records of the named sections.

    `relation` reads as the middle of a sentence: "H01 *is answered by* C01". With `keys=True` the
    ids are the keys of a mapping. `leans` is true where the pointing record stands or falls with
    the record pointed at.
    """

    sections: tuple[str, ...]
    relation: str
    keys: bool = False
    leans: bool = True


def refers(*sections: str, relation: str, keys: bool = False, leans: bool = True) -> Refers:
    """Short form of `Refers` for use in a field's annotation."""
    return Refers(sections, relation, keys, leans)


def _as_list(value: object) -> object:
    """One value may be written without the brackets of a list."""
    return [value] if isinstance(value, str | dict | int | float) else value


class OneOrMany:
    """Marks a list that may be written without brackets where it has one entry, in files and in the JSON Schema."""

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        return core_schema.no_info_before_validator_function(_as_list, handler(source))

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        many = handler(schema)
        return {"anyOf": [many.get("items", {}), many]}


one_or_many = OneOrMany()

Ids = Annotated[tuple[Id, ...], one_or_many]
Texts = Annotated[tuple[Text, ...], one_or_many]


def _read_date(value: object) -> datetime.date:
    if isinstance(value, datetime.date):
        return value
    try:
        if isinstance(value, str) and len(value) == 10:
            return datetime.date.fromisoformat(value)
    except ValueError:
        pass
    raise ValueError(f"`{value}` is not a day of the calendar; write it as year-month-day, such as 2026-11-25")


Date = Annotated[
    datetime.date,
    PlainValidator(_read_date),
    PlainSerializer(lambda day: day.isoformat(), return_type=str),
    WithJsonSchema({"type": "string", "format": "date"}),
]


def _quantity_reader(kind: str | None) -> Callable[[object], Quantity]:
    def read(value: object) -> Quantity:
        if isinstance(value, Quantity):
            return value
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            raise ValueError("a number with its unit is expected, such as `12 hPa` or `2h40`")
        return units.read_quantity(value, kind)

    return read


def _quantity(kind: str | None, example: str) -> Any:
    return (
        PlainValidator(_quantity_reader(kind)),
        PlainSerializer(lambda quantity: quantity.written, return_type=str),
        WithJsonSchema({"type": ["string", "number"], "examples": [example]}),
    )


AnyQuantity = Annotated[Quantity, *_quantity(None, "12 hPa")]
Duration = Annotated[Quantity, *_quantity("time", "2h40")]
SoundLevel = Annotated[Quantity, *_quantity("sound level", "65 dB(A)")]


@dataclass(frozen=True, slots=True)
class Probability:
    """A probability as it was typed, and its exact value: edges of bands must not depend on rounding."""

    written: str
    exact: Fraction


def _exact(text: str) -> Fraction:
    """`1e-3`, `0.1 %`, `1/1000`, `1 in 1000` as an exact fraction."""
    body, scale = text.strip(), Fraction(1)
    if body.endswith("%"):
        body, scale = body[:-1].strip(), Fraction(1, 100)
    for divider in (" in ", "/"):
        if divider in body:
            top, bottom = body.split(divider, 1)
            return Fraction(top.strip().replace(" ", "")) / Fraction(bottom.strip().replace(" ", "")) * scale
    return Fraction(body) * scale


def read_probability(value: object) -> Probability:
    """Read one probability.

    Raises:
        ValueError: with one sentence, where it is no number or lies outside 0 to 1.
    """
    if isinstance(value, Probability):
        return value
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise ValueError("a probability is expected, such as 1e-3, `0.1 %` or `1 in 1000`")
    written = str(value)
    try:
        exact = _exact(written)
    except (ValueError, ZeroDivisionError):
        raise ValueError(f"`{written}` is not a probability; write it as 1e-3, `0.1 %` or `1 in 1000`") from None
    if not 0 <= exact <= 1:
        raise ValueError(f"`{written}` is not a probability: it must lie between 0 and 1")
    return Probability(written, exact)


OneProbability = Annotated[
    Probability,
    PlainValidator(read_probability),
    PlainSerializer(lambda probability: probability.written, return_type=str),
    WithJsonSchema({"type": ["number", "string"], "examples": [1e-3, "95 %", "1 in 1000"]}),
]


def _read_probability_range(value: object) -> tuple[Probability, Probability]:
    if isinstance(value, list | tuple):
        if len(value) != 2:
            raise ValueError("a range has two ends: write [low, high]")
        low, high = (read_probability(end) for end in value)
        if low.exact > high.exact:
            raise ValueError(f"the range runs backwards: write [{high.written}, {low.written}]")
        return low, high
    one = read_probability(value)
    return one, one


ProbabilityRange = Annotated[
    tuple[Probability, Probability],
    PlainValidator(_read_probability_range),
    PlainSerializer(lambda ends: [end.written for end in ends], return_type=list[str]),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": ["number", "string"]},
                {"type": "array", "items": {"type": ["number", "string"]}, "minItems": 2, "maxItems": 2},
            ],
            "examples": [1e-3, "0.1 %", "1 in 1000"],
        }
    ),
]


def _read_level(value: object) -> str:
    if isinstance(value, bool) or not isinstance(value, str | int) or value == "":
        raise ValueError("a level of the policy's scale is expected, such as 4 or B")
    return str(value)


Level = Annotated[
    str, PlainValidator(_read_level), WithJsonSchema({"type": ["string", "integer"], "examples": [4, "B"]})
]
"""The label of a level on one of the policy's scales; kept as text, so that `4` and `"4"` are one level."""


def _read_level_range(value: object) -> tuple[str, str]:
    if isinstance(value, list | tuple):
        if len(value) != 2:
            raise ValueError("a range has two ends: write [one level, another level]")
        return _read_level(value[0]), _read_level(value[1])
    one = _read_level(value)
    return one, one


LevelRange = Annotated[
    tuple[str, str],
    PlainValidator(_read_level_range),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": ["string", "integer"]},
                {"type": "array", "items": {"type": ["string", "integer"]}, "minItems": 2, "maxItems": 2},
            ]
        }
    ),
]


LEVEL_READERS = (_read_level, _read_level_range)
"""What reads a level of a scale; the reference pages know such fields by it."""


class FieldError(ValueError):
    """A sentence about one field inside a block whose fields do not fit together.

    `path` leads from the block to the field, so that the finding stands at its line.
    """

    def __init__(self, headline: str, *path: str | int) -> None:
        super().__init__(headline)
        self.path = path


class Block(BaseModel):
    """A group of fields inside a record. Frozen; a key that nobody knows is refused."""

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        defer_build=True,
        populate_by_name=True,
        arbitrary_types_allowed=True,
        hide_input_in_errors=True,
    )


class Record(Block):
    """One entry of the register, named by its id."""

    SECTION: ClassVar[str] = ""
    id: Id = Field(description="The key under which the record stands.")


class From(Block):
    """A number that stands in another record: a rating, an assumed value, a reading, an answer of a calculation."""

    source: Annotated[Id, Refers(("parts", "assumptions", "results", "calculations"), "takes a number from")] = Field(
        alias="from", description="The record."
    )
    what: Text | None = Field(
        None,
        description="Which of its numbers, by name; left out for the value of an assumption, or where there is one.",
    )
    use: Literal["mean", "largest", "smallest"] = Field(
        "mean", description="Which of several readings of a result is taken."
    )
    because: Text | None = Field(None, description="Why this one.")


class Expected(From):
    """What a calculation says a reading will be, or the bound that it gives."""

    bound: Literal["value", "at most", "at least"] = Field(
        "value",
        description="Whether the calculation gives the reading itself, or no more than an upper or lower bound.",
    )


class Limit(Block):
    """What a reading must keep to: `at_most`, `at_least` (typed or calculated), `between` or `shows`."""

    what: Text | None = Field(None, description="What is read, where a test has more than one limit.")
    at_most: AnyQuantity | None = Field(None, description="The reading may be this high.")
    at_least: AnyQuantity | None = Field(None, description="The reading may be this low.")
    between: tuple[AnyQuantity, AnyQuantity] | None = Field(None, description="Lowest and highest reading.")
    at_most_from: From | None = Field(None, description="The reading may be as high as this answer of a calculation.")
    at_least_from: From | None = Field(None, description="The reading may be as low as this answer of a calculation.")
    shows: Text | None = Field(None, description="What an inspection must show, in words.")
    expected: Expected | None = Field(
        None, description="What a calculation says the reading will be; compared with the limit and with the readings."
    )
    because: Text | None = Field(None, description="Where the limit comes from.")

    @model_validator(mode="after")
    def _one_kind_of_limit(self) -> Limit:
        ways = (
            self.at_most is not None or self.at_most_from is not None,
            self.at_least is not None or self.at_least_from is not None,
            self.between is not None,
            self.shows is not None,
        )
        if sum(ways) != 1:
            raise ValueError("a limit is exactly one of `at_most`, `at_least`, `between` or `shows`")
        if self.between is not None:
            low, high = self.between
            if low.kind != high.kind:
                raise FieldError(
                    f"the ends of `between` are a {low.kind} and a {high.kind}; they must be alike", "between"
                )
            if low.value > high.value:
                raise FieldError("`between` runs backwards: write the lower end first", "between")
        return self

    @property
    def quantities(self) -> tuple[Quantity, ...]:
        """The numbers of the limit, lowest first; empty for an inspection."""
        ends = self.between or (self.at_least, self.at_most)
        return tuple(end for end in ends if end is not None)

    def sentence(self) -> str:
        """The limit as it is read aloud: "at most 18 hPa"."""
        if self.between is not None:
            words = f"between {self.between[0].written} and {self.between[1].written}"
        elif self.at_most is not None:
            words = f"at most {self.at_most.written}"
        elif self.at_least is not None:
            words = f"at least {self.at_least.written}"
        elif self.at_most_from is not None or self.at_least_from is not None:
            origin = self.at_most_from or self.at_least_from
            side = "most" if self.at_most_from is not None else "least"
            words = f"at {side} what {origin.source if origin else ''} works out"
        else:
            words = self.shows or ""
        return f"{self.what}: {words}" if self.what else words


Limits = Annotated[tuple[Limit, ...], one_or_many]


class Parked(Block):
    """Deliberately left, with a reason, an owner and an end."""

    reason: Text = Field(description="Why it is left for now.")
    owner: Role = Field(description="Who takes it up again, by role.")
    until: Date = Field(description="The day on which it comes back.")


ENTRY_PATTERN = r"^[a-z]+(-[a-z]+)*/[a-z0-9]+(-[a-z0-9]+)*$"

EntryId = Annotated[str, StringConstraints(pattern=ENTRY_PATTERN, max_length=90)]
"""Folder and file name of a catalog entry without its ending, such as `controls/room-air-intake-flap`."""


class Adopted(Block):
    """Where a record was taken from. What it says now is the project's own."""

    entry: EntryId = Field(description="The catalog entry, such as `hazards/gas-too-hot`.")
    version: int = Field(
        ge=1, description="Its version when it was taken over, or the last one that somebody compared it with."
    )
    catalog: Text = Field("shipped", description="The catalog it stands in: `shipped`, or the name of a folder.")
    through: EntryId | None = Field(
        None, description="The failure, use error or build error by which it was found, where it was one."
    )
    through_version: int | None = Field(None, ge=1, description="The version of that one.")
    wrote: dict[Text, Text] = Field(
        default_factory=dict,
        description="Field -> fingerprint of what the catalog said, so that its changes and yours are told apart; "
        "written by `riskkit adopt`.",
    )
    open: Texts = Field((), description="What has still to be found out; take a line out once it is answered.")
