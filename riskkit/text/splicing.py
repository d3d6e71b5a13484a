"""Which characters of a text an edit replaces: candidates, the most natural first.

Nothing here decides whether a candidate is right. `editing.py` reads each one again and takes the first that
gives exactly the change that was asked for.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from riskkit.diagnostics import RiskkitError
from riskkit.text.positions import Node, Path
from riskkit.text.rendering import WIDTH, field_lines, fits_one_line, literal, name, value_lines, ways
from riskkit.text.spans import Span, walk

BREAK = re.compile("\r\n|[\r\n\x85\u2028\u2029]")
"""What libyaml counts as the end of a line."""
_COLON = re.compile(r"[^\S\r\n]*:")
_ONLY_COMMENT = re.compile(r"[^\S\r\n]*(?:#[^\r\n\x85\u2028\u2029]*)?")


Order = Callable[[Path], Sequence[str]]
"""Path to a group of a record -> the names of its fields in their usual order."""


class CannotEdit(RiskkitError):
    """A value that cannot be replaced without touching others."""


@dataclass(frozen=True, slots=True)
class Splice:
    """Characters from `start` to before `end` are replaced by `new`."""

    start: int
    end: int
    new: str


Splices = tuple[Splice, ...]


def spliced(text: str, splices: Sequence[Splice]) -> str:
    """The text with all replacements made."""
    pieces, at = [], 0
    for each in sorted(splices, key=lambda each: (each.start, each.end)):
        if each.start < at:
            raise ValueError("two replacements overlap")
        pieces += [text[at : each.start], each.new]
        at = each.end
    return "".join([*pieces, text[at:]])


class Page:
    """A text with its values, and what editing asks about its lines."""

    def __init__(self, text: str, root: Span) -> None:
        self.text = text
        self.root = root
        ends = [found[0] for found in BREAK.finditer(text[:100_000])]
        self.newline = max(("\n", "\r\n", "\r"), key=ends.count) if ends else "\n"

    # -- lines ------------------------------------------------------------------------------------

    def line_start(self, at: int) -> int:
        """Where the line of a character begins."""
        while at > 0 and BREAK.match(self.text, at - 1) is None:
            at -= 1
        return at

    def line_end(self, at: int) -> int:
        """Where the line of a character ends, before its line end."""
        found = BREAK.search(self.text, at)
        return found.start() if found is not None else len(self.text)

    def next_line(self, at: int) -> int:
        """Where the following line begins; the end of the text where there is none."""
        found = BREAK.search(self.text, at)
        return found.end() if found is not None else len(self.text)

    def column(self, at: int) -> int:
        """Characters before it in its line."""
        return at - self.line_start(at)

    def begins_line(self, at: int) -> bool:
        """Whether only blanks stand before it in its line."""
        return not self.text[self.line_start(at) : at].strip()

    def ends_line(self, at: int) -> bool:
        """Whether only blanks and a comment stand behind it in its line."""
        found = _ONLY_COMMENT.match(self.text, at)
        return found is not None and found.end() == self.line_end(at)

    def added_lines(self, at: int, lines: Sequence[str]) -> Splice:
        """New lines before the line that begins there, with the line ends of the text."""
        if at > 0 and BREAK.match(self.text, at - 1) is None:
            return Splice(at, at, "".join(self.newline + line for line in lines))
        return Splice(at, at, "".join(line + self.newline for line in lines))

    # -- setting ----------------------------------------------------------------------------------

    def setting(self, start: Path, inside: Path, value: Node, typed: str | None, order: Order) -> Iterator[Splices]:
        """Ways of giving a value to a place that may or may not be there: `inside` the record at `start`.

        Raises:
            CannotEdit: where the path leads through something that is no group.
        """
        path = (*start, *inside)
        node, known = walk(self.root, path)
        if known == len(path):
            yield from self.replacing(path, node, value, typed)
            return
        rest = path[known:]
        if node.kind == "alias":
            raise CannotEdit("")
        for step in reversed(rest[1:]):
            value = {str(step): value}
            typed = None if typed is None else f"{{{name(str(step))}: {typed}}}"
        first = str(rest[0])
        if node.kind == "group":
            yield from self.inserting(node, first, value, typed, order(path[len(start) : known]))
        elif node.kind == "scalar":
            typed = None if typed is None else f"{{{name(first)}: {typed}}}"
            yield from self.replacing(path[:known], node, {first: value}, typed)

    def replacing(self, path: Path, node: Span, value: Node, typed: str | None) -> Iterator[Splices]:
        """Ways of replacing a value that is there."""
        parent, _ = walk(self.root, path[:-1])
        key = parent.fields[str(path[-1])][0] if parent.kind == "group" else None
        inside = parent.flow
        like = self.text[node.content : node.content + 1] if node.quoted else ""
        old_block = self.text[node.content : node.content + 1] in ("|", ">") and node.kind == "scalar"
        short = inside or fits_one_line(value) or _is_short(typed)
        if key is not None and not inside and isinstance(value, str) and "\n" in value:
            yield from self._as_literal(key, node, value)
        if not short and key is not None and not inside:
            yield from self._as_lines(key, node, value)
        for written in ways(value, flow=inside, like=like, typed=typed):
            if key is not None and not inside and (node.kind in ("group", "list") and not node.flow):
                yield from self._over_lines(key, node, written)
            elif key is not None and node.content == node.end:
                at = self._behind_colon(key, node)
                yield (Splice(at, at, f" {written}"),)
                yield (Splice(at, at, f": {written}"),)
            else:
                yield (Splice(node.content, node.end, written),)
                if old_block and node.limit != node.end:
                    yield (Splice(node.content, node.limit, written + self.newline),)

    def _behind_colon(self, key: Span, node: Span) -> int:
        found = _COLON.match(self.text, key.end)
        return max(found.end() if found is not None else key.end, node.content if node.content != node.start else 0)

    def _over_lines(self, key: Span, node: Span, written: str) -> Iterator[Splices]:
        """A group or list in lines below its name becomes one line behind the colon; a comment there stays."""
        colon = self._behind_colon(key, node)
        if self.ends_line(colon) and node.content >= self.line_end(colon):
            yield (Splice(colon, colon, f" {written}"), Splice(self.line_end(colon), node.end, ""))
        yield (Splice(node.content, node.end, written),)

    def _as_lines(self, key: Span, node: Span, value: Node) -> Iterator[Splices]:
        colon = self._behind_colon(key, node)
        start = colon if node.content == node.end else node.content
        column = self.column(key.start)
        for step in (2, 4):
            lines = "".join(self.newline + line for line in value_lines(value, column + step))
            begin = len(self.text[:start].rstrip(" "))
            if node.content != node.end and node.content >= self.line_end(colon):
                begin = self.line_end(colon)
            yield (Splice(begin, node.end, lines),)

    def _as_literal(self, key: Span, node: Span, value: str) -> Iterator[Splices]:
        block = literal(value, self.column(key.start) + 2)
        if block is not None:
            start = self._behind_colon(key, node) if node.content == node.end else node.content
            space = "" if self.text[start - 1 : start] == " " else " "
            yield (Splice(start, node.end, space + self.newline.join(block)),)

    # -- adding a field ---------------------------------------------------------------------------

    def inserting(
        self, group: Span, key: str, value: Node, typed: str | None, order: Sequence[str]
    ) -> Iterator[Splices]:
        """Ways of adding a field to a group, behind the last field that goes before it in the given order."""
        names = list(group.fields)
        before = place_of(names, key, order)
        if group.flow:
            for written in ways(value, flow=True, like="", typed=typed):
                piece = f"{name(key)}: {written}"
                if not names:
                    yield (Splice(group.content + 1, group.end - 1, piece),)
                elif before == 0:
                    at = group.fields[names[0]][0].start
                    yield (Splice(at, at, f"{piece}, "),)
                else:
                    known, there = group.fields[names[before - 1]]
                    at = max(known.end, there.end)
                    yield (Splice(at, at, f", {piece}"),)
            return
        if not names:
            return
        column = self.column(group.fields[names[0]][0].start)
        blocks = [field_lines(key, value, column)]
        if fits_one_line(value) or _is_short(typed):
            margin = " " * column + f"{name(key)}: "
            blocks = [
                *(blocks if isinstance(value, str) and "\n" in value else []),
                *([margin + written] for written in ways(value, flow=False, like="", typed=typed)),
            ]
        for at in self._line_places(group, names, before):
            for block in blocks:
                yield (self.added_lines(at, block),)

    def _line_places(self, group: Span, names: list[str], before: int) -> Iterator[int]:
        """Beginnings of lines where a field may be put."""
        if before > 0:
            known, there = group.fields[names[before - 1]]
            end = max(known.end, there.end)
            yield self.next_line(end)
            if there.limit > end:
                yield there.limit
        if before < len(names):
            start = group.fields[names[before]][0].start
            if self.begins_line(start):
                yield self.line_start(start)
        # A block text at the very end of a file without a last line end would gain one: then before its name.
        start = group.fields[names[-1]][0].start
        if self.begins_line(start):
            yield self.line_start(start)

    # -- taking out -------------------------------------------------------------------------------

    def taking_out(self, path: Path) -> Iterator[Splices]:
        """Ways of taking a field of a group or an entry of a list out; the last one leaves `{}` or `[]`."""
        parent, _ = walk(self.root, path[:-1])
        if parent.kind == "group":
            pairs = list(parent.fields.values())
            place = list(parent.fields).index(str(path[-1]))
        else:
            pairs = [(each, each) for each in parent.items]
            place = int(path[-1])
        begin, end = pairs[place][0].start, max(pairs[place][0].end, pairs[place][1].end)
        if len(pairs) == 1:
            yield from self._emptied(path[:-1], parent)
            return
        if parent.flow:
            if place + 1 < len(pairs):
                yield (Splice(begin, pairs[place + 1][0].start, ""),)
            last = max(pairs[place - 1][0].end, pairs[place - 1][1].end)
            yield (Splice(last, end, ""),)
            return
        dash = begin
        if parent.kind == "list":
            found = re.compile(r"-[^\S\r\n]*\Z").search(self.text, self.line_start(begin), begin)
            dash = found.start() if found is not None else begin
        if self.begins_line(dash) and self.ends_line(end):
            start, after = self.line_start(dash), self.next_line(end)
            if after == len(self.text) and BREAK.search(self.text, end) is None:
                start = max(0, start - len(self.newline))  # the last line had no line end, and has none now
            yield (Splice(start, after, ""),)
            yield (Splice(start, max(pairs[place][1].limit, after), ""),)
        if place + 1 < len(pairs):
            following = pairs[place + 1][0].start
            if parent.kind == "group":
                yield (Splice(begin, following, ""),)
            elif "-" in self.text[end:following]:
                yield (Splice(dash, end + self.text[end:following].rindex("-"), ""),)

    def _emptied(self, path: Path, parent: Span) -> Iterator[Splices]:
        empty = "{}" if parent.kind == "group" else "[]"
        if parent.flow:
            yield (Splice(parent.content + 1, parent.end - 1, ""),)
            yield (Splice(parent.content, parent.end, empty),)
            return
        if path:
            yield from self.replacing(path, parent, {} if parent.kind == "group" else [], empty)
        yield (Splice(parent.content, parent.end, empty),)

    # -- lists ------------------------------------------------------------------------------------

    def appending(self, path: Path, item: Node) -> Iterator[Splices]:
        """Ways of adding an entry to a list that is there, or to a value that stands for a list of one."""
        node, _ = walk(self.root, path)
        if node.kind in ("scalar", "group"):
            for written in ways(item, flow=True, like="", typed=None):
                if self.text[node.content : node.content + 1] not in ("|", ">"):
                    yield (Splice(node.start, node.start, "["), Splice(node.end, node.end, f", {written}]"))
            return
        for written in ways(item, flow=node.flow, like=self._like(node), typed=None):
            if node.flow and not node.items:
                yield (Splice(node.content + 1, node.end - 1, written),)
            elif node.flow:
                yield (Splice(node.items[-1].end, node.items[-1].end, f", {written}"),)
            else:
                last = node.items[-1]
                start = self.text.rfind("-", self.line_start(node.items[0].start), node.items[0].start + 1)
                margin = " " * self.column(start) + self.text[start : node.items[0].start]
                for at in dict.fromkeys((self.next_line(last.end), last.limit)):
                    yield (self.added_lines(at, [f"{margin}{written}"]),)
                    yield (self.added_lines(at, [f"{' ' * self.column(start)}- {written}"]),)

    def _like(self, node: Span) -> str:
        """The quotes of a list's last entry."""
        return self.text[node.items[-1].content] if node.items and node.items[-1].quoted else ""

    # -- words ------------------------------------------------------------------------------------

    def word(self, node: Span, new: str, *, flow: bool) -> Splice:
        """A text that takes the place of another one, in the same quotes where it can."""
        like = self.text[node.content] if node.quoted else ""
        return Splice(node.content, node.end, next(ways(new, flow=flow, like=like, typed=None)))


def _is_short(typed: str | None) -> bool:
    return typed is not None and len(typed) < WIDTH - 10


def place_of(names: Sequence[str], key: str, order: Sequence[str]) -> int:
    """Where a new name goes among those that are there: behind the last that goes before it; else at the end."""
    if key not in order:
        return len(names)
    earlier = set(order[: order.index(key)])
    places = [place for place, each in enumerate(names) if each in earlier or each == "id"]
    return places[-1] + 1 if places else len(names)
