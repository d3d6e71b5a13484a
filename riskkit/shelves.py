"""Finds things that are added by adding a file: rules in a package, catalogs and templates beside it."""

from __future__ import annotations

import importlib
import os
from collections.abc import Callable, Hashable, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any, TypeVar, cast

Thing = TypeVar("Thing")


def collect(package: str, kind: type[Thing]) -> tuple[Thing, ...]:
    """All instances of a kind that stand in the modules of a package, by module and then by place in it.

    Raises:
        ValueError: where two of them have one name.
    """
    return cast("tuple[Thing, ...]", _collected(package, cast(Hashable, kind)))


@cache
def _collected(package: str, kind: Hashable) -> tuple[object, ...]:
    folder = os.path.dirname(cast(str, importlib.import_module(package).__file__))
    names = sorted(entry[:-3] for entry in os.listdir(folder) if entry.endswith(".py") and entry != "__init__.py")
    found: dict[str, object] = {}
    for name in names:
        module = importlib.import_module(f"{package}.{name}")
        for thing in vars(module).values():
            if isinstance(thing, cast("type[object]", kind)):
                title = cast(str, getattr(thing, "name"))  # noqa: B009 - every kind on a shelf has a name
                if found.setdefault(title, thing) is not thing:
                    raise ValueError(f"two things on the shelf {package} are called {title}")
    return tuple(found.values())


def names_of(room: str, homes: Mapping[str, Sequence[str]]) -> tuple[Callable[[str], Any], Callable[[], list[str]]]:
    """`__getattr__` and `__dir__` of a package whose names are looked up in its modules when they are first used.

    Args:
        room: The package.
        homes: Module of the package -> the names that it gives.
    """
    module_of = {name: module for module, names in homes.items() for name in names}

    def look_up(name: str) -> Any:
        if name in module_of:
            return getattr(importlib.import_module(f"{room}.{module_of[name]}"), name)
        raise AttributeError(f"module {room!r} has no attribute {name!r}")

    return look_up, lambda: sorted(module_of)


def data_dir(name: str) -> Path:
    """The folder `catalogs` or `templates`: in a wheel beside this file, in a checkout one level up.

    Raises:
        FileNotFoundError: where the installation is incomplete.
    """
    here = Path(__file__).resolve().parent
    for place in (here / name, here.parent / name):
        if place.is_dir():
            return place
    raise FileNotFoundError(f"riskkit is installed without its folder {name}")
