"""Adding one record to a YAML file that people wrote: its lines are put in, and every other byte stays.

Nobody can say in one glance where a hand-written file takes new lines: block texts, comments and blank
lines may stand at the end of a section. So the lines are put where a person would put them, the file is
read again, and if anything but the new record has changed, the next place is tried. A file in which no
place works is left alone, with a sentence that says why.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from riskkit.diagnostics import RiskkitError
from riskkit.text.editing import Piece, cut_out
from riskkit.text.positions import Document
from riskkit.text.syntax import parse_file

if TYPE_CHECKING:
    from riskkit.text.reader import Reading

_BREAK = re.compile("\r\n|[\r\n\x85\u2028\u2029]")
"""What libyaml counts as the end of a line."""
_BOM = "\ufeff"
_FINGERPRINT = re.compile("[0-9a-f]{12}")
WIDTH = 110
LONGEST_IN_BRACKETS = 24
"""Letters of a text in a list; a list with longer ones stands in lines of its own unless it is short as a whole."""


class CannotAppend(RiskkitError):
    """A file that cannot take a record line by line."""


@dataclass(frozen=True, slots=True)
class _Style:
    """How the neighbours are written: indentation of ids and fields, as a list or not."""

    indent: int = 2
    step: int = 2
    dashed: bool = False


def append_record(
    name: str, content: bytes, section: str, id: str, fields: Mapping[str, Any], document: Document | None = None
) -> tuple[bytes, str]:
    """A file's bytes with one more record at the end of a section, and the lines that were added.

    The section is begun at the end of the file where it is missing. Indentation, line ends, a missing last
    line end and a byte order mark are taken from the file.

    Args:
        name: The file, for sentences.
        content: Its bytes; empty for a new file.
        section: Such as `results`.
        id: Id of the new record.
        fields: Plain data: text, numbers, dates, lists and groups.
        document: The file as it was read, where it was.

    Raises:
        CannotAppend: where the file is broken, holds the id already, or is written in a style in which a record
            cannot be added without touching others.
    """
    document = document or parse_file(name, content)
    if document.diagnostics:
        raise CannotAppend(
            f"{name} cannot be read as written", "mend it first (`riskkit check` says where), or name another file"
        )
    text = content.decode("utf-8")
    mark, text = (_BOM, text[1:]) if text.startswith(_BOM) else ("", text)
    data = document.data if document.data is not None else {}
    lines = _Lines.of(text)
    if section in data and data[section] is not None:
        _refuse_flow(document, lines, section, data[section])
        if id in _ids(data[section]):
            raise CannotAppend(f"{id} stands in {name} already", "give the new record another id")
        style, places, head = _style(document, data, section), _places(document, lines, section), ""
    elif section in data:
        column = document.place((section,), key=True).column - 1
        style, head = _Style(indent=column + 2), ""
        places = iter((document.place((section,), key=True).line, *_places(document, lines, section)))
    else:
        if data and lines.text_at(document.place(())).startswith(("{", "[")):
            raise CannotAppend(f"{name} is written in curly brackets as a whole", "name another file")
        column = document.place((next(iter(data)),), key=True).column - 1 if data else 0
        style, head = _Style(indent=column + 2), " " * column + f"{section}:"
        places = iter((len(lines.pieces), lines.end_of_speech(len(lines.pieces))))
    wanted = _expected(data, section, id, fields)
    piece = None if head or lines.ends_open else _last_piece(document, text, section)
    for place in places:
        for quoted in (False, True):
            block = _block(style, id, fields, quoted)
            added, whole = lines.with_block(place, head, block)
            if piece is not None and piece.head <= place:
                last = list(data[section].values() if isinstance(data[section], dict) else data[section])[-1]
                part = whole[piece.start : len(whole) - (len(text) - piece.start - len(piece.text))]
                holds = piece.holds(name, part, last, {id: _plain(fields)})
            else:
                again = parse_file(name, whole.encode("utf-8"))
                holds = not again.diagnostics and _same(again.data, wanted, lines.ends_open)
            if holds:
                return (mark + whole).encode("utf-8"), added
    raise CannotAppend(
        f"in {name} no line was found at the end of `{section}` where a record can be added without touching others",
        "name another file",
    )


def _last_piece(document: Document, text: str, section: str) -> Piece | None:
    """The lines of a section's last record, where reading them alone proves what is put behind it."""
    held = document.data.get(section)
    if not isinstance(held, dict | list) or not held:
        return None
    last = len(held) - 1 if isinstance(held, list) else list(held)[-1]
    return cut_out(document, text, (section, last), held[last])


def _expected(data: Mapping[str, Any], section: str, id: str, fields: Mapping[str, Any]) -> dict[str, Any]:
    new = _plain(fields)
    old = data.get(section)
    grown = [*old, {"id": id, **new}] if isinstance(old, list) else {**(old or {}), id: new}
    return {**data, section: grown}


def _plain(value: Any) -> Any:
    """What a reader must see of a value: groups, lists, numbers and text, a day as text."""
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if value is None or isinstance(value, bool | int | float | str):
        return value
    return value.isoformat()


def _same(here: Any, there: Any, open_end: bool) -> bool:
    """Equal in value, sort and order; a block text at the very end of a file without a last line end gains one."""
    if type(here) is not type(there):
        return False
    if isinstance(here, dict):
        return list(here) == list(there) and all(_same(here[key], there[key], open_end) for key in here)
    if isinstance(here, list):
        return len(here) == len(there) and all(
            _same(one, other, open_end) for one, other in zip(here, there, strict=True)
        )
    if isinstance(here, str) and open_end:
        return here in (there, there + "\n") or here + "\n" == there
    return bool(here == there)


def _ids(section: Any) -> set[str]:
    if isinstance(section, dict):
        return set(section)
    return {item["id"] for item in section if isinstance(item, dict) and isinstance(item.get("id"), str)}


# -- where ----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Lines:
    """A text in lines, each with its own line end."""

    pieces: tuple[str, ...]
    newline: str

    @classmethod
    def of(cls, text: str) -> _Lines:
        pieces, start = [], 0
        for end in _BREAK.finditer(text):
            pieces.append(text[start : end.end()])
            start = end.end()
        if start < len(text):
            pieces.append(text[start:])
        ends = [end[0] for end in _BREAK.finditer(text)]
        newline = max(("\n", "\r\n", "\r"), key=ends.count) if ends else "\n"
        return cls(tuple(pieces), newline)

    @property
    def ends_open(self) -> bool:
        """Whether the last line has no line end."""
        return bool(self.pieces) and _BREAK.search(self.pieces[-1]) is None

    def text_at(self, place: Any) -> str:
        """The text from a line and column on."""
        return self.pieces[place.line - 1][place.column - 1 :] if 0 < place.line <= len(self.pieces) else ""

    def end_of_speech(self, before: int, deeper_than: int = -1) -> int:
        """Number of lines up to the last one before a line that says something.

        Comments directly below it count where they are indented deeper than a column: they belong to it.
        """
        last = before
        while last > 0 and _silent(self.pieces[last - 1]):
            last -= 1
        end = last
        for number in range(last, before):
            line = self.pieces[number]
            if deeper_than < 0 or not line.strip():
                break
            if len(line) - len(line.lstrip(" ")) <= deeper_than:
                break
            end = number + 1
        return end

    def with_block(self, place: int, head: str, block: list[str]) -> tuple[str, str]:
        """The lines to be added before the line of that number (from 0), and the whole text with them."""
        before, after = self.pieces[:place], self.pieces[place:]
        lines = [*([head] if head else []), *block]
        gap = ""
        if before and self._spaced(head, before):
            gap = self.newline
        added = "".join(line + self.newline for line in lines)
        start = "" if not before or _BREAK.search(before[-1]) is not None else self.newline
        return added, "".join(before) + start + gap + added + "".join(after)

    def _spaced(self, head: str, before: tuple[str, ...]) -> bool:
        """Whether a blank line belongs before the new one: between sections, and where records have one between them."""
        if not before[-1].strip():
            return False
        if head:
            return True
        start = next((n for n in range(len(before) - 1, -1, -1) if _starts_section(before[n])), 0)
        blanks = [n for n in range(start + 1, len(before)) if not before[n].strip()]
        return bool(blanks)


def _starts_section(line: str) -> bool:
    return bool(line.strip()) and not line[:1].isspace() and line[:1] not in "#-"


def _silent(line: str) -> bool:
    stripped = line.strip()
    return not stripped or stripped.startswith("#") or stripped == "..."


def _refuse_flow(document: Document, lines: _Lines, section: str, content: Any) -> None:
    if not isinstance(content, dict | list):
        raise CannotAppend(f"`{section}` in {document.name} holds no records", "name another file")
    start = re.sub(r"\A(?:[&!]\S*\s+)+", "", lines.text_at(document.place((section,))))
    if not content or start.startswith(("{", "[", "*")):
        raise CannotAppend(
            f"`{section}` in {document.name} is written in brackets, and a record cannot be added to it line by line",
            f"name another file, or write `{section}:` there with one id per line below it",
        )


def _style(document: Document, data: Mapping[str, Any], section: str) -> _Style:
    """Indentation of the last record that has fields in lines of their own."""
    content = data[section]
    column = document.place((section,), key=True).column - 1
    if isinstance(content, list):
        dash = document.place((section, len(content) - 1)).column - 1
        first = document.place((section, 0)).column - 1
        at = document.place((section,)).column - 1
        return _Style(indent=at, step=max(2, (first if first > at else dash) - at), dashed=True)
    indent = document.place((section, next(iter(content))), key=True).column - 1
    step = 2
    for id, fields in reversed(content.items()):
        if isinstance(fields, dict) and fields:
            key = document.place((section, id), key=True)
            field = document.place((section, id, next(iter(fields))), key=True)
            if field.line > key.line and field.column - 1 > indent:
                step = field.column - 1 - indent
                break
    return _Style(indent=max(indent, column + 1), step=step)


def _places(document: Document, lines: _Lines, section: str) -> Iterator[int]:
    """Numbers of lines before which a record may be put, the most natural first."""
    keys = list(document.data)
    column = document.place((section,), key=True).column - 1
    following = keys[keys.index(section) + 1 :]
    boundary = document.place((following[0],), key=True).line - 1 if following else len(lines.pieces)
    yield lines.end_of_speech(boundary, column)
    yield lines.end_of_speech(boundary)
    yield boundary
    start = document.place((section,), key=True).line
    yield from range(boundary - 1, max(start, boundary - 40), -1)


# -- the lines ------------------------------------------------------------------------------------


def record_lines(id: str, fields: Mapping[str, Any]) -> str:
    """A record as it is written below its section, without indentation, for showing."""
    return "".join(line + "\n" for line in _block(_Style(indent=0), id, fields, False))


def _block(style: _Style, id: str, fields: Mapping[str, Any], quoted: bool) -> list[str]:
    """Lines of a record, without line ends."""
    body = _dumped({"id": id, **fields} if style.dashed else dict(fields), quoted, style.indent + style.step)
    margin = " " * (style.indent + style.step)
    lines = [margin + line if line else line for line in body]
    if not style.dashed:
        return [" " * style.indent + f"{id}:", *lines]
    return [" " * style.indent + "-" + lines[0][style.indent + 1 :], *lines[1:]]


def _dumped(fields: Mapping[str, Any], quoted: bool, indent: int) -> list[str]:
    """Fields as YAML, one per line, short lists and groups in brackets as people write them."""
    from ruamel.yaml import YAML

    yaml = YAML()
    yaml.width = max(60, WIDTH - indent)
    yaml.allow_unicode = True
    yaml.indent(mapping=2, sequence=4, offset=2)
    out = io.StringIO()
    yaml.dump(_styled(fields, quoted, True), out)
    return [line.rstrip(" ") for line in out.getvalue().splitlines()]  # where ruamel breaks a line, it leaves blanks


def _styled(value: Any, quoted: bool, top: bool = False) -> Any:
    """A value for ruamel: groups of groups in lines, everything below the first level in brackets where it is short."""
    from ruamel.yaml.comments import CommentedMap, CommentedSeq
    from ruamel.yaml.scalarstring import DoubleQuotedScalarString

    if isinstance(value, Mapping):
        group = CommentedMap(
            (key if top else _styled(key, quoted), _styled(item, quoted)) for key, item in value.items()
        )
        if not top and _is_short(value):
            group.fa.set_flow_style()
        return group
    if isinstance(value, list | tuple):
        items = CommentedSeq(_styled(item, quoted) for item in value)
        if _is_short(value):
            items.fa.set_flow_style()
        return items
    if isinstance(value, str) and (quoted or _has_to_be_quoted(value)):
        return DoubleQuotedScalarString(value)
    return value


def _has_to_be_quoted(text: str) -> bool:
    """Text that other readers of YAML take for a number, a day or yes and no."""
    return re.fullmatch(r"[-+.\d][-+.:_\d\sxXoOeE]*|(?i:y|n|yes|no|on|off|true|false|null|~)", text) is not None


def _is_short(value: Any) -> bool:
    """Whether a value fits into one line in brackets; files with their hash never do."""
    if isinstance(value, Mapping):
        if value and all(isinstance(item, str) and _FINGERPRINT.fullmatch(item) for item in value.values()):
            return True  # nobody reads them one by one
        nested = any(isinstance(item, Mapping) for item in value.values())
        return not nested and len(str(_plain(value))) < 90
    if any(isinstance(item, str) and len(item) > LONGEST_IN_BRACKETS for item in value):
        return len(str(_plain(value))) < 90
    return not any(isinstance(item, Mapping | list | tuple) for item in value)


# -- proof ----------------------------------------------------------------------------------------


def prove(old: Reading, new: Reading, id: str) -> None:
    """Refuse unless a register is the old one with one record more.

    Raises:
        RiskkitError: where another record differs, or the new one cannot be read as written.
    """
    known = {(found.rule, found.record, found.headline) for found in old.report}
    for found in new.report:
        if (found.rule, found.record, found.headline) not in known:
            raise RiskkitError(f"the result cannot be written so: {found.headline}", found.help)
    others = {name: record for name, record in new.register.records.items() if name != id}
    before = (old.register.records, old.register.broken, old.register.device, old.register.policy)
    if (
        id not in new.register.records
        or (others, new.register.broken, new.register.device, new.register.policy) != before
    ):
        raise RiskkitError(
            f"the register would not be the old one plus {id}; nothing was written",
            "name another file with --in FILE",
        )
