"""Values as YAML text, the way people write them: short ones in one line, long ones in lines of their own.

Whoever uses this reads the text again before it is written: where plain words would mean something else, the
next way of writing is tried.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence

from riskkit.diagnostics import RiskkitError
from riskkit.text.positions import Node

WIDTH = 110
_UNSEEN = re.compile("[\x7f-\x9f\u2028\u2029\ufeff\ufffe\uffff]")
_WORD = re.compile(r"[^\W\d][\w.-]*(?: [\w.-]+)*\Z")
_OTHERWISE_READ = re.compile(r"[-+.\d][-+.:_\d\sxXoOeE]*|(?i:y|n|yes|no|on|off|true|false|null|~)")
_DAY = re.compile(r"\d{4}-\d\d-\d\d")
_PLAIN_START = re.compile(r"[^\s\-?:,\[\]{}#&*!|>'\"%@`]|[-?:](?=\S)")


def plain(text: str, *, flow: bool) -> str | None:
    """A text without quotes, or None where it needs some."""
    if not text or text != text.strip() or any(sign in text for sign in ("\n", "\r", "\t", ": ", " #")):
        return None
    if _UNSEEN.search(text) or not text.isprintable() or text.endswith(":") or text.startswith(("---", "...")):
        return None
    if _OTHERWISE_READ.fullmatch(text) and not _DAY.fullmatch(text):
        return None
    if _PLAIN_START.match(text) is None or (flow and any(sign in text for sign in ",[]{}:?")):
        return None
    return text


def quoted(text: str) -> str:
    """A text in double quotes.

    Raises:
        RiskkitError: where it holds something that no UTF-8 file can hold.
    """
    try:
        text.encode("utf-8")
    except UnicodeEncodeError:
        raise RiskkitError("the text holds bytes that are not UTF-8", "type it on a terminal that uses UTF-8") from None
    return _UNSEEN.sub(lambda found: f"\\u{ord(found[0]):04x}", json.dumps(text, ensure_ascii=False))


def single_quoted(text: str) -> str | None:
    """A text in single quotes, or None where these cannot hold it."""
    return "'" + text.replace("'", "''") + "'" if text.isprintable() and not _UNSEEN.search(text) else None


def name(text: str) -> str:
    """A name of a field or an id, as it stands before a colon."""
    return text if _WORD.match(text) and not _OTHERWISE_READ.fullmatch(text) else quoted(text)


def inline(value: Node, *, flow: bool = False) -> str:
    """A value in one line."""
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{name(key)}: {inline(item, flow=True)}" for key, item in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(inline(item, flow=True) for item in value) + "]"
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return plain(value, flow=flow) or quoted(value)
    return repr(value)


def field_lines(key: str, value: Node, indent: int) -> list[str]:
    """`key: value` in as many lines as it takes, without line ends."""
    margin = " " * indent
    head = f"{margin}{name(key)}:"
    if isinstance(value, str) and "\n" in value:
        block = literal(value, indent + 2)
        if block is not None:
            return [f"{head} {block[0]}", *block[1:]]
    one = f"{head} {inline(value)}"
    if fits_one_line(value, len(head)):
        return [one]
    return [head, *value_lines(value, indent + 2)]


def value_lines(value: Node, indent: int) -> list[str]:
    """A group or list in lines of its own."""
    margin = " " * indent
    if isinstance(value, Mapping) and value:
        return [line for key, item in value.items() for line in field_lines(key, item, indent)]
    if isinstance(value, Sequence) and not isinstance(value, str) and value:
        return [f"{margin}- {inline(item)}" for item in value]
    return [margin + inline(value)]


def fits_one_line(value: Node, before: int = 0) -> bool:
    """Whether a person would write it in one line."""
    if not isinstance(value, Mapping | list | tuple) or not value:
        return True
    if isinstance(value, Mapping) and any(isinstance(item, Mapping) for item in value.values()):
        return False
    return before + len(inline(value)) < WIDTH


def literal(text: str, indent: int) -> list[str] | None:
    """A text of several lines as `|` and its lines, or None where only quotes can hold it."""
    lines = text.split("\n")
    if any(not line.isprintable() or line != line.rstrip() or _UNSEEN.search(line) for line in lines):
        return None
    if not lines[0] or lines[0].startswith(" ") or text.endswith("\n\n"):
        return None
    sign = "|" if text.endswith("\n") else "|-"
    body = lines[:-1] if text.endswith("\n") else lines
    return [sign, *(" " * indent + line if line else "" for line in body)]


def ways(value: Node, *, flow: bool, like: str, typed: str | None) -> Iterator[str]:
    """A value in one line in every way in which it may be written, the most natural first.

    Args:
        value: The value.
        flow: Whether it stands inside brackets.
        like: First character of what stands there now: its quotes are kept.
        typed: How a person typed it, if one did.
    """
    if isinstance(value, str):
        if like == '"':
            yield quoted(value)
        if like == "'" and (single := single_quoted(value)) is not None:
            yield single
    if typed is not None and typed == typed.strip() and "\n" not in typed and "\r" not in typed:
        yield typed
    yield inline(value, flow=flow)
    if isinstance(value, str):
        yield quoted(value)
