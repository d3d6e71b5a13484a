"""What the rows of a sheet would do to a register: new hazards, edits of known ones, and every row that cannot be taken.

Nothing is written here, and nothing is lost: each row is new, an edit, there already, or refused with its reason; a
column that says nothing riskkit has a field for goes into the notes word by word.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from pydantic import ValidationError

from riskkit.exchange.columns import IGNORED, KEPT, NAMES
from riskkit.exchange.levels import Scale, plain_level
from riskkit.exchange.sheet_cells import cell_text
from riskkit.exchange.tables import Row, Table
from riskkit.judgement.new_ids import next_id
from riskkit.model.fields import ID_PATTERN, plain_words
from riskkit.model.policy import Policy
from riskkit.model.records import Hazard, Part
from riskkit.model.register import Register
from riskkit.model.upkeep import Tombstone
from riskkit.text.complaints import complaints

CONDITIONS: Mapping[str, str] = MappingProxyType({
    "normal": "normal", "normal use": "normal", "normal condition": "normal",
    "single fault": "single fault", "fault": "single fault", "single fault condition": "single fault",
    "use error": "use error", "misuse": "foreseeable misuse", "foreseeable misuse": "foreseeable misuse",
})  # fmt: skip
PLAIN_EDITS: Mapping[str, tuple[str, ...]] = MappingProxyType({
    "title": ("title",), "source": ("source",), "situation": ("situation",), "harm": ("harm", "text"),
    "severity": ("harm", "severity"), "severity because": ("harm", "because"), "owner": ("owner",), "notes": ("notes",),
})  # fmt: skip
LIST_EDITS = ("condition", "sequence", "controls", "tests")
NOT_JUDGED = "the sheet does not say; the worst level is taken until somebody judges it"


@dataclass(frozen=True, slots=True)
class New:
    """A record that a row brings."""

    row: int
    section: str
    id: str
    fields: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Edit:
    """A field of a known hazard that the sheet has otherwise."""

    row: int
    id: str
    path: tuple[str, ...]
    was: str
    value: Any


@dataclass(frozen=True, slots=True)
class Refused:
    """A row, or a cell of it where `part` is true, that is not taken, and why."""

    row: int
    reason: str
    part: bool = False


@dataclass(frozen=True)
class ImportPlan:
    """What a sheet would do.

    Attributes:
        new: Hazards and parts, in the order of the rows.
        edits: Of hazards that the register has.
        same: Rows that say what the register says already.
        refused: Rows and cells that are not taken.
        not_in_sheet: Hazards of the register that a sheet with their ids does not have; they stay.
    """

    new: tuple[New, ...]
    edits: tuple[Edit, ...]
    same: tuple[int, ...]
    refused: tuple[Refused, ...]
    not_in_sheet: tuple[str, ...] = ()

    @property
    def hazards(self) -> tuple[New, ...]:
        """New hazards alone."""
        return tuple(each for each in self.new if each.section == "hazards")


@dataclass
class _Import:
    """One import under way; what earlier rows took counts for the later ones."""

    table: Table
    meaning: Mapping[str, str]
    register: Register
    severity: Scale
    likelihood: Scale
    worst: str
    condition: str | None
    taken: set[str] = field(default_factory=set)
    parts: dict[str, str] = field(default_factory=dict)
    hazards: dict[tuple[str, ...], str] = field(default_factory=dict)
    new: list[New] = field(default_factory=list)
    edits: list[Edit] = field(default_factory=list)
    same: list[int] = field(default_factory=list)
    refused: list[Refused] = field(default_factory=list)
    rows: dict[tuple[tuple[str, str], ...], int] = field(default_factory=dict)


class _CannotTake(Exception):
    """A row that is not taken, with the reason."""


def plan_import(
    table: Table,
    meaning: Mapping[str, str],
    register: Register,
    policy: Policy,
    *,
    levels: Mapping[str, str],
    condition: str | None = None,
) -> ImportPlan:
    """What each row of a sheet would do.

    Args:
        table: The sheet.
        meaning: Heading -> what its column says.
        register: As it is.
        policy: Its scales.
        levels: What a word or number of the sheet's own severity scale is on the policy's.
        condition: Condition of hazards whose row names none.
    """
    said = {
        name: [row.cells.get(h, "") for row in table.rows for h, n in meaning.items() if n == name] for name in NAMES
    }
    run = _Import(
        table,
        meaning,
        register,
        Scale.of([(step.level, step.word) for step in policy.severity], said["severity"], levels),
        Scale.of([(step.level, step.word) for step in policy.likelihood.levels], said["before"] + said["claimed"], {}),
        policy.severity[-1].level,
        condition,
    )
    run.taken |= {id.casefold() for id in (*register.records, *register.broken)}
    for part in register.of(Part):
        run.parts |= {plain_words(part.id): part.id, plain_words(part.title): part.id}
        run.parts[plain_words(f"{part.id} {part.title}")] = part.id
    for hazard in register.of(Hazard):
        run.hazards.setdefault(
            _likeness(hazard.title, [cause.by for cause in hazard.causes], hazard.harm.text), hazard.id
        )
    troubles = dict(table.troubles)
    seen = set[str]()
    for row in table.rows:
        try:
            if row.number in troubles:
                raise _CannotTake(troubles[row.number])
            seen |= set(_row(run, row))
        except _CannotTake as reason:
            run.refused.append(Refused(row.number, str(reason)))
    missing = tuple(each.id for each in register.of(Hazard) if each.id not in seen) if run.edits or seen else ()
    return ImportPlan(tuple(run.new), tuple(run.edits), tuple(run.same), tuple(run.refused), missing)


def _row(run: _Import, row: Row) -> Iterator[str]:
    """Take one row; the id of the known hazard that it is about."""
    cells: dict[str, list[str]] = {}
    for heading, words in row.cells.items():
        cells.setdefault(run.meaning[heading], []).append(words)
    if all(plain_words(heading) == plain_words(words) for heading, words in row.cells.items()):
        raise _CannotTake("it repeats the headings")
    key = tuple(sorted((heading, words) for heading, words in row.cells.items() if run.meaning[heading] != "id"))
    first = run.rows.setdefault(key, row.number)
    id = cells.get("id", [""])[0]
    known = run.register.get(id, Hazard) if id else None
    if first != row.number and known is None:
        raise _CannotTake(f"it says the same as row {first}")
    if known is not None:
        _edit(run, row, known, cells)
        yield known.id
        return
    _refuse_used(run, id)
    _add(run, row, cells, id)


def _refuse_used(run: _Import, id: str) -> None:
    record = run.register.records.get(id)
    if isinstance(record, Tombstone):
        raise _CannotTake(f"{id} was used once and is not used again ({record.because})")
    if record is not None:
        raise _CannotTake(f"{id} stands under `{record.SECTION}` in the register and is no hazard")
    if id in run.register.broken:
        raise _CannotTake(f"{id} of the register cannot be read as written; mend it first")


# -- a new hazard ---------------------------------------------------------------------------------


def _add(run: _Import, row: Row, cells: Mapping[str, Sequence[str]], id: str) -> None:
    one = {name: words[0] for name, words in cells.items()}
    title = _title(one)
    kept: list[str] = []
    part, brings = _part(run, row, one.get("part", ""))
    mode = one.get("mode")
    fields: dict[str, Any] = {"title": title, "condition": _conditions(run, one)}
    if "source" in one:
        fields["source"] = one["source"]
    if part is not None:
        fields["causes"] = [{"by": part} | ({"mode": _line(mode)} if mode else {})]
    elif mode and mode != title:
        kept.append(f"Failure mode: {mode}")
    sequence = [line for name in ("cause", "sequence") for words in cells.get(name, ()) for line in _lines(words)]
    if sequence:
        fields["sequence"] = sequence
    if "situation" in cells:
        fields["situation"] = "; ".join(map(_line, cells["situation"]))
    fields["harm"] = _harm(run, one, "; ".join(map(_line, cells.get("harm", ()))))
    likelihood: dict[str, Any] = {}
    for name in ("before", "claimed"):
        if name in one:
            level = run.likelihood.level(one[name])
            if level is not None:
                likelihood[name] = {"level": plain_level(level)}
            else:
                kept.append(f"{_heading(run, name)}: {one[name]}")
    if likelihood:
        fields["likelihood"] = likelihood
    for name, section in (("controls", "controls"), ("tests", "tests")):
        for words in cells.get(name, ()):
            ids = _ids(run, words, section)
            if ids is None:
                kept.append(f"{_heading(run, name)}: {words}")
            else:
                fields[name] = [*fields.get(name, []), *(each for each in ids if each not in fields.get(name, []))]
    fields.setdefault("controls", [])
    if "owner" in one:
        fields["owner"] = one["owner"]
    fields["origin"] = f"row {row.number} of {run.table.name}" + (f", {id}" if id and not _usable(id) else "")
    kept = [*cells.get("notes", ()), *kept]
    kept += [f"{heading}: {words}" for heading, words in row.cells.items() if run.meaning[heading] == KEPT]
    if kept:
        fields["notes"] = "\n".join(kept)
    like = _likeness(title, [part] if part else [], fields["harm"]["text"])
    there = run.hazards.get(like)
    if there is not None:
        if there in run.register.records:
            run.same.append(row.number)
            return
        raise _CannotTake(f"it says the same as {there}, which an earlier row brings")
    given = id if _usable(id) and id.casefold() not in run.taken else _next(run, "hazards", "H01")
    _prove(Hazard, {"id": given, **fields})
    if brings is not None:
        _prove(Part, {"id": brings.id, **brings.fields})
        run.new.append(brings)
        run.taken.add(brings.id.casefold())
        run.parts[plain_words(str(brings.fields["title"]))] = brings.id
    run.taken.add(given.casefold())
    run.hazards[like] = given
    run.new.append(New(row.number, "hazards", given, fields))


def _title(one: Mapping[str, str]) -> str:
    if "title" in one:
        return _line(one["title"])
    item, mode, effect = (_line(one.get(name, "")) for name in ("part", "mode", "harm"))
    said = ": ".join(words for words in (item, mode or _line(one.get("cause", "")) or effect) if words)
    if not said or not (mode or effect or "cause" in one):
        raise _CannotTake("it says nothing about what can go wrong: no title, failure, cause or effect")
    return said


def _harm(run: _Import, one: Mapping[str, str], text: str) -> dict[str, Any]:
    harm: dict[str, Any] = {"text": text or "to be found out"}
    if "severity" not in one:
        return harm | {"severity": plain_level(run.worst), "because": NOT_JUDGED}
    level = run.severity.level(one["severity"])
    if level is None:
        raise _CannotTake(run.severity.complaint(one["severity"], _heading(run, "severity")))
    harm["severity"] = plain_level(level)
    because = one.get("severity because")
    if because is None and run.severity.translated(one["severity"]):
        because = f"{one['severity']} in the sheet"
    return harm | ({"because": because} if because else {})


def _conditions(run: _Import, one: Mapping[str, str]) -> list[str]:
    if "condition" in one:
        found = [CONDITIONS.get(plain_words(line)) for line in re.split(r"[\n;,]+", one["condition"]) if line.strip()]
        if not found or None in found:
            raise _CannotTake(
                f"`{_line(one['condition'])}` is no condition; write normal, single fault, use error or foreseeable misuse"
            )
        return list(dict.fromkeys(str(each) for each in found))
    if run.condition is not None:
        return [run.condition]
    if "mode" in one or "part" in one:
        return ["single fault"]
    raise _CannotTake("it names no condition, and no part that fails; say one for all such rows with --condition")


def _part(run: _Import, row: Row, words: str) -> tuple[str | None, New | None]:
    """The part that a cell names, and the new part where the register has none of that name."""
    if not words:
        return None, None
    known = run.parts.get(plain_words(words))
    if known is None:
        first = words.split()[0].rstrip(":,")
        known = run.parts.get(plain_words(first)) if re.fullmatch(ID_PATTERN, first) else None
    if known is not None:
        return known, None
    id = _next(run, "parts", "P01")
    return id, New(
        row.number, "parts", id, {"title": _line(words), "notes": f"from row {row.number} of {run.table.name}"}
    )


def _ids(run: _Import, words: str, section: str) -> list[str] | None:
    """The ids in a cell, or None where it is written in words."""
    pieces = [piece.strip() for piece in re.split(r"[\n;,]+|\s+", words) if piece.strip()]
    if not all(re.fullmatch(r"[A-Za-z]{1,6}[-_.]?\d+(?:[-.]\d+)*", piece) for piece in pieces):
        return None
    unknown = [piece for piece in pieces if run.register.section_of(piece) != section]
    if unknown:
        raise _CannotTake(f"it names {', '.join(unknown)}, which the register does not have under `{section}`")
    return pieces


def _next(run: _Import, section: str, usual: str) -> str:
    given = [each.id for each in run.new if each.section == section]
    return next_id(section, run.register, usual, given)


def _prove(kind: type[Hazard] | type[Part], fields: dict[str, Any]) -> None:
    try:
        kind.model_validate(fields)
    except ValidationError as error:
        raise _CannotTake(next(complaints(error, kind, fields)).headline) from None


# -- a known hazard -------------------------------------------------------------------------------


def _edit(run: _Import, row: Row, hazard: Hazard, cells: Mapping[str, Sequence[str]]) -> None:
    """Fields of a known hazard that the sheet has otherwise; what cannot be taken is told cell by cell."""
    before = len(run.edits) + len(run.refused)
    mapped = [name for name in NAMES if name in run.meaning.values() and name not in ("id", "cause")]
    for name in mapped:
        was, words = cell_text(hazard, name, run.register), "\n".join(cells.get(name, ()))
        if plain_words(words) == plain_words(was):
            continue
        try:
            run.edits.append(Edit(row.number, hazard.id, *_edited(run, name, words, was)))
        except _CannotTake as reason:
            run.refused.append(Refused(row.number, f"{hazard.id}, {_heading(run, name)}: {reason}", part=True))
    for heading, name in run.meaning.items():
        if name == KEPT and heading in row.cells:
            run.refused.append(
                Refused(
                    row.number,
                    f"{hazard.id}: the column `{heading}` says nothing that a hazard has a field for",
                    part=True,
                )
            )
    if len(run.edits) + len(run.refused) == before:
        run.same.append(row.number)


def _edited(run: _Import, name: str, words: str, was: str) -> tuple[tuple[str, ...], str, Any]:
    if not words:
        raise _CannotTake("an empty cell takes nothing away; use `riskkit set` if it has to go")
    if name == "severity":
        level = run.severity.level(words)
        if level is None:
            raise _CannotTake(run.severity.complaint(words, _heading(run, name)))
        return PLAIN_EDITS[name], was, plain_level(level)
    if name in PLAIN_EDITS:
        return PLAIN_EDITS[name], was, words
    if name == "condition":
        return (name,), was, _conditions(run, {"condition": words})
    if name == "sequence":
        return (name,), was, _lines(words)
    if name in LIST_EDITS:
        ids = _ids(run, words, name)
        if ids is None:
            raise _CannotTake("it takes ids of records that the register has")
        return (name,), was, ids
    if name in ("before", "claimed"):
        level = run.likelihood.level(words)
        if level is None or (run.likelihood.level(was) is None and was):
            raise _CannotTake(f"`{_line(was)}` is more than a level; edit it in the file")
        return ("likelihood", name, "level"), was, plain_level(level)
    raise _CannotTake("it is not changed from a sheet; edit it in the file")


# -- words ----------------------------------------------------------------------------------------


def _likeness(title: str, causes: Sequence[str], harm: str) -> tuple[str, ...]:
    return (plain_words(title), *sorted(causes), plain_words(harm))


def _usable(id: str) -> bool:
    return re.fullmatch(ID_PATTERN, id) is not None and any(sign.isdigit() for sign in id) and len(id) <= 40


def _heading(run: _Import, name: str) -> str:
    return next((heading for heading, said in run.meaning.items() if said == name and said != IGNORED), name)


def _line(words: str | None) -> str:
    return " ".join((words or "").split())


def _lines(words: str) -> list[str]:
    return [_line(line).lstrip("-•* ") for line in re.split(r"\n|(?<=\S)\s*;\s+", words) if line.strip()]
