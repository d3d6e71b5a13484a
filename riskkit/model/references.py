"""Which records a record points at, found from the annotations of its class.

One place for the links, the rename command, the unknown-reference rule and the graph.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any, get_args

from pydantic import BaseModel

from riskkit.model.fields import Block, Refers

Path = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Reference:
    """One id inside a record: where it stands, what it may point at and how the link reads."""

    path: Path
    target: str
    refers: Refers


def references(block: Block, path: Path = ()) -> Iterator[Reference]:
    """Every reference inside a record or block, in the order of its fields; an alias is used in paths."""
    for name, key, marker, nested in _plan(type(block)):
        value = getattr(block, name)
        if value is None or value == ():
            continue
        here = (*path, key)
        if marker is not None:
            yield from _marked(value, here, marker)
        elif nested:
            yield from _inside(value, here)


def _marked(value: Any, path: Path, marker: Refers) -> Iterator[Reference]:
    if isinstance(value, str):
        yield Reference(path, value, marker)
    elif marker.keys:
        for target in value:
            yield Reference((*path, target), target, marker)
    else:
        for place, target in enumerate(value):
            yield Reference((*path, place), target, marker)


def _inside(value: Any, path: Path) -> Iterator[Reference]:
    if isinstance(value, Block):
        yield from references(value, path)
    elif isinstance(value, tuple):
        for place, item in enumerate(value):
            yield from references(item, (*path, place))
    elif isinstance(value, dict):
        for name, item in value.items():
            yield from _inside(item, (*path, name))


@cache
def _plan(kind: type[Block]) -> tuple[tuple[str, str, Refers | None, bool], ...]:
    """The fields of a class that can hold references: name, key in the file, marker, nested blocks."""
    plan = []
    for name, info in kind.model_fields.items():
        marker = next((mark for mark in info.metadata if isinstance(mark, Refers)), None)
        marker = marker or _marker_within(info.annotation)
        nested = marker is None and _holds_blocks(info.annotation)
        if marker is not None or nested:
            plan.append((name, info.alias or name, marker, nested))
    return tuple(plan)


def _marker_within(annotation: Any) -> Refers | None:
    """`Annotated[Ids, Refers(...)] | None` keeps its marker one level down."""
    for inner in get_args(annotation):
        for mark in getattr(inner, "__metadata__", ()):
            if isinstance(mark, Refers):
                return mark
    return None


def _holds_blocks(annotation: Any) -> bool:
    if isinstance(annotation, type):
        return issubclass(annotation, BaseModel)
    return any(_holds_blocks(inner) for inner in get_args(annotation))
