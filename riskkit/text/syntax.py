"""Reading a file in spite of syntax errors: each becomes one plain sentence, and the rest is still read.

Where libyaml stops, the record around the error is blanked out, line numbers kept, and the file is
read again. What stood in it is lost to this run and named, so that nothing else complains about it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from riskkit.diagnostics import Diagnostic
from riskkit.text.positions import Complaints, Document, Node, Refused, build

MOST_RETRIES = 20

_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\ufffe\uffff]")
_ENTRY = re.compile(r"(?P<indent> *)(?:- +id *: *)?(?P<id>[A-Za-z][\w.-]*)")

SENTENCES: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "mapping values are not allowed": (
            "a second colon in one line, or a line indented too far",
            'put quotes around text with a colon in it: title: "level: high"',
        ),
        "could not find expected ':'": (
            "a line without a colon between `name: value` lines",
            "write `name: value`, with a blank after the colon",
        ),
        "did not find expected key": (
            "this line does not fit its neighbours",
            "give all fields of a record the same indentation, and check brackets and quotes above",
        ),
        "did not find expected '-' indicator": (
            "this line does not fit the list above it",
            "begin each entry of a list with `- ` under the first dash",
        ),
        "did not find expected ',' or ']'": (
            "a list in square brackets is not closed, or a comma is missing",
            "write `[first, second]`, with quotes around text that holds a comma, a colon, a bracket or a question mark",
        ),
        "did not find expected ',' or '}'": (
            "a group in curly brackets is not closed, or a comma is missing",
            "write `{name: value}`, with quotes around text that holds a comma, a colon, a bracket or a question mark",
        ),
        "found unexpected ':'": (
            "a colon stands inside brackets",
            'put quotes around the text with the colon: ["12:30"]',
        ),
        "found unexpected end of stream": ("a quote is opened here and never closed", "close the quote"),
        "found unexpected document indicator": ("a quote is opened here and never closed", "close the quote"),
        "found unknown escape character": (
            "a backslash inside double quotes starts something unknown",
            "write two backslashes, or use single quotes",
        ),
        "found character that cannot start any token": (
            "a word cannot begin with this character",
            "put quotes around the text",
        ),
        "did not find expected alphabetic or numeric character": (
            "a name is missing behind `*` or `&`",
            "put quotes around text that begins with * or &",
        ),
        "block sequence entries are not allowed": (
            "a dash stands where no list can begin",
            "begin the list in a line of its own, indented below the field's name",
        ),
        "did not find expected node content": (
            "something is missing here, or a bracket or comma is one too many",
            "write the value, or take the comma out",
        ),
        "did not find expected <document start>": (
            "the file goes on after its end",
            "take out the line before, or indent this line below its section",
        ),
        "found duplicate %YAML directive": ("a line with % at its beginning", "take the line out"),
        "found incompatible YAML document": ("a line with % at its beginning", "take the line out"),
        "found unknown directive name": ("a line with % at its beginning", "take the line out"),
        "while scanning a directive": (
            "a line with % at its beginning",
            "take the line out, or put quotes around the text",
        ),
        "found undefined tag handle": (
            "an exclamation mark begins a tag, which a register does not need",
            "put quotes around the text",
        ),
        "while scanning a tag": (
            "an exclamation mark begins a tag, which a register does not need",
            "put quotes around the text",
        ),
        "while parsing a tag": (
            "an exclamation mark begins a tag, which a register does not need",
            "put quotes around the text",
        ),
        "found a tab character": ("a tab stands where blanks are needed", "replace the tab by blanks"),
        "did not find expected comment or line break": (
            "something follows where the line should end",
            "put the text in the next line, indented",
        ),
        "found invalid Unicode character": (
            "an escape in double quotes that stands for no letter",
            "write the letter itself",
        ),
        "did not find expected hexdecimal number": (
            "an escape in double quotes that stands for no letter",
            "write the letter itself",
        ),
        "found duplicate anchor": ("an anchor is used twice", "give the second one another name"),
        "exceeded max depth": (
            "groups are nested too deeply here",
            "no record is that deep; look for a bracket too many",
        ),
    }
)
"""Part of libyaml's message -> what it means for the person who typed, and what to type."""


def parse_file(name: str, content: bytes) -> Document:
    """Read one file; everything wrong with it is in the document's diagnostics, and nothing is raised."""
    complaints = Complaints(name)
    text = _decoded(content, complaints)
    text = _without_directives(text, complaints)
    lost: list[tuple[str, str]] = []
    found: list[Diagnostic] = list(complaints.found)
    for _ in range(MOST_RETRIES):
        attempt = Complaints(name)
        try:
            data, marks, heads = build(text.encode("utf-8"), attempt)
        except Refused as refused:
            return Document(name, None, (*found, *attempt.found, refused.finding), tuple(lost))
        except Exception as error:
            if not any(base.__name__ == "YAMLError" for base in type(error).__mro__):
                raise
            finding, line = _translated(error, text, attempt)
            found.append(finding)
            text, record = _blanked(text, line)
            if record is not None:
                lost.append(record)
            if text is None:
                break
            continue
        if data is not None and not isinstance(data, dict):
            attempt.found.append(_not_sections(data, attempt))
            data = None
        return Document(name, data, (*found, *attempt.found), tuple(lost), marks, heads, frozenset(text.split()))
    return Document(name, None, tuple(found), tuple(lost))


def _without_directives(text: str, complaints: Complaints) -> str:
    """Lines with % before the first content, each complained about and blanked."""
    lines = text.split("\n")
    for number, line in enumerate(lines):
        if line.startswith("%"):
            headline, help = SENTENCES["while scanning a directive"]
            complaints.found.append(complaints.make("yaml-syntax", headline, number, 0, help))
            lines[number] = ""
        elif _speaks(line):
            break
    return "\n".join(lines)


def _not_sections(data: Node, complaints: Complaints) -> Diagnostic:
    what = "a list" if isinstance(data, list) else "a bare text or number"
    return complaints.make(
        "not-a-mapping",
        f"the file holds {what} where sections are expected",
        0,
        0,
        "begin with a section such as `hazards:`, and put its records below it, indented",
    )


def _decoded(content: bytes, complaints: Complaints) -> str:
    """UTF-8 text; every byte that is none is reported and replaced, so that the rest can be read."""
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        complaints.found.append(
            complaints.make("not-utf8", "the file is UTF-16", 0, 0, "save it as UTF-8 in your editor")
        )
        return ""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = content[: error.start]
        line = before.count(b"\n")
        column = len(before.rpartition(b"\n")[2].decode("utf-8", "replace"))
        byte = content[error.start]
        complaints.found.append(
            complaints.make(
                "not-utf8",
                f"the byte 0x{byte:02x} here is not UTF-8",
                line,
                column,
                "save the file as UTF-8 in your editor",
            )
        )
        text = content.decode("utf-8-sig", "replace")
    return text


def _translated(error: Any, text: str, complaints: Complaints) -> tuple[Diagnostic, int]:
    """libyaml's message as a finding, and the line (from 0) around which the file is broken."""
    problem, context = str(getattr(error, "problem", "") or ""), str(getattr(error, "context", "") or "")
    mark, began = getattr(error, "problem_mark", None), getattr(error, "context_mark", None)
    if mark is None:
        return _control_character(text, problem, complaints)
    line, column = mark.line, mark.column
    lines = text.splitlines()
    here = lines[line] if line < len(lines) else ""
    margin = here[: len(here) - len(here.lstrip())]
    if "\t" in margin:
        headline, help = "a tab stands where blanks are needed", "replace the tab by blanks; set your editor to do so"
        return complaints.make("tab-in-indentation", headline, line, margin.index("\t"), help), line
    if began is not None and ("end of stream" in problem or "document indicator" in problem or line >= len(lines)):
        line, column = began.line, began.column
    message = f"{context} {problem}"
    unknown = (f"this is not YAML ({message.strip()})", "compare with a file that can be read")
    headline, help = next((words for part, words in SENTENCES.items() if part in message), unknown)
    if "flow" in context and began is not None:
        line, column = (began.line, began.column) if began.line != line else (line, column)
    return complaints.make("yaml-syntax", headline, line, column, help), line


def _control_character(text: str, problem: str, complaints: Complaints) -> tuple[Diagnostic, int]:
    found = _CONTROL.search(text)
    at = found.start() if found else 0
    line = text.count("\n", 0, at)
    column = at - (text.rfind("\n", 0, at) + 1)
    code = f"U+{ord(text[at]):04X}" if text else problem
    return (
        complaints.make(
            "control-character", f"an invisible control character ({code}) stands here", line, column, "take it out"
        ),
        line,
    )


def _blanked(text: str, line: int) -> tuple[Any, tuple[str, str] | None]:
    """The text without the record around a line, and that record as (section, id); None where nothing is left to try."""
    lines = text.split("\n")
    line = min(line, len(lines) - 1)
    while line > 0 and not _speaks(lines[line]):
        line -= 1
    top = line
    while top > 0 and not (_speaks(lines[top]) and _indent(lines[top]) == 0):
        top -= 1
    section = lines[top].partition(":")[0].strip()
    if top == line:
        start, level, record = top, 0, None
    else:
        level = next((_indent(each) for each in lines[top + 1 :] if _speaks(each)), 0)
        start = line
        while start > top + 1 and not (_speaks(lines[start]) and _indent(lines[start]) <= level):
            start -= 1
        named = _ENTRY.match(lines[start])
        record = (section, named["id"]) if named else None
    end = start + 1
    while end < len(lines) and not (_speaks(lines[end]) and _indent(lines[end]) <= level):
        end += 1
    if all(not each.strip() for each in lines[start:end]):
        return None, record
    lines[start:end] = [""] * (end - start)
    return "\n".join(lines), record


def _speaks(line: str) -> bool:
    stripped = line.strip()
    return bool(stripped) and not stripped.startswith("#")


def _indent(line: str) -> int:
    wide = line.expandtabs(8)  # a tab is deeper than any level that was meant
    return len(wide) - len(wide.lstrip())
