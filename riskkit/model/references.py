"""Which records a record points at, found from the annotations of its class.

One place for the links, the rename command, the unknown-reference rule and the graph.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any, get_args

from pydantic import BaseModel

from riskkit.model.fields import Block, Record, Refers
from riskkit.model.records import Cause
from riskkit.model.upkeep import Waiver
from riskkit.model.verification import Result

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


def named_ids(record: Record) -> Iterator[tuple[Path, str, bool]]:
    """Every place in a record that holds the id of another one: path, id, and whether it is the name of a field.

    These are the references, and the ids that point nowhere as links: what a waiver is about and what a result
    remembers.
    """
    for reference in references(record):
        yield reference.path, reference.target, reference.refers.keys
    if isinstance(record, Waiver):
        yield ("record",), record.record, False
    if isinstance(record, Result):
        for id in record.remembers:
            yield ("remembers", id), id, True


@dataclass(frozen=True, slots=True)
class LinkField:
    """A field of a kind of record that can hold ids; `many` where it is a list."""

    name: str
    refers: Refers
    many: bool

    def takes(self, section: str) -> bool:
        """Whether ids of that section may stand in it."""
        return section in self.refers.sections or self.refers.sections[0] == "any"


@cache
def link_fields(kind: type[Record]) -> tuple[LinkField, ...]:
    """The fields of a kind of record in which other records are named by their bare ids, in their order."""
    found = []
    for name, info in kind.model_fields.items():
        key = info.alias or name
        marker = next((mark for mark in info.metadata if isinstance(mark, Refers)), None)
        marker = marker or _marker_within(info.annotation)
        if marker is not None and not marker.keys:
            found.append(LinkField(key, marker, "tuple" in str(info.annotation)))
        elif name == "causes":  # a cause may be written as a bare id
            found.append(
                LinkField(
                    key, next(mark for mark in Cause.model_fields["by"].metadata if isinstance(mark, Refers)), True
                )
            )
    return tuple(found)


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
