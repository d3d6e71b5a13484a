"""All models by name: whatever stands in a file of `riskkit/engineering/library`."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from functools import cache
from types import MappingProxyType
from typing import Any

from riskkit import shelves
from riskkit.engineering.models import EngineeringError, Given, Model
from riskkit.engineering.reading import quantity_of, read_input


def all_models() -> tuple[Model, ...]:
    """Every model, by file and place in it."""
    return shelves.collect("riskkit.engineering.library", Model)


@cache
def _by_name() -> Mapping[str, Model]:
    named: dict[str, Model] = {}
    for each in all_models():
        for name in (each.name, *each.aliases):
            named[_plain(name)] = each
    return MappingProxyType(named)


def _plain(name: str) -> str:
    return name.casefold().replace("-", " ").replace("_", " ").strip()


def model(name: str) -> Model:
    """The model of that name; blanks and hyphens are the same.

    Raises:
        EngineeringError: with the nearest spelling.
    """
    found = _by_name().get(_plain(name))
    if found is not None:
        return found
    near = difflib.get_close_matches(_plain(name), list(_by_name()), n=1, cutoff=0.5)
    raise EngineeringError(
        f"there is no model `{name}`",
        f"did you mean {_by_name()[near[0]].name}?" if near else "`riskkit calc --list` names them",
    )


@cache
def end_of(given: Given, written: str) -> float:
    """An end of a range, in SI base units; for a list, of each of its items."""
    return quantity_of(given, written, given.items[0] if given.kind == "list" else given.kind, given.name)[0]


@cache
def _defaults(name: str) -> Mapping[str, Any]:
    return _read_defaults(model(name))


def _read_defaults(found: Model) -> Mapping[str, Any]:
    may = (each for each in found.givens if each.default is not None)
    return MappingProxyType(
        {each.name: read_input(each, each.default, "default", found).value if each.default else None for each in may}
    )


def defaults_of(found: Model) -> Mapping[str, Any]:
    """Defaults of a model in SI base units; inputs that must be given are not among them."""
    return _defaults(found.name) if _by_name().get(_plain(found.name)) is found else _read_defaults(found)
