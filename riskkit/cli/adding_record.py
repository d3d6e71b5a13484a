"""`add`: a new record in one line, or by a short interview; what is not known stays a visible gap."""

from __future__ import annotations

import datetime
import sys
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path as FilePath
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from riskkit.cli.editing import Change, carry_out, refuse_new_trouble, refuse_new_trouble_alone
from riskkit.cli.opening import day
from riskkit.diagnostics import RiskkitError

if TYPE_CHECKING:
    from riskkit.model.fields import Record
    from riskkit.text.reader import Reading

USUAL: Mapping[str, str] = MappingProxyType(
    {
        "parts": "P01",
        "functions": "F01",
        "use_steps": "S01",
        "energy_sources": "E01",
        "hazards": "H01",
        "controls": "C01",
        "fault_trees": "FT01",
        "tests": "T01",
        "instruments": "I01",
        "calculations": "K01",
        "assumptions": "A01",
        "observations": "O01",
        "decisions": "D01",
        "waivers": "W01",
        "comments": "R-C01",
        "reviewers": "V01",
        "units": "U01",
        "gates": "G01",
        "sentences": "X01",
    }
)
"""The first id of a section, where there is none to follow."""

TO_FIND_OUT = "to be found out: what reaches a person, and what it does"

ASKED: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "hazards": ("source", "condition", "situation", "harm.text", "harm.severity"),
        "controls": ("kind", "fails_how"),
        "tests": ("claim", "method", "stop"),
        "parts": ("class", "version"),
        "instruments": ("measures", "uncertainty"),
    }
)
"""What the interview asks beside the title; all of it may be passed over, unless the record needs it."""


def add(
    section: str,
    title: str | None,
    folder: FilePath,
    settings: Sequence[str],
    part: str | None,
    into: str | None,
    id: str | None,
    today: str | None,
    *,
    dry_run: bool,
) -> int:
    """Add a record; the exit status.

    Raises:
        RiskkitError: where the section is unknown, a field is missing that nobody can fill in for the person, or
            the record cannot be read as it would stand.
    """
    from riskkit.cli.adding import file_in

    kind = _kind(section)
    on = day(today)
    given = dict(_setting(each) for each in settings)
    if title is None and not given and sys.stdin.isatty():
        given = _interviewed(kind, folder)
    if title is not None:
        given = {_title_field(kind): title, **given}
    target = file_in(folder, into) if into is not None and folder.is_dir() else None
    return carry_out(folder, lambda reading: _planned(reading, kind, given, part, target, id, on), dry_run=dry_run)


def _kind(typed: str) -> type[Record]:
    """The kind of record that a section, or one of it, is called by."""
    from riskkit.model.register import SECTIONS
    from riskkit.text.complaints import nearest

    wanted = typed.casefold().replace("-", "_").replace(" ", "_")
    names = {**{_one(section): section for section in SECTIONS}, **{section: section for section in SECTIONS}}
    section = names.get(wanted)
    if section == "results":
        raise RiskkitError("a result is typed in from its card", "write `riskkit record TEST`, such as T07")
    if section == "tombstones":
        raise RiskkitError("a tombstone comes by itself", 'write `riskkit remove ID --because "why"`')
    if section is None:
        guess = nearest(wanted, tuple(names))
        raise RiskkitError(
            f"there is no kind of record `{typed}`",
            f"did you mean `{guess}`?" if guess else f"write one of {', '.join(_one(each) for each in SECTIONS)}",
        )
    return SECTIONS[section]


def _one(section: str) -> str:
    return section if section == "asked" else section.removesuffix("s")


def _title_field(kind: type[Record]) -> str:
    """The field that says what a record is: its title, its text, its role."""
    for name in ("title", "text", "top", "role", "because", "way"):
        if name in kind.model_fields:
            return name
    raise RiskkitError(f"`{kind.SECTION}` has no title", "say its fields with --set")


def _setting(typed: str) -> tuple[str, str]:
    name, sign, value = typed.partition("=")
    if not sign or not name.strip():
        raise RiskkitError(
            f"--set {typed} gives no field a value", 'write --set FIELD=VALUE, such as --set "owner=builder-1"'
        )
    return name.strip().replace("-", "_"), value.strip()


# -- interview ------------------------------------------------------------------------------------


def _interviewed(kind: type[Record], folder: FilePath) -> dict[str, str]:
    """Answers by field; an empty line passes a question over."""
    from riskkit.cli.asking_result import ask_line
    from riskkit.cli.filled_card import AnswersEnded
    from riskkit.cli.opening import print_text
    from riskkit.text.snapshot import read_folder

    read_folder(folder)  # says so before anything is asked, where there is no register
    print_text("Press Enter where you don't know: it stays open and is listed.\n")
    answers: dict[str, str] = {}
    try:
        for name in dict.fromkeys((_title_field(kind), *ASKED.get(kind.SECTION, ()), *_required(kind))):
            answer = ask_line(f"{name}: {_description(kind, name)}")
            if answer and answer.casefold().replace("’", "'").rstrip(".") not in ("?", "i don't know", "don't know"):
                answers[name] = answer
    except AnswersEnded:
        raise RiskkitError("the answers ended; nothing was written", "begin again, or give a title and --set") from None
    return answers


def _required(kind: type[Record]) -> tuple[str, ...]:
    """Fields without which a record of this kind cannot be read, in their order."""
    names = [info.alias or name for name, info in kind.model_fields.items() if info.is_required() and name != "id"]
    return tuple(name for name in names if name != "harm")


def _description(kind: type[Record], name: str) -> str:
    from riskkit.text.complaints import block_at

    *path, last = name.split(".")
    block = block_at(kind, tuple(path))
    for field, info in block.model_fields.items() if block is not None else ():
        if last in (field, info.alias):
            return info.description or ""
    return ""


# -- the record -----------------------------------------------------------------------------------


def _planned(
    reading: Reading,
    kind: type[Record],
    given: Mapping[str, str],
    part: str | None,
    into: str | None,
    id: str | None,
    on: datetime.date,
) -> Change:
    from riskkit.judgement.new_ids import next_id

    section = kind.SECTION
    new = id or next_id(section, reading.register, USUAL.get(section, f"{section[0].upper()}01"))
    _refuse_used(reading, new)
    known, gaps = _known(reading, kind, given, part, on)
    missing = [name for name in _required(kind) if name not in known]
    if missing:
        raise RiskkitError(
            f"a record of `{section}` needs {' and '.join(f'`{name}`' for name in missing)}; nothing was written",
            "; ".join(f"add --set {name}=... ({_description(kind, name).rstrip('.')})" for name in missing),
        )
    refusal: RiskkitError | None = None
    for fields in _readings_of(known, given):
        try:
            file, content = _placed(reading, section, new, _in_order(kind, fields), into)
        except RiskkitError as error:
            refusal = refusal or error
            continue
        told = [f"{new} is added to {file}."]
        if gaps:
            told.append(f"Not decided yet, and listed by `riskkit check`: {', '.join(gaps)}.")
        return Change({file: content}, tuple(told), f"add {new}")
    assert refusal is not None, "there is at least one way of reading what was typed"
    raise refusal


def _refuse_used(reading: Reading, id: str) -> None:
    used = {*reading.register.records, *reading.register.broken, *reading.places.homes}
    same = next((each for each in used if each.casefold() == id.casefold()), None)
    if same is not None:
        raise RiskkitError(f"{same} is used already; nothing was written", "leave --id out: the next free one is taken")


def _known(
    reading: Reading, kind: type[Record], given: Mapping[str, str], part: str | None, on: datetime.date
) -> tuple[dict[str, Any], tuple[str, ...]]:
    """Fields as they are typed, and the names of those whose value only stands for now."""
    known: dict[str, Any] = {}
    for name, typed in given.items():
        _put(known, name.split("."), typed)
    if part is not None:
        _put_part(reading, kind, known, part)
    if "on" in kind.model_fields and kind.model_fields["on"].is_required():
        known.setdefault("on", on.isoformat())
    gaps: list[str] = []
    if kind.SECTION == "hazards":
        if "condition" not in known:
            known["condition"] = "single fault"
            gaps.append("condition")
        harm = known.setdefault("harm", {})
        if isinstance(harm, dict):
            if "text" not in harm:
                harm["text"] = TO_FIND_OUT
                gaps.append("harm.text")
            if "severity" not in harm:
                harm["severity"] = _worst(reading)
                gaps.append("harm.severity")
            known["harm"] = {name: harm[name] for name in ("text", "severity", *harm)}
        if gaps:
            known["undecided"] = gaps
    return known, tuple(gaps)


def _worst(reading: Reading) -> Any:
    """The worst severity of the policy: nobody has said that it is less."""
    from riskkit.text.policies import shipped_policy
    from riskkit.text.scalars import meaning

    return meaning((reading.register.policy or shipped_policy()).severity[-1].level)


def _put(fields: dict[str, Any], steps: list[str], value: Any) -> None:
    for step in steps[:-1]:
        inner = fields.setdefault(step, {})
        if not isinstance(inner, dict):
            raise RiskkitError(f"`{step}` is given twice", "give each field once")
        fields = inner
    if steps[-1] in fields:
        raise RiskkitError(f"`{steps[-1]}` is given twice", "give each field once")
    fields[steps[-1]] = value


def _put_part(reading: Reading, kind: type[Record], known: dict[str, Any], part: str) -> None:
    from riskkit.cli.editing import home_of
    from riskkit.model.references import link_fields

    section = str(home_of(reading, part)[1][0])
    field = next((each for each in link_fields(kind) if each.takes(section)), None)
    if field is None:
        raise RiskkitError(f"a record of `{kind.SECTION}` cannot name {part}", "leave --part out")
    if field.name in known:
        raise RiskkitError(f"`{field.name}` is given twice", f"name {part} there, or leave --part out")
    known[field.name] = [part] if field.many else part


def _readings_of(known: Mapping[str, Any], given: Mapping[str, str]) -> Iterator[dict[str, Any]]:
    """The fields with each typed value in its likeliest sense, then as the very text."""
    from riskkit.cli.editing import meanings

    def read(value: Any, sense: int) -> Any:
        if isinstance(value, dict):
            return {name: read(each, sense) for name, each in value.items()}
        if isinstance(value, str) and value in given.values():
            senses = [meaning for meaning, _ in meanings(value)]
            return senses[min(sense, len(senses) - 1)] if senses else value
        return value

    titles = {name: value for name, value in known.items() if name in ("title", "text", "role", "top", "because")}
    yield {name: titles.get(name, read(value, 0)) for name, value in known.items()}
    yield {name: titles.get(name, read(value, 1)) for name, value in known.items()}


def _in_order(kind: type[Record], fields: Mapping[str, Any]) -> dict[str, Any]:
    """Fields in their usual order; what the kind does not have comes last, for the reader to complain about."""
    usual = [info.alias or name for name, info in kind.model_fields.items()]
    return {name: fields[name] for name in (*usual, *fields) if name in fields}


def _placed(reading: Reading, section: str, id: str, fields: Mapping[str, Any], into: str | None) -> tuple[str, bytes]:
    """The file that takes the record, and its bytes with it."""
    from riskkit.cli.appending import files_for
    from riskkit.text.editing import set_field
    from riskkit.text.syntax import parse_file
    from riskkit.text.writing import CannotAppend, append_record, record_lines

    known = {home.document.name: home.document for home in reading.places.homes.values()}
    refused = []
    for name in [into] if into is not None else _candidates(reading, section, files_for(reading, section)):
        content = reading.snapshot.files.get(name, b"")
        document = known.get(name) or parse_file(name, content)
        try:
            grown = append_record(name, content, section, id, fields, document)[0]
            alone = f"{section}:\n" + textwrap.indent(record_lines(id, fields), "  ")
            refuse_new_trouble_alone(reading, parse_file(name, alone.encode("utf-8")))
            return name, grown
        except CannotAppend as error:
            refused.append(error.headline)
        held = document.data.get(section) if isinstance(document.data, dict) else None
        if not document.diagnostics and isinstance(held, dict):
            path, value = ((id,), fields) if held else ((), {id: fields})
            grown = set_field(document, content, (section,), path, value).content
            refuse_new_trouble(reading, {name: grown})
            return name, grown
    raise RiskkitError(f"no file can take {id}: {'; '.join(refused)}", "name a new one with --in FILE")


def _candidates(reading: Reading, section: str, usual: Sequence[str]) -> Iterator[str]:
    """Files that have the section already, even an empty one, before new ones."""
    from riskkit.text.syntax import parse_file

    has = [name for name in usual if name in reading.snapshot.files]
    yield from has
    for name, content in reading.snapshot.files.items():
        if name not in has and f"{section}:".encode() in content:
            data = parse_file(name, content).data
            if isinstance(data, dict) and section in data:
                yield name
    yield from (name for name in usual if name not in has)
