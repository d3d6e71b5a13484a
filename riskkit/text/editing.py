"""Editing a file that people wrote: exact characters are replaced, and everything else stays byte for byte.

Each edit is proven before it is handed back: the new text is read again, and its data must be the old data
with the change that was asked for and no other. Where a file has no anchors, the proof reads only the lines
of the record: what a parser makes of the lines behind them depends on nothing else in them, as long as it
finds the next record where it found it before. A file in which no way of writing passes is left alone.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from riskkit.text.positions import Document, Node, Path
from riskkit.text.spans import Span, spans, walk
from riskkit.text.splicing import BREAK, CannotEdit, Order, Page, Splice, Splices, spliced
from riskkit.text.syntax import parse_file

BOM = "\ufeff"
_RARE_BREAK = re.compile("[\r\x85\u2028\u2029]")
_BLANKS = re.compile(" *")
_DASH = re.compile(" *- +")
_ANCHOR = re.compile(r"[&*](?<![\w)][&*])[^\s,\[\]{}]")
_SENTINEL, _NEXT_SECTION = "next-record", "next-section"


@dataclass(frozen=True, slots=True)
class Edited:
    """A file's bytes after an edit; `head` and `lines` are the record alone where it could be cut out.

    `head` is the number of lines before `lines`, which begin with the name of the record.
    """

    content: bytes
    data: Node
    head: int = 0
    lines: str = ""


def set_field(
    document: Document,
    content: bytes,
    record: Path,
    path: Path,
    value: Node,
    typed: str | None = None,
    order: Order = lambda _: (),
) -> Edited:
    """Give a field of a record a value; what is missing on the way is added in the record's own style.

    Args:
        document: The file as it was read.
        content: Its bytes.
        record: Path to the record: section and id, section and place in the list, or `device`.
        path: From the record to the field.
        value: Plain data.
        typed: The value as a person typed it; it is written so where that means the same.
        order: Names of the fields in their usual order, for the place of a new one: of the record for an empty
            path, of a group inside it for the path to that group.

    Raises:
        CannotEdit: where no way of writing it changes this and nothing else.
    """
    return _edit(
        document,
        content,
        record,
        path,
        lambda page, start: page.setting(start, path, value, typed, order),
        lambda data: _with(data, path, value),
    )


def remove_field(document: Document, content: bytes, record: Path, path: Path) -> Edited:
    """Take a field, or an entry of a list, out of a record with the comment in its line.

    Raises:
        CannotEdit: where it is not there, or cannot be taken out alone.
    """
    return _edit(
        document,
        content,
        record,
        path,
        lambda page, start: page.taking_out((*start, *path)),
        lambda data: _without(data, path),
    )


def add_to_list(
    document: Document, content: bytes, record: Path, path: Path, item: Node, order: Order = lambda _: ()
) -> Edited:
    """Add an entry to a list of a record; a list that is not there yet is begun.

    Raises:
        CannotEdit: where that would touch others.
    """
    here = _at(document.data, (*record, *path))
    if here is None or here == []:
        return set_field(document, content, record, path, [item], None, order)
    wanted = [*here, item] if isinstance(here, list) else [here, item]
    return _edit(
        document,
        content,
        record,
        path,
        lambda page, start: page.appending((*start, *path), item),
        lambda data: _with(data, path, wanted),
    )


def remove_from_list(document: Document, content: bytes, record: Path, path: Path) -> Edited:
    """Take an entry out of a list, or the value that stands for a list of one; what is left may be `[]`.

    Args:
        document: The file as it was read.
        content: Its bytes.
        record: Path to the record.
        path: To the entry: its place last, or to the single value.

    Raises:
        CannotEdit: where that would touch others.
    """
    if isinstance(path[-1], int):
        return remove_field(document, content, record, path)
    return set_field(document, content, record, path, [], "[]")


def replace_words(document: Document, content: bytes, words: Mapping[Path, str], keys: Mapping[Path, str]) -> Edited:
    """Put other words in the place of values and of names, in their quotes, anywhere in a file.

    Args:
        document: The file as it was read.
        content: Its bytes.
        words: Path to a text or number -> the text that takes its place.
        keys: Path to a field or record -> its new name.

    Raises:
        CannotEdit: where that would touch others.
    """
    mark, text = _decoded(document, content)
    page = _page(text)
    splices: list[Splice] = []
    for path, new in words.items():
        node, known = walk(page.root, path)
        if known == len(path) and node.kind == "scalar":
            parent, _ = walk(page.root, path[:-1])
            splices.append(page.word(node, new, flow=parent.flow))
    for path, new in keys.items():
        parent, known = walk(page.root, path[:-1])
        if known == len(path) - 1 and parent.kind == "group" and path[-1] in parent.fields:
            splices.append(page.word(parent.fields[str(path[-1])][0], new, flow=True))
    wanted = _renamed(document.data, words, keys, ())
    found = _proven_whole(document.name, text, wanted, [tuple(dict.fromkeys(splices))])
    if found is None:
        raise CannotEdit(
            f"{document.name} repeats what would be changed by an alias, or writes it in several lines",
            "write it out there by hand, then ask again",
        )
    return Edited((mark + found).encode("utf-8"), wanted)


def remove_record(document: Document, content: bytes, record: Path) -> Edited:
    """Take a whole record out, with the comments inside it and right above it; its neighbours keep theirs.

    Raises:
        CannotEdit: where it cannot be taken out alone.
    """
    mark, text = _decoded(document, content)
    page = _page(text)
    section, rest = _at(document.data, record[:1]), record[1]
    wanted = [_without(document.data, record)]
    if isinstance(section, dict | list) and len(section) == 1:
        wanted.append({**document.data, str(record[0]): None})
    candidates = [*_record_lines(page, record, rest), *page.taking_out(record)]
    for each in wanted:
        found = _proven_whole(document.name, text, each, candidates)
        if found is not None:
            return Edited((mark + found).encode("utf-8"), each)
    raise _refused(document, record, ())


# -- the edit and its proof -----------------------------------------------------------------------

Candidates = Callable[[Page, Path], Iterator[Splices]]
Change = Callable[[Node], Node]


def _edit(
    document: Document, content: bytes, record: Path, path: Path, candidates: Candidates, change: Change
) -> Edited:
    mark, text = _decoded(document, content)
    data = _at(document.data, record)
    wanted = change(data)
    piece = cut_out(document, text, record, data)
    try:
        if piece is not None:
            for splices in candidates(_page(piece.text), piece.path):
                new = _tried(piece.text, splices)
                if new is not None and piece.holds(document.name, new, wanted):
                    whole = text[: piece.start] + new + text[piece.start + len(piece.text) :]
                    return Edited((mark + whole).encode("utf-8"), wanted, piece.head, new)
        whole_data = _with(document.data, record, wanted)
        found = _proven_whole(document.name, text, whole_data, candidates(_page(text), record))
    except CannotEdit:
        found = None
    if found is None:
        raise _refused(document, record, path)
    return Edited((mark + found).encode("utf-8"), wanted)


def _refused(document: Document, record: Path, path: Path) -> CannotEdit:
    place = document.place((*record, *path))
    what = ".".join(str(step) for step in (*record[1:], *path)) or str(record[0])
    return CannotEdit(
        f"{what} cannot be changed at {place} without touching other lines",
        "an anchor, an alias or an unusual way of writing stands there; change it by hand in an editor",
    )


def _decoded(document: Document, content: bytes) -> tuple[str, str]:
    if document.diagnostics:
        found = document.diagnostics[0]
        raise CannotEdit(
            f"{document.name} cannot be read as written: {found.headline} (line {found.place.line})",
            "mend it by hand first; `riskkit check` says where",
        )
    text = content.decode("utf-8")
    return (BOM, text[1:]) if text.startswith(BOM) else ("", text)


def _page(text: str) -> Page:
    root = spans(text)
    if root is None:
        raise CannotEdit("the file is empty", "add a record first")
    return Page(text, root)


def _tried(text: str, splices: Splices) -> str | None:
    """The text with the replacements, or None where they overlap or leave all as it is."""
    try:
        new = spliced(text, splices)
    except ValueError:
        return None
    return new


def _proven_whole(name: str, text: str, wanted: Node, candidates: Iterator[Splices] | Sequence[Splices]) -> str | None:
    for splices in candidates:
        new = _tried(text, splices)
        if new is None:
            continue
        again = parse_file(name, new.encode("utf-8"))
        if not again.diagnostics and same(again.data, wanted):
            return new
    return None


@dataclass(frozen=True, slots=True)
class Piece:
    """The lines of one record, cut out of a file, with a line before and behind that make them readable alone.

    `path` leads from the top of the lines to the record; `neighbour` and `section` say whether the line behind
    begins another record or another section.
    """

    text: str
    start: int
    head: int
    path: Path
    before: str = ""
    after: str = ""
    neighbour: bool = False
    section: bool = False

    def holds(self, name: str, text: str, wanted: Node, more: Mapping[str, Node] = MappingProxyType({})) -> bool:
        """Whether lines in this place would be read as that record, and the next line as it was before.

        `more` are records (id -> fields) that follow it in the same lines.
        """
        again = parse_file(name, f"{self.before}{text}{self.after}".encode())
        return not again.diagnostics and same(again.data, self._around(wanted, more))

    def _around(self, data: Node, more: Mapping[str, Node]) -> Node:
        if not self.before:
            inner: Node = {self.path[0]: data}
        elif isinstance(self.path[0], int):
            entries = [data, *({"id": id, **fields} for id, fields in more.items())]
            inner = {_SENTINEL: [*entries, _SENTINEL] if self.neighbour else entries}
        else:
            inner = {_SENTINEL: {self.path[0]: data, **more} | ({_SENTINEL: 0} if self.neighbour else {})}
        return inner | ({_NEXT_SECTION: 0} if self.section else {})


def cut_out(document: Document, text: str, record: Path, data: Node) -> Piece | None:
    """The lines of a record, where it stands in lines of its own and no anchor of the file can reach it."""
    if ("&" in text or "*" in text) and _ANCHOR.search(text):
        return None
    section = str(record[0])
    here, top = document.place(record, key=True), document.place((section,), key=True)
    names = list(document.data)
    following = [document.place((each,), key=True) for each in names[names.index(section) + 1 :][:1]]
    neighbour, in_list, path = False, False, record[-1:]
    if len(record) > 1:
        if here.line == top.line:
            return None
        held = document.data[section]
        in_list = isinstance(held, list)
        others = list(range(len(held))) if in_list else list(held)
        beside = others[others.index(record[1]) + 1 :][:1]
        path = (0,) if in_list else path
        if beside:
            neighbour, following = True, [document.place((section, beside[0]), key=True)]
    lines = _line_starts(text, here.line, following[0].line if following else None)
    margin = _DASH if in_list else _BLANKS
    if lines is None or margin.fullmatch(text, lines[0], lines[0] + here.column - 1) is None:
        return None
    after = ""
    if following:
        kept = text[lines[1] : lines[1] + following[0].column - 1]
        if (_DASH if neighbour and in_list else _BLANKS).fullmatch(kept) is None:
            return None
        word = f"{_SENTINEL}: 0" if not in_list else f'"{_SENTINEL}"'
        after = kept + (word if neighbour else f"{_NEXT_SECTION}: 0") + "\n"
    before = f"{' ' * (top.column - 1)}{_SENTINEL}:\n" if len(record) > 1 else ""
    section_follows = bool(following) and not neighbour
    piece = Piece(text[slice(*lines)], lines[0], here.line - 1, path, before, after, neighbour, section_follows)
    return piece if piece.holds(document.name, piece.text, data) else None


def _line_start(text: str, at: int, lines: int) -> int:
    """Where the line begins that is so many lines further on; only `\\n` ends a line."""
    for _ in range(lines):
        at = text.index("\n", at) + 1
    return at


def _line_starts(text: str, first: int, following: int | None) -> tuple[int, int] | None:
    """Where two lines begin, counted from 1 as libyaml counts them; the end of the text for no line."""
    if not _RARE_BREAK.search(text):
        begin = _line_start(text, 0, first - 1)
        return begin, len(text) if following is None else _line_start(text, begin, following - first)
    begin, line = (0, 1) if first == 1 else (-1, 1)
    for found in BREAK.finditer(text):
        line += 1
        if line == first:
            begin = found.end()
        if line == following:
            return (begin, found.end()) if begin >= 0 else None
        if following is None and begin >= 0:
            break
    return (begin, len(text)) if begin >= 0 and following is None else None


def _record_lines(page: Page, record: Path, step: str | int) -> Iterator[Splices]:
    """The lines of a record with its own comments, and one of the blank gaps around it."""
    section, known = walk(page.root, record[:1])
    if known < 1 or section.flow or section.kind not in ("group", "list"):
        return
    key, value = section.fields[str(step)] if section.kind == "group" else (section.items[int(step)],) * 2
    begin = page.line_start(key.start)
    margin = (_BLANKS if section.kind == "group" else _DASH).fullmatch(page.text, begin, key.start)
    if margin is None:
        return
    column = page.column(key.start) if section.kind == "group" else margin[0].index("-")
    end = page.next_line(max(key.end, value.end))
    while end < len(page.text) and (_comment_column(page, end) or 0) > column:
        end = page.next_line(end)
    head = page.next_line(page.root.fields[str(record[0])][0].end)
    start = begin
    while start > head and _comment_column(page, page.line_start(start - 1)) == column:
        start = page.line_start(start - 1)
    if start == head:
        start = begin  # comments right below the name of the section may be about the whole section
    before, after = start, end
    while before > head and _is_blank(page, page.line_start(before - 1)):
        before = page.line_start(before - 1)
    while after < len(page.text) and _is_blank(page, after):
        after = page.next_line(after)
    if after == len(page.text):
        yield (Splice(before, after, ""),)
    if before < start or start == head:
        yield (Splice(start, after, ""),)
    yield (Splice(start, end, ""),)
    yield (Splice(begin, end, ""),)


def _comment_column(page: Page, at: int) -> int | None:
    """Where the comment begins in a line that holds nothing else; None for any other line."""
    line = page.text[at : page.line_end(at)]
    return len(line) - len(line.lstrip(" ")) if line.lstrip(" ").startswith("#") else None


def _is_blank(page: Page, at: int) -> bool:
    return not page.text[at : page.line_end(at)].strip()


# -- data -----------------------------------------------------------------------------------------


def same(here: Any, there: Any) -> bool:
    """Equal in value and sort: `1`, `1.0`, `true` and `"1"` are four things. The order of names does not count."""
    if type(here) is not type(there):
        return False
    if isinstance(here, dict):
        return here.keys() == there.keys() and all(same(value, there[key]) for key, value in here.items())
    if isinstance(here, list):
        return len(here) == len(there) and all(same(one, other) for one, other in zip(here, there, strict=True))
    return bool(here == there)


def _at(data: Node, path: Path) -> Any:
    step: Any
    for step in path:
        if (isinstance(data, dict) and step in data) or (
            isinstance(data, list) and isinstance(step, int) and 0 <= step < len(data)
        ):
            data = data[step]
        else:
            return None
    return data


def _with(data: Node, path: Path, value: Node) -> Node:
    """Plain data with a value at a path."""
    if not path:
        return value
    step, rest = path[0], path[1:]
    if isinstance(data, list):
        if not isinstance(step, int) or not 0 <= step < len(data):
            raise CannotEdit(f"the list has no entry {step}", f"it has {len(data)}, counted from 0")
        return [_with(each, rest, value) if place == step else each for place, each in enumerate(data)]
    if data is None:
        data = {}
    if not isinstance(data, dict):
        raise CannotEdit(f"`{data}` is no group of fields, so there is no `{step}` in it", "set the whole field")
    if step in data:
        return {key: _with(each, rest, value) if key == step else each for key, each in data.items()}
    return {**data, str(step): _with(None, rest, value)}


def _without(data: Node, path: Path) -> Node:
    step, rest = path[0], path[1:]
    there = (isinstance(data, dict) and step in data) or (
        isinstance(data, list) and isinstance(step, int) and 0 <= step < len(data)
    )
    if not there:
        raise CannotEdit(f"there is no `{step}` to take out", "look at the record")
    if isinstance(data, list):
        if rest:
            return [_without(each, rest) if place == step else each for place, each in enumerate(data)]
        return [each for place, each in enumerate(data) if place != step]
    if rest:
        return {key: _without(each, rest) if key == step else each for key, each in data.items()}
    return {key: each for key, each in data.items() if key != step}


def _renamed(data: Node, words: Mapping[Path, str], keys: Mapping[Path, str], path: Path) -> Node:
    if isinstance(data, dict):
        return {keys.get((*path, key), key): _renamed(each, words, keys, (*path, key)) for key, each in data.items()}
    if isinstance(data, list):
        return [_renamed(each, words, keys, (*path, place)) for place, each in enumerate(data)]
    return words.get(path, data)


def path_at(document: Document, content: bytes, line: int, column: int) -> tuple[Path, bool, str] | None:
    """The word that begins at a line and column, counted from 1; None where no single value or name begins there.

    Returns:
        The path to it, whether it is the name of a field, and how it is written.
    """
    page = _page(_decoded(document, content)[1])
    lines = _line_starts(page.text, line, None)
    waiting: list[tuple[Path, Span]] = [((), page.root)]
    while waiting and lines is not None:
        at = lines[0] + column - 1
        path, node = waiting.pop()
        if node.kind == "scalar" and node.start == at:
            return path, False, page.text[node.start : node.end]
        for name, (key, value) in node.fields.items():
            if key.start == at:
                return (*path, name), True, page.text[key.start : key.end]
            waiting.append(((*path, name), value))
        waiting += [((*path, place), each) for place, each in enumerate(node.items)]
    return None
