"""Which column of a sheet of hazards says what: the words that people head columns with, and what they said themselves."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from riskkit.diagnostics import RiskkitError
from riskkit.exchange.tables import plain_heading

IGNORED = "ignored"
KEPT = "kept"
DERIVED = "(worked out)"
"""Stands in the heading of what riskkit works out; such a column is never read back."""


@dataclass(frozen=True, slots=True)
class Column:
    """What a column may say about a hazard: its name, and headings that mean it, in small letters."""

    name: str
    heads: tuple[str, ...]


COLUMNS = (
    Column("id", ("id", "ref", "reference", "no", "nr", "number", "item no", "item number", "row")),
    Column("title", ("title", "hazard", "hazardous situation", "risk", "name", "hazard description", "description")),
    Column("condition", ("condition", "conditions", "phase", "arises in")),
    Column("source", ("source", "hazard source", "source of harm", "energy")),
    Column("part", ("part", "item", "component", "element", "part name", "assembly", "system", "subsystem", "item function")),
    Column("mode", ("mode", "failure mode", "potential failure mode", "failure", "fault", "way it fails")),
    Column("cause", ("cause", "causes", "potential cause", "potential causes", "root cause", "failure cause", "initiating event")),
    Column("sequence", ("sequence", "sequence of events", "foreseeable sequence of events", "events")),
    Column("situation", ("situation", "exposure", "who is exposed", "local effect", "local effects")),
    Column("harm", ("harm", "effect", "effects", "potential effect", "potential effects", "effect of failure", "end effect",
                    "consequence", "consequences", "effects of failure", "potential harm", "next effect")),
    Column("severity", ("severity", "sev", "s", "severity of harm", "severity level", "impact")),
    Column("severity because", ("severity because", "severity reason", "severity rationale")),
    Column("before", ("before", "likelihood before", "initial likelihood", "likelihood", "probability", "occurrence", "occ", "o",
                      "probability of occurrence", "initial probability")),
    Column("claimed", ("claimed", "likelihood claimed", "residual likelihood", "residual probability", "likelihood after",
                       "probability after")),
    Column("controls", ("controls", "control", "current controls", "mitigation", "mitigations", "measures", "risk control",
                        "risk controls", "risk control measures", "safeguards", "existing controls")),
    Column("tests", ("tests", "test", "verification", "verified by")),
    Column("owner", ("owner", "responsible role", "responsibility", "responsible")),
    Column("notes", ("notes", "note", "remarks", "remark", "comments", "comment")),
)  # fmt: skip
"""In the order of an exported sheet. The headings are common practice, no source."""

NAMES = tuple(column.name for column in COLUMNS)
MANY = ("cause", "sequence", "situation", "harm", "controls", "notes")
"""What several columns may say together."""

HEADS: Mapping[str, str] = MappingProxyType({head: column.name for column in COLUMNS for head in column.heads})
KNOWN_HEADS = frozenset(HEADS)


def meanings(
    headings: Sequence[str], stated: Mapping[str, str], remembered: Mapping[str, str] = MappingProxyType({})
) -> dict[str, str]:
    """Heading -> what the column says, `kept` for words that go into the notes, or `ignored`.

    Args:
        headings: Of the sheet.
        stated: What the person said: heading -> name, `kept` or `ignored`.
        remembered: What was said of a sheet with the same headings before.

    Raises:
        RiskkitError: where a heading or a name is not there.
    """
    by_plain = {plain_heading(heading): heading for heading in headings}
    said: dict[str, str] = dict(remembered)
    for typed, name in stated.items():
        heading = typed if typed in headings else by_plain.get(plain_heading(typed))
        if heading is None:
            raise RiskkitError(f"the sheet has no column `{typed}`", f"its columns are {', '.join(headings)}")
        if name not in (*NAMES, KEPT, IGNORED):
            raise RiskkitError(f"no column can say `{name}`", f"write one of {', '.join((*NAMES, KEPT, IGNORED))}")
        said[heading] = name
    found: dict[str, str] = {}
    for heading in headings:
        name = said.get(heading) or _guessed(heading)
        if name in NAMES and name not in MANY and name in found.values() and heading not in said:
            name = KEPT
        found[heading] = name
    twice = [name for name in NAMES if name not in MANY and list(found.values()).count(name) > 1]
    if twice:
        both = " and ".join(f"`{heading}`" for heading, name in found.items() if name == twice[0])
        raise RiskkitError(f"{both} cannot both say `{twice[0]}`", f'say of one of them --column "...={KEPT}"')
    return found


def _guessed(heading: str) -> str:
    if DERIVED in heading:
        return IGNORED
    return HEADS.get(plain_heading(heading), KEPT)
