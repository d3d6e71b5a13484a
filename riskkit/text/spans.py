"""Where every key and value of a text begins and ends, character by character: what an edit may replace.

Reading keeps only beginnings, because ends cost time that only editing needs (`positions.py`).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

from riskkit.text.libyaml import libyaml
from riskkit.text.positions import Path

PROPERTIES = re.compile(r"(?:[&!][^\s,\[\]{}]*[^\S\r\n]*)+")
"""Anchors and tags before a value."""


@dataclass(slots=True)
class Span:
    """A value in a text, from its first to behind its last character.

    `start` includes an anchor or tag, `content` is behind it. `end` is behind the last character that says
    something; `limit` is where the parser itself saw the end, which for a block text is behind its blank lines.
    """

    kind: str
    start: int
    content: int
    end: int
    limit: int
    flow: bool = False
    quoted: bool = False
    fields: dict[str, tuple[Span, Span]] = field(default_factory=dict)
    """Of a group: name -> (the name, the value)."""
    items: list[Span] = field(default_factory=list)
    """Of a list."""
    word: str = ""
    """Of an alias: the name of the anchor; of a plain value: what it says, as text."""

    @property
    def children(self) -> list[Span]:
        """Values directly inside, in the order of the text."""
        return [value for _, value in self.fields.values()] if self.kind == "group" else self.items


def spans(text: str) -> Span | None:
    """The value that a whole text holds; None where it holds none.

    Args:
        text: Without a byte order mark; it must be readable.

    Raises:
        Exception: libyaml's own errors.
    """
    parser, events = libyaml()
    get_event = parser(text.encode("utf-8")).get_event
    stack: list[tuple[Span, list[Span]]] = []
    root: Span | None = None
    while (event := get_event()) is not None:
        kind = type(event)
        if kind is events.ScalarEvent:
            node = _scalar(text, event)
        elif kind is events.AliasEvent:
            start, end = event.start_mark.index, event.end_mark.index
            node = Span("alias", start, start, end, end, word=str(event.anchor))
        elif kind is events.MappingStartEvent or kind is events.SequenceStartEvent:
            start = event.start_mark.index
            content = _behind_properties(text, start)
            flow = text[content : content + 1] in ("{", "[") or bool(stack and stack[-1][0].flow)
            sort = "group" if kind is events.MappingStartEvent else "list"
            stack.append((Span(sort, start, content, content, content, flow), []))
            continue
        elif kind is events.MappingEndEvent or kind is events.SequenceEndEvent:
            node, inside = stack.pop()
            _close(node, inside, event.end_mark.index, text)
        else:
            continue
        if stack:
            stack[-1][1].append(node)
        else:
            root = node
    return root


def _scalar(text: str, event: Any) -> Span:
    start, limit = event.start_mark.index, event.end_mark.index
    content = min(_behind_properties(text, start), limit)
    first = text[content : content + 1]
    end = limit
    if first in ("|", ">") and limit > content:
        end = content + len(text[content:limit].rstrip())
    quoted = first in ('"', "'") and limit > content
    return Span("scalar", start, content, end, limit, quoted=quoted, word=event.value)


def _behind_properties(text: str, start: int) -> int:
    found = PROPERTIES.match(text, start)
    return found.end() if found is not None else start


def _close(node: Span, inside: list[Span], limit: int, text: str) -> None:
    if node.kind == "list":
        node.items = inside
    else:
        for name, value in zip(inside[::2], inside[1::2], strict=True):
            # A name that is no plain word is complained about by reading, which comes first.
            node.fields.setdefault(name.word, (name, value))
    if node.flow and text[limit - 1 : limit] in ("}", "]") and text[node.content : node.content + 1] in ("{", "["):
        node.end = node.limit = limit
    elif inside:
        node.end = max(max(each.end for each in inside), node.content)
        node.limit = max(max(each.limit for each in inside), node.content)


def walk(root: Span, path: Path) -> tuple[Span, int]:
    """The value that a path leads to, and how many of its steps lead anywhere; an alias ends the walk."""
    node = root
    for number, step in enumerate(path):
        if node.kind == "group" and step in node.fields:
            node = node.fields[str(step)][1]
        elif node.kind == "list" and isinstance(step, int) and 0 <= step < len(node.items):
            node = node.items[step]
        else:
            return node, number
    return node, len(path)
