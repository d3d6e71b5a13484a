"""The reference pages, made from the code: records and fields, rules, findings about files, units, commands."""

from __future__ import annotations

import datetime
import inspect
from collections.abc import Iterator, Mapping
from typing import Any, get_args, get_origin

from pydantic import BaseModel

from riskkit import units
from riskkit.checks import all_rules
from riskkit.model.fault_trees import TreeSheet
from riskkit.model.fields import LEVEL_READERS, Block, Probability
from riskkit.model.register import SECTIONS, SINGLES
from riskkit.text.explanations import format_rules
from riskkit.units import Quantity

Page = str


def pages() -> Mapping[str, Page]:
    """File name -> Markdown of every generated page."""
    return {
        "file-format.md": _file_format(),
        "fault-tree-file.md": _fault_tree_file(),
        "rules.md": _rules(),
        "units.md": _units(),
    }


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


TREE_EXAMPLE = """\
fault_tree:
  title: Too much pressure in the hood
  top: too much pressure
  gates:
    too much pressure: {all_of: [relief stuck, pressure not held]}
    pressure not held: {any_of: [firmware hangs, blocked and not seen]}
    blocked and not seen: {all_of: [outlet blocked, sensors wrong]}
    sensors wrong: {at_least: 2, of: [first sensor, second sensor, third sensor]}
  events:
    relief stuck: 1e-2
    outlet blocked: {probability: 2e-3, error_factor: 3, source: estimate of the bench group}
    firmware hangs: {rate: 1e-4 1/h, mission: 8 h, source: count of hangs on the bench}
    first sensor: {rate: 1e-5 1/h, test_interval: 1000 h, source: data sheet}
    second sensor: {rate: 1e-5 1/h, test_interval: 1000 h, source: data sheet}
    third sensor: {happens: false, title: third sensor (not fitted yet)}
  common_cause:
    - {of: [first sensor, second sensor], beta: 5 %, name: one bad lot, source: estimate of the bench group}
"""
"""A tree in a file of its own, with every kind of gate and event."""


def _fault_tree_file() -> Page:
    lines = [
        "# A fault tree in a file of its own",
        "",
        "`riskkit fault FILE` works out a tree without a register: a YAML (or JSON) file with one section `fault_tree:`. In a",
        "register the same fields stand below `fault_trees:` and an id, with the `hazard` beside them.",
        "",
        "```yaml",
        *TREE_EXAMPLE.rstrip().splitlines(),
        "```",
        "",
        "Gates and events are known by their names, which may hold blanks. Whatever stands at two places is one thing and is",
        "worked out as one. A gate is exactly one of `all_of` (AND), `any_of` (OR) or `at_least` with `of` (k-of-n); a NOT is",
        "refused. An event is a bare number (its probability) or a group of fields. A member of a common cause shows as",
        "`NAME alone`, and what strikes them together as `CAUSE in common`.",
        "",
        "`riskkit fault FILE --format json` prints one object; `--list N` says how many cut sets are listed:",
        "",
        "| key | holds |",
        "|---|---|",
        "| `top` | `exact` (null where it does not fit into the budget), `rare_event` (sum over the minimal cut sets), "
        "`upper_bound` (1 - product of 1 - P over them), `bounds`, `method`, `before_controls` |",
        "| `cut_sets` | `count`, `orders` (events in a set -> how many sets), `listed`: `events` and `probability`, the "
        "likeliest first |",
        "| `single_points` | events that bring the top about alone |",
        "| `importance` | by event: `birnbaum`, `criticality`, `fussell_vesely`, `achievement_worth`, `reduction_worth` (null "
        "where nothing is left without the event) |",
        "| `events` | by event: `probability`, `known_as`, `source`, `event` (of the file; empty for a common cause), `spread`, "
        "`house` |",
        "| `without_probability` | events that have none: then the numbers above are null |",
        "| `spread` | with `--spread`, where an event has an error factor or comes from runs: mean and percentiles of the top "
        "by Monte Carlo over its events, each with the error of the simulation |",
        "| `story`, `notes`, `caution` | sentences |",
        "",
        "## fault_tree",
        "",
        inspect.getdoc(TreeSheet) or "",
        "",
        *_fields(TreeSheet),
    ]
    for block in dict.fromkeys(_blocks_of(TreeSheet)):
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
    (float, "number"),
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
