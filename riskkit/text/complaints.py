"""One clear sentence for everything that pydantic refuses, in the words of the person who typed it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from riskkit.diagnostics import Mend

Path = tuple[str | int, ...]

DERIVED: Mapping[str, str] = MappingProxyType(
    {
        "status": "the status of a hazard is worked out from controls, tests and results",
        "supported": "what evidence supports is worked out from results",
        "verified": "whether something is verified is worked out from results",
        "verdict": "a verdict is worked out from limit, readings and uncertainty",
        "score": "a score is worked out from severity, likelihood and policy",
        "risk": "the risk is worked out from severity, likelihood and policy",
        "region": "the region is worked out from severity, likelihood and policy",
        "stale": "staleness is worked out from what a result leaned on",
    }
)
"""Keys that people try to type and that riskkit works out itself."""


@dataclass(frozen=True, slots=True)
class Complaint:
    """What is wrong with one field: rule, path from the record, sentence, what to type."""

    rule: str
    path: Path
    headline: str
    help: str
    at_key: bool = False
    mend: Mend | None = None


def nearest(word: str, choices: tuple[str, ...]) -> str | None:
    """The choice that the word was probably meant to be, or None."""
    import difflib

    plain = {choice.lower().replace("-", "_").replace(" ", "_"): choice for choice in choices}
    typed = str(word).lower().replace("-", "_").replace(" ", "_")
    found = difflib.get_close_matches(typed, list(plain), n=1, cutoff=0.6)
    return plain[found[0]] if found else None


def alike(word: str, other: str) -> bool:
    """Whether two words differ in nothing but capitals, and in how their parts are joined."""
    plain, wanted = (" ".join(re.split(r"[\s_-]+", each.strip().casefold())) for each in (word, other))
    return plain == wanted


def offered(mend: Mend | None) -> str:
    """What a finding says behind its advice where `check --fix` can do it."""
    return "; `riskkit check --fix` does it" if mend is not None else ""


def listed(choices: tuple[str, ...], most: int = 12) -> str:
    """Choices as a person lists them: "`a`, `b` or `c`"."""
    shown = [f"`{choice}`" for choice in choices[:most]]
    if len(choices) > most:
        return ", ".join(shown) + " ..."
    return shown[0] if len(shown) == 1 else ", ".join(shown[:-1]) + " or " + shown[-1]


def complaints(error: ValidationError, kind: type[BaseModel], given: Mapping[str, Any]) -> Iterator[Complaint]:
    """Turn the errors of one record into complaints; `given` is the data as it was typed."""
    details = [
        (detail, tuple(step for step in detail["loc"] if step != "[key]")) for detail in error.errors(include_url=False)
    ]
    meant = {(*path[:-1], _meant(path, kind)) for detail, path in details if detail["type"] == "extra_forbidden"}
    for detail, path in details:
        if detail["type"] == "missing" and path in meant:
            continue  # the misspelt field is already complained about
        if detail["type"] == "too_short" and any(other[: len(path)] == path != other for _, other in details):
            continue  # its one entry is already complained about
        yield _complaint(detail, path, kind, given)


def _meant(path: Path, kind: type[BaseModel]) -> str | None:
    """The field that a misspelt key was probably meant to be."""
    return nearest(str(path[-1]), fields_at(kind, path[:-1]))


def _complaint(detail: ErrorDetails, path: Path, kind: type[BaseModel], given: Mapping[str, Any]) -> Complaint:
    name = str(next((step for step in reversed(path) if isinstance(step, str)), ""))
    typed, context = detail["input"], detail.get("ctx", {})
    match detail["type"]:
        case "extra_forbidden":
            return _unknown_key(path, kind, given)
        case "missing":
            wanted = _description(kind, path)
            return Complaint(
                "missing-field",
                path[:-1],
                f"`{name}` is missing",
                f"add `{name}:` {_lower_first(wanted)}".rstrip(),
                at_key=True,
            )
        case "literal_error" | "enum":
            choices = _choices(context)
            guess = nearest(str(typed), choices)
            mend = Mend(guess) if guess is not None and isinstance(typed, str) and alike(typed, guess) else None
            return Complaint(
                "unknown-word",
                path,
                f"`{name}` cannot be {_shown(typed)}; it is one of {listed(choices)}",
                f"write `{guess}`{offered(mend)}" if guess else f"write one of {listed(choices)}",
                mend=mend,
            )
        case "value_error":
            return _own_words(context.get("error"), path, name)
        case "string_type":
            mend = Mend() if isinstance(typed, int | float) and not isinstance(typed, bool) else None
            return Complaint(
                "wrong-type",
                path,
                f"`{name}` should be text, and {_shown(typed)} is {_sort(typed)}",
                _as_text(typed) + offered(mend),
                mend=mend,
            )
        case "string_too_short":
            return Complaint("empty-text", path, f"`{name}` is empty", "write a few words, or take the line out")
        case "string_pattern_mismatch" | "string_too_long":
            return Complaint(
                "not-an-id",
                path,
                f"{_shown(typed)} is not an id: ids are letters and digits, such as H04, HZ-012 or T07-2, 40 at most",
                "write an id",
            )
        case "model_type" | "dict_type" | "model_attributes_type":
            return Complaint(
                "wrong-type",
                path,
                f"`{name}` should be a group of fields, and {_shown(typed)} is {_sort(typed)}",
                "write one `name: value` per line below it, indented by two blanks",
            )
        case "tuple_type" | "list_type":
            return Complaint(
                "wrong-type",
                path,
                f"`{name}` should be a list, and {_shown(typed)} is {_sort(typed)}",
                f"write `{name}: [first, second]`",
            )
        case "bool_parsing" | "bool_type":
            return Complaint(
                "wrong-type", path, f"`{name}` is yes or no, and {_shown(typed)} is neither", "write `true` or `false`"
            )
        case "int_parsing" | "int_type" | "int_from_float" | "float_parsing" | "float_type":
            return Complaint(
                "wrong-type",
                path,
                f"`{name}` should be a whole number, and {_shown(typed)} is not"
                if detail["type"] == "int_from_float"
                else f"`{name}` should be a number, and {_shown(typed)} is {_sort(typed)}",
                "write a whole number",
            )
        case "greater_than_equal":
            return Complaint(
                "out-of-range",
                path,
                f"`{name}` must be at least {context['ge']}, not {_shown(typed)}",
                "write a larger number",
            )
        case "too_short":
            return Complaint(
                "empty-list", path, f"`{name}` is empty; it needs at least one entry", f"add an entry to `{name}:`"
            )
        case "too_long" | "missing_positional_only_argument" | "unexpected_positional_argument":
            return Complaint(
                "wrong-type", path, f"`{name}` has the wrong number of entries", f"write `{name}: [first, second]`"
            )
        case _:
            return Complaint(
                "wrong-type", path, f"`{name}`: {_lower_first(detail['msg'])}", "look at `riskkit explain wrong-type`"
            )


def _own_words(error: object, path: Path, name: str) -> Complaint:
    """A sentence that the model itself has for the user."""
    path = path + tuple(getattr(error, "path", ()))
    headline = str(getattr(error, "headline", error))
    help = str(getattr(error, "help", ""))
    main, _, rest = headline.partition("; ") if not help else (headline, "", "")
    rule = "bad-quantity" if hasattr(error, "headline") else "bad-value"
    return Complaint(
        rule, path, f"`{name}`: {main}" if name else main, help or rest or "see `riskkit explain bad-value`"
    )


def _unknown_key(path: Path, kind: type[BaseModel], given: Mapping[str, Any]) -> Complaint:
    key = str(path[-1])
    if key in DERIVED:
        return Complaint(
            "typed-what-is-derived", path, f"`{key}` cannot be typed: {DERIVED[key]}", "take the line out", at_key=True
        )
    fields = fields_at(kind, path[:-1])
    guess = nearest(key, fields)
    there: Any = given
    for step in path[:-1]:
        if isinstance(there, list) and isinstance(step, int):
            there = there[step]
        elif isinstance(there, dict):
            there = there.get(str(step))
    free = isinstance(there, dict) and guess is not None and sum(alike(str(each), guess) for each in there) == 1
    mend = Mend(guess) if guess is not None and alike(key, guess) and free else None
    what = f"write `{guess}:`{offered(mend)}" if guess else f"the fields here are {listed(fields, 40)}"
    return Complaint("unknown-field", path, f"there is no field `{key}` here", what, at_key=True, mend=mend)


def block_at(kind: type[BaseModel], path: Path) -> type[BaseModel] | None:
    """The class of the block at a path below a record's class."""
    here: Any = kind
    for step in path:
        if get_origin(here) is dict:
            here = get_args(here)[1]  # the step is a name that the user chose, and may be that of a field
            continue
        block = _first_block(here)
        if isinstance(step, int) or block is None:
            continue
        info = next((info for name, info in block.model_fields.items() if step in (name, info.alias)), None)
        if info is None:
            continue
        here = info.annotation
    return _first_block(here)


def _first_block(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((block for inner in get_args(annotation) if (block := _first_block(inner)) is not None), None)


def fields_at(kind: type[BaseModel], path: Path) -> tuple[str, ...]:
    """Names of the fields of a record's class, or of the group that a path leads to, in their order."""
    block = block_at(kind, path)
    if block is None:
        return ()
    return tuple(info.alias or name for name, info in block.model_fields.items() if name != "id")


def _description(kind: type[BaseModel], path: Path) -> str:
    block = block_at(kind, path[:-1])
    for name, info in block.model_fields.items() if block else ():
        if path[-1] in (name, info.alias):
            return info.description or ""
    return ""


def _choices(context: Mapping[str, Any]) -> tuple[str, ...]:
    """pydantic lists the words as "'a', 'b' or 'c'"."""
    return tuple(str(context.get("expected", "")).replace(" or ", ", ").replace("'", "").split(", "))


def _shown(typed: object) -> str:
    if isinstance(typed, dict):
        return "a group of fields"
    if isinstance(typed, list | tuple):
        return "a list"
    if typed is None:
        return "nothing"
    text = str(typed).replace("\n", " ")
    if isinstance(typed, bool):
        text = text.lower()
    return f"`{text if len(text) <= 40 else text[:37] + '...'}`"


def _sort(typed: object) -> str:
    match typed:
        case None:
            return "nothing at all"
        case bool():
            return "a yes-or-no value"
        case int() | float():
            return "a number"
        case str():
            return "text"
        case dict():
            return "not one"
        case _:
            return "not one"


def _as_text(typed: object) -> str:
    if isinstance(typed, int | float):
        return f'put quotes around it: "{str(typed).lower() if isinstance(typed, bool) else typed}"'
    if typed is None:
        return "write a few words, or take the line out"
    return "write plain text; quotes around it do no harm"


def _lower_first(text: str) -> str:
    return text[:1].lower() + text[1:]
