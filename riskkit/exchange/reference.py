"""The reference pages, made from the code: records and fields, rules, findings about files, units, commands."""

from __future__ import annotations

import datetime
import inspect
from collections.abc import Iterator, Mapping
from typing import Any, get_args, get_origin

from pydantic import BaseModel

from riskkit import units
from riskkit.checks import all_rules
from riskkit.model.fields import LEVEL_READERS, Block, Probability
from riskkit.model.register import SECTIONS, SINGLES
from riskkit.text.explanations import format_rules
from riskkit.units import Quantity

Page = str


def pages() -> Mapping[str, Page]:
    """File name -> Markdown of every generated page."""
    return {"file-format.md": _file_format(), "rules.md": _rules(), "units.md": _units()}


def _file_format() -> Page:
    lines = [
        "# What stands in the files",
        "",
        "A register is a folder of YAML files. Each file holds sections; below a section stands each record under its id.",
        "Any record may stand in any file. A list of records with `id:` in each is understood too. Where a list has one",
        "entry, the brackets may be left out. This page is made from the code; `riskkit schema` says the same to an editor.",
        "",
        "Fields in **bold** are needed. `{...}` is a group of fields, described below the record.",
        "",
    ]
    told: set[type[BaseModel]] = set()
    for section, kind in (*SINGLES.items(), *SECTIONS.items()):
        lines += [f"## {section}", "", inspect.getdoc(kind) or "", ""]
        lines += _fields(kind)
        for block in _blocks_of(kind):
            if block not in told:
                told.add(block)
                lines += [f"### {block.__name__}", "", inspect.getdoc(block) or "", "", *_fields(block)]
    return "\n".join(lines) + "\n"


def _fields(kind: type[BaseModel]) -> Iterator[str]:
    yield "| field | holds | meaning |"
    yield "|---|---|---|"
    for name, info in kind.model_fields.items():
        if name == "id":
            continue
        shown = info.alias or name
        shown = f"**`{shown}`**" if info.is_required() else f"`{shown}`"
        yield f"| {shown} | {_holds(info.annotation, info.metadata)} | {info.description or ''} |"
    yield ""


def _holds(annotation: Any, metadata: list[Any]) -> str:
    block = _block_in(annotation)
    if block is not None:
        return f"`{{...}}` {block.__name__}"
    refers = next((mark for mark in _marks(annotation, metadata) if hasattr(mark, "sections")), None)
    if refers is not None:
        return "ids of " + ", ".join(f"`{section}`" for section in refers.sections)
    words = [str(word) for word in _words(annotation)]
    if words:
        return " / ".join(f"`{word}`" for word in words)
    sort = next((words for kind, words in _SORTS if kind in set(_leaves(annotation))), "text")
    if _reads_a_level(annotation, metadata):
        sort = "level of the policy"
    return f"{sort}, or a list of them" if _is_list(annotation) else sort


_SORTS: tuple[tuple[type, str], ...] = (
    (dict, "names and values"),
    (Quantity, "number with unit"),
    (Probability, "probability, or [low, high]"),
    (datetime.date, "day, such as 2026-11-25"),
    (bool, "`true` or `false`"),
    (int, "whole number"),
)


def _leaves(annotation: Any) -> Iterator[type]:
    """The plain classes in an annotation."""
    if isinstance(annotation, type) and not get_args(annotation):
        yield annotation
    origin = get_origin(annotation)
    if isinstance(origin, type):
        yield origin
    for inner in get_args(annotation):
        yield from _leaves(inner)


def _is_list(annotation: Any) -> bool:
    return Ellipsis in get_args(annotation) or any(_is_list(inner) for inner in get_args(annotation))


def _reads_a_level(annotation: Any, metadata: list[Any]) -> bool:
    return any(getattr(mark, "func", None) in LEVEL_READERS for mark in _marks(annotation, metadata))


def _marks(annotation: Any, metadata: list[Any]) -> Iterator[Any]:
    yield from metadata
    for inner in get_args(annotation):
        yield from getattr(inner, "__metadata__", ())


def _words(annotation: Any) -> Iterator[object]:
    for inner in get_args(annotation):
        if isinstance(inner, str):
            yield inner
        else:
            yield from _words(inner)


def _block_in(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, Block):
        return annotation
    return next((block for inner in get_args(annotation) if (block := _block_in(inner)) is not None), None)


def _blocks_of(kind: type[BaseModel]) -> Iterator[type[BaseModel]]:
    for info in kind.model_fields.values():
        block = _block_in(info.annotation)
        if block is not None:
            yield block
            yield from _blocks_of(block)


def _rules() -> Page:
    lines = [
        "# Rules",
        "",
        "Every finding carries the name of its rule in square brackets; `riskkit explain NAME` prints the same as this page.",
        "`breaks` means that the register contradicts itself there (exit status 2); such a finding cannot be waived.",
        "",
    ]
    for each in all_rules():
        marks = each.severity.word + (", breaks" if each.breaks else "")
        lines += [f"## {each.name}", "", f"*{marks}*", "", each.explanation, ""]
        lines += ["Found, at the marked line:", "", "```yaml", each.bad.rstrip(), "```", ""]
        lines += ["Not found:", "", "```yaml", each.good.rstrip(), "```", ""]
    lines += [
        "# Findings about the files themselves",
        "",
        "They mean that the register cannot be read as written (exit status 2).",
        "",
    ]
    for name, words in format_rules().items():
        lines += [f"## {name}", "", words, ""]
    return "\n".join(lines) + "\n"


def _units() -> Page:
    lines = [
        "# Units that people type",
        "",
        "A quantity is a number with its unit, as it is typed at the bench: `12 cmH2O`, `30 lpm`, `2h40`, `5.0 ± 0.7 hPa`,",
        "`12 hPa ± 4 %`, `AWG 18`, `68 degF`. It is shown as typed; where it is compared, in SI base units.",
        "",
        units.reference_table(),
    ]
    return "\n".join(lines)
