"""One YAML file becomes plain data, and the line and column of every key and value in it.

Positions stand in one flat array in the order in which the values were written, so that reading
300,000 lines costs little and a place is looked up only when a finding needs it. What YAML allows
and a register does not want (tags, merges, duplicate keys, bombs) becomes a finding.
"""

from __future__ import annotations

import gc
from array import array
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from riskkit.diagnostics import Diagnostic, Place, Related, Severity
from riskkit.text.libyaml import libyaml
from riskkit.text.scalars import MAY_BE_MORE_THAN_TEXT, NotANumber, meaning

Path = tuple[str | int, ...]
Node = Any
"""Plain data: dict, list, str, int, float, bool or None."""

DEEPEST = 64
MOST_ALIASED = 20_000
COLUMN_BITS = 20
COLUMN_MASK = (1 << COLUMN_BITS) - 1


@contextmanager
def without_garbage_collector() -> Iterator[None]:
    """Reading makes many objects and no cycles: looking for cycles all the while makes it five times slower."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


@dataclass(frozen=True)
class Document:
    """One file: its data, what was wrong with it, and where everything stands.

    `lost` names the records (section, id) that could not be read because of a syntax error.
    """

    name: str
    data: Node
    diagnostics: tuple[Diagnostic, ...] = ()
    lost: tuple[tuple[str, str], ...] = ()
    marks: array[int] = field(default_factory=lambda: array("Q"), repr=False)
    heads: dict[tuple[str, str], int] = field(default_factory=dict, repr=False)
    """(section, id) -> index of the id's position, for records that are groups: most look-ups begin there."""
    words: frozenset[str] = frozenset()
    """Every different word of the file as it stands there, punctuation included."""
    _starts: dict[tuple[int, str | int], int] = field(default_factory=dict, init=False, repr=False, compare=False)

    def place(self, path: Path, *, key: bool = False) -> Place:
        """Line and column of a value; of the nearest thing around it where the path leads nowhere.

        Args:
            path: Keys and list indexes from the top.
            key: True for the place of the last key instead of its value.
        """
        here, index, found_key, path = self._begin(path)
        for step in path:
            if isinstance(here, dict) and step in here:
                index = self._child(here, index, step)
                found_key = index
                index += 1
            elif isinstance(here, list) and isinstance(step, int) and 0 <= step < len(here):
                index = self._child(here, index, step)
                found_key = index
            else:
                break
            here = here[step]
        wanted = found_key if key else index
        if wanted >= len(self.marks):
            return Place(self.name, 1, 1)
        mark = self.marks[wanted]
        return Place(self.name, (mark >> COLUMN_BITS) + 1, (mark & COLUMN_MASK) + 1)

    def _begin(self, path: Path) -> tuple[Node, int, int, Path]:
        """Where a look-up begins: at the record where its place is known, else at the top."""
        if len(path) > 1 and isinstance(path[0], str) and isinstance(path[1], str):
            head = self.heads.get((path[0], path[1]))
            if head is not None:
                return self.data[path[0]][path[1]], head + 1, head, path[2:]
        return self.data, 0, 0, path

    def is_hurt(self, path: Path) -> bool:
        """Whether any finding about the file itself stands inside the value that a path leads to."""
        if not self.diagnostics:
            return False
        here, index = self.data, 0
        for step in path:
            index = self._child(here, index, step) + isinstance(here, dict)
            here = here[step]
        first = (self.marks[index - 1] >> COLUMN_BITS) + 1 if path else 1
        last = max(mark >> COLUMN_BITS for mark in self.marks[index : index + size(here)]) + 1
        return any(first <= found.place.line <= last for found in self.diagnostics)

    def _child(self, here: Node, index: int, step: str | int) -> int:
        """Index of a key (in a group) or of an item (in a list); looked up once for all children."""
        known = self._starts.get((index, step))
        if known is not None:
            return known
        at = index + 1
        if isinstance(here, dict):
            for name, value in here.items():
                self._starts[index, name] = at
                at += 1 + size(value)
        else:
            for number, value in enumerate(here):
                self._starts[index, number] = at
                at += size(value)
        return self._starts[index, step]


def size(node: Node) -> int:
    """Number of positions that a value takes: its own, and those of all keys and values inside it."""
    if isinstance(node, dict):
        return 1 + len(node) + sum(map(size, node.values()))
    if isinstance(node, list):
        return 1 + sum(map(size, node))
    return 1


def depth(node: Node) -> int:
    """Number of groups and lists inside one another; 0 for a plain value."""
    if isinstance(node, dict):
        return 1 + max(map(depth, node.values()), default=0)
    if isinstance(node, list):
        return 1 + max(map(depth, node), default=0)
    return 0


def _too_deep(complaints: Complaints, line: int, column: int) -> Diagnostic:
    return complaints.make(
        "too-deep",
        f"groups are nested more than {DEEPEST} deep here",
        line,
        column,
        "no record is that deep; look for a bracket too many",
    )


class Refused(Exception):
    """The file cannot be read further; carries the finding that says why."""

    def __init__(self, finding: Diagnostic) -> None:
        super().__init__(finding.headline)
        self.finding = finding


class Complaints:
    """Collects the findings of one file while it is read."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.found: list[Diagnostic] = []

    def make(
        self, rule: str, headline: str, line: int, column: int, help: str, related: tuple[Related, ...] = ()
    ) -> Diagnostic:
        """A finding at a line and column counted from 0, as libyaml does."""
        place = Place(self.name, line + 1, column + 1)
        return Diagnostic(rule, Severity.ERROR, headline, place, "", help, related, breaks=True)

    def add(self, rule: str, headline: str, mark: int, help: str, related: tuple[Related, ...] = ()) -> None:
        """Keep a finding at a packed position."""
        self.found.append(self.make(rule, headline, mark >> COLUMN_BITS, mark & COLUMN_MASK, help, related))


class _Group:
    """A dict or list that is being filled."""

    __slots__ = ("anchor", "complex_key", "container", "discard", "key", "key_marks", "keyed", "start", "wants_key")

    def __init__(self, container: Node, keyed: bool, start: int, anchor: str | None) -> None:
        self.container = container
        self.keyed = keyed
        self.start = start
        self.anchor = anchor
        self.wants_key = keyed
        self.key: str | None = None
        self.key_marks: dict[str, int] = {}
        """Positions of its keys, filled when the first of them is repeated."""
        self.complex_key = False
        """True while a group or list in the place of a key is being passed over."""
        self.discard = -1
        """Number of positions to go back to when the value that comes is not kept; -1 where it is kept."""


def build(content: bytes, complaints: Complaints) -> tuple[Node, array[int], dict[tuple[str, str], int]]:
    """Data and positions of one file's bytes, and where its records begin among the positions.

    Raises:
        Refused: where reading cannot go on.
        Exception: libyaml's own errors, for the caller to translate.
    """
    parser, events = libyaml()
    get_event = parser(content).get_event
    scalar, alias, document = events.ScalarEvent, events.AliasEvent, events.DocumentStartEvent
    group_start, list_start = events.MappingStartEvent, events.SequenceStartEvent
    group_end, list_end = events.MappingEndEvent, events.SequenceEndEvent
    marks: array[int] = array("Q")
    mark_down = marks.append
    plain_starts = MAY_BE_MORE_THAN_TEXT
    stack: list[_Group] = []
    group: _Group | None = None
    anchors: dict[str, tuple[Node, array[int]]] = {}
    heads: dict[tuple[Any, Any], int] = {}
    aliased, documents = 0, 0
    root: Node = None
    while True:
        event = get_event()
        kind = type(event)
        if kind is scalar:
            value: Node = event.value
            start = event.start_mark
            mark = (start.line << COLUMN_BITS) | (start.column & COLUMN_MASK)
            plain, quoted = event.implicit
            if not plain and not quoted:
                _refuse_tag(complaints, str(event.tag), mark)
            anchor = event.anchor
            if anchor is not None:
                anchors[anchor] = (value, array("Q", (mark,)))
            if group is not None and group.wants_key:
                if value in group.container or value == "<<":
                    _refuse_key(group, value, marks, mark, complaints)
                group.wants_key = False
                group.key = value
                mark_down(mark)
                continue
            if plain and value[:1] in plain_starts:
                try:
                    value = meaning(value)
                except NotANumber:
                    complaints.add(
                        "not-a-number",
                        f"`{value}` is no number that can be read or kept",
                        mark,
                        "write a finite number",
                    )
                if anchor is not None:
                    anchors[anchor] = (value, array("Q", (mark,)))
            mark_down(mark)
        elif kind is group_start or kind is list_start:
            start = event.start_mark
            mark = (start.line << COLUMN_BITS) | (start.column & COLUMN_MASK)
            if not event.implicit:
                _refuse_tag(complaints, str(event.tag), mark)
            if len(stack) >= DEEPEST:
                raise Refused(_too_deep(complaints, start.line, start.column))
            if group is not None and group.wants_key:
                _refuse_complex_key(group, marks, mark, complaints)
            if len(stack) == 2 and _holds_records(stack):
                heads[stack[0].key, stack[1].key] = len(marks) - 1
            group = _Group({} if kind is group_start else [], kind is group_start, len(marks), event.anchor)
            stack.append(group)
            if event.anchor is not None:
                anchors[event.anchor] = (_UNFINISHED, array("Q"))
            mark_down(mark)
            continue
        elif kind is group_end or kind is list_end:
            done = stack.pop()
            value = done.container
            group = stack[-1] if stack else None
            if group is not None and group.complex_key:
                group.complex_key = False
                continue
            if done.anchor is not None:
                anchors[done.anchor] = (value, marks[done.start :])
        elif kind is alias:
            start = event.start_mark
            mark = (start.line << COLUMN_BITS) | (start.column & COLUMN_MASK)
            if group is not None and group.wants_key:
                _refuse_complex_key(group, marks, mark, complaints)
                group.complex_key = False  # an alias is no group whose end has to be waited for
                continue
            value, own_marks = _unfolded(anchors, event.anchor, mark, complaints)
            aliased += len(own_marks)
            if len(stack) + depth(value) > DEEPEST:
                raise Refused(_too_deep(complaints, start.line, start.column))
            if aliased > MOST_ALIASED:
                raise Refused(
                    complaints.make(
                        "alias-bomb",
                        f"aliases unfold to more than {MOST_ALIASED} values here",
                        start.line,
                        start.column,
                        "write the values out where they are needed",
                    )
                )
            marks.extend(own_marks)
        elif kind is document:
            documents += 1
            if documents > 1:
                start = event.start_mark
                raise Refused(
                    complaints.make(
                        "several-documents",
                        "a second document begins here; one file is one document",
                        start.line,
                        start.column,
                        "take the line `---` out, or move what follows to a file of its own",
                    )
                )
            continue
        elif event is None:
            return root, marks, heads
        else:
            continue
        if group is None:
            root = value
        elif not group.keyed:
            group.container.append(value)
        else:
            group.wants_key = True
            if group.discard < 0:
                group.container[group.key] = value
            else:
                del marks[group.discard :]
                group.discard = -1


_UNFINISHED = object()


def _holds_records(stack: list[_Group]) -> bool:
    """Whether what begins now is the value of an id in a section, and is going to be kept."""
    return all(group.keyed and group.discard < 0 for group in stack)


def _refuse_key(group: _Group, key: str, marks: array[int], mark: int, complaints: Complaints) -> None:
    """A key written twice, or a merge: complained about, and its value not kept."""
    group.discard = len(marks)
    if key in group.container:
        first = _position_of_key(group, key, marks)
        there = Place(complaints.name, (first >> COLUMN_BITS) + 1, (first & COLUMN_MASK) + 1)
        complaints.add(
            "duplicate-key",
            f"`{key}` is written twice in one group; the first is in line {there.line}",
            mark,
            "keep one of the two, or give this one another name",
            (Related(there, "the first one"),),
        )
    else:
        complaints.add("merge-key", "YAML 1.2 has no merge `<<`", mark, "write the fields out where they are needed")


def _position_of_key(group: _Group, key: str, marks: array[int]) -> int:
    """Where a key of a group stands; all keys are looked up at once, because repeats seldom come alone."""
    if key not in group.key_marks:
        at = group.start + 1
        for name, value in group.container.items():
            group.key_marks[name] = marks[at]
            at += 1 + size(value)
    return group.key_marks[key]


def _refuse_tag(complaints: Complaints, tag: str, mark: int) -> None:
    complaints.add(
        "yaml-tag",
        f"the tag `{tag.replace('tag:yaml.org,2002:', '!!')}` is not wanted in a register",
        mark,
        "take the tag out; plain data needs none",
    )


def _refuse_complex_key(group: _Group, marks: array[int], mark: int, complaints: Complaints) -> None:
    complaints.add(
        "complex-key", "a key cannot be a list, a group or an alias", mark, "write a word or an id before the colon"
    )
    group.wants_key = False
    group.complex_key = True
    group.discard = len(marks)


def _unfolded(
    anchors: dict[str, tuple[Node, array[int]]], name: str, mark: int, complaints: Complaints
) -> tuple[Node, array[int]]:
    """A copy of what an alias stands for; the positions are those of the original."""
    found = anchors.get(name)
    if found is None or found[0] is _UNFINISHED:
        what = "stands inside the very thing it repeats" if found is not None else "has no anchor before it"
        complaints.add("unknown-alias", f"the alias `*{name}` {what}", mark, "write the value out")
        return None, array("Q", (mark,))
    return _copy(found[0]), found[1]


def _copy(node: Node) -> Node:
    if isinstance(node, dict):
        return {key: _copy(value) for key, value in node.items()}
    if isinstance(node, list):
        return [_copy(value) for value in node]
    return node
